"""Figures of the work around a lining: settling, drying, the way home, a loan.

What an adhesive needs and can stand is in the materials file and nowhere else.
"""

from envwatch.core.quantities import Confidence, Figure

OURS, MEMORY, PRACTICE = Confidence.OUR_JUDGEMENT, Confidence.FROM_MEMORY, Confidence.COMMON_PRACTICE


def _ours(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", OURS, note)


SETTLED_WITHIN_PERCENT = _ours(2, "% RH", "a canvas so near to the air of the room counts as settled to it")
CANVAS_WITHIN_PERCENT = _ours(5, "% RH", "a canvas so near to the room in which it is lined may be lined")
READ_WITHIN_H = _ours(24, "h", "a logger read out so lately speaks for now")
LOOKS_BACK_D = _ours(30, "d", "how far back the air before a lining is followed")
ROOM_MEAN_H = _ours(24, "h", "what a canvas settles to: the mean of the room's last day")

# the hours of the materials file are told for this air; water leaves by the deficit of vapour pressure, solvent and
# cure by temperature, and better air is never credited
DRIES_AT_C = _ours(20, "°C", "air for which hours of drying are told")
DRIES_AT_PERCENT = _ours(50, "% RH", "air for which hours of drying are told")
DOUBLES_WITH_K = Figure(
    10, "K", "from-memory", MEMORY, "solvent loss and cure twice as fast; epoxy 7 d at 20 °C and 14 d at 10 °C"
)

VEHICLE_RISE_K = Figure(22, "K", "mclaren-2005", MEMORY, "closed vehicle in the sun over the air outdoors, in an hour")
CRATE_CLOSED_H = Figure(24, "h", "common-practice", PRACTICE, "a crate stays closed where it is to be opened")
SEASON_D = _ours(15, "d", "either way of the day of arrival, in a past year: what the air there then is")
UNPACK_WITHIN_PERCENT = _ours(10, "% RH", "step left to the room's air at which a crate may be opened")
ASSESSED_OVER_D = _ours(7, "d", "the days before lining or handover over which it is assessed")

YEAR_D = Figure(365, "d", "our-judgement", OURS, "a destination is judged over a year")
YEARS_BACK = _ours(3, "years", "how far back a year of logs may lie")
