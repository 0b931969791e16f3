"""Figures of drying a room: machine curves and ratings, moisture and heat, how a fit is trusted, what is drawn."""

from __future__ import annotations

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, MEMORY, JUDGED = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT


def _judged(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", JUDGED, note)


def _curve(*values: float) -> tuple[Figure, ...]:
    units = ("1", "1/K", "1/K²", "1/% RH", "1/(% RH)²", "1/(K % RH)")
    note = "1, T, T², RH, RH², T RH; portable machines on sale in the USA about 2010"
    return tuple(Figure(v, u, "winkler-2011", PUBLISHED, note) for v, u in zip(values, units, strict=True))


# ------------------------------------------------------------------------------------------------- machines
# Capacity and litres per kWh of condensing machines, as shares of what they are at 26.667 °C and 60 %
CAPACITY_CURVE = _curve(-1.162525707, 0.02271469, -0.000113208, 0.021110538, -0.0000693034, 0.000378843)
EFFICIENCY_CURVE = _curve(-1.902154518, 0.063466565, -0.000622839, 0.039540407, -0.000125637, -0.000176722)
CURVE_RH = (_judged(35, "% RH", "the curves are held below"), _judged(95, "% RH", "the curves are held above"))
CURVE_TRUSTED_C = (
    _judged(15, "°C", "colder, the curve is an extrapolation: its test range was not seen"),
    _judged(32, "°C", "warmer, the curve is an extrapolation"),
)
PART_LOAD = (
    Figure(0.9, "1", "winkler-2011", PUBLISHED, "litres per kWh at part load: 0.9 + 0.1 x share of the hour"),
    Figure(0.1, "1", "winkler-2011", PUBLISHED),
)
CONDENSING_OFF_BELOW_C = _judged(5, "°C", "a condensing machine is taken to stand still in colder air")
OFF_ABOVE_C = {
    "condensing": _judged(35, "°C", "stands still in warmer air to spare its compressor; makers tell 32 to 38"),
    "desiccant": _judged(40, "°C", "stands still in warmer air"),
}
SIMULATED_C = (
    _judged(-40, "°C", "a log that reads colder indoors is no room: nothing is simulated"),
    _judged(60, "°C", "and one that reads warmer"),
)
CONDENSING_WEAK_BELOW_C = Figure(12, "°C", "drying-trade", PUBLISHED, "basic condensing machines do little below it")
FROST_DEW_POINT_C = _judged(5, "°C", "under this dew point of the room the coil frosts")
CAPACITY_FACTOR = _judged(0.85, "1", "what a machine does of its label's figure: the curve flatters other makes")
DESICCANT_L_KWH = Figure(0.5, "L/kWh", "from-memory", MEMORY, "desiccant machines: 0.4 to 0.7")
DESICCANT_MOST_L_KWH = _judged(1.3, "L/kWh", "heat of desorption about 2.8 MJ/kg: more is not possible")
CONDENSING_L_KWH = Figure(
    1.3, "L/kWh", "doe-2016", PUBLISHED, "least for portable machines up to 25 US pints a day, at 18.3 °C and 60 %"
)
US_PINT_L = Figure(0.473176473, "L", "nist-44", PUBLISHED)


def _rating(temp_c: float, rh_percent: float, source: str, confidence: Confidence, note: str) -> tuple[Figure, Figure]:
    return (
        Figure(temp_c, "°C", source, confidence, note),
        Figure(rh_percent, "% RH", source, confidence, note),
    )


RATING_POINTS = {
    "27 °C and 60 %": _rating(80 / 1.8 - 32 / 1.8, 60, "winkler-2011", PUBLISHED, "80 °F: the older test"),
    "30 °C and 80 %": _rating(30, 80, "drying-trade", PUBLISHED, "common label in Europe"),
    "18.3 °C and 60 %": _rating(65 / 1.8 - 32 / 1.8, 60, "doe-2016", PUBLISHED, "65 °F: US labels since 2019"),
    "20 °C and 60 %": _rating(20, 60, "drying-trade", PUBLISHED, "common label of desiccant machines"),
}
SET_PERCENT = _judged(55, "% RH", "set point where none is given")
BAND_PERCENT = _judged(5, "% RH", "from switching on to switching off")
RUN_IN_DAYS = _judged(21, "days", "drying a damp room down at first: counted for no alternative")
DUTY = _judged(0.8, "1", "a machine is chosen to run no more than this share of the design hour")
DESIGN_DAYS = (
    _judged(1, "days", "a machine is chosen by the dampest stretch, as long as the room is slow; at least this"),
    _judged(30, "days", "and at most this"),
)
MACHINE_SIZES_L_DAY = tuple(_judged(v, "L/day", "common sizes, tried where none is given") for v in (5, 10, 20))
TANK_VISIT_HOUR = _judged(12, "h", "hour of the day at which a tank is emptied")

# ------------------------------------------------------------------------------------------ moisture and heat
LATENT_AT_0 = Figure(2501, "kJ/kg", "ashrae-fundamentals-2017", PUBLISHED)
LATENT_SLOPE = Figure(2.326, "kJ/(kg K)", "ashrae-fundamentals-2017", PUBLISHED, "4.186 - 1.86")
AIR_HEAT_WH = Figure(0.335, "Wh/(m³K)", "ashrae-fundamentals-2017", MEMORY, "density times heat of air near 20 °C")
HEAT_LOSS_W_M3K = _judged(1.0, "W/(m³K)", "loss of heat of a masonry room through its walls, by volume; factor 2")
ROOM_WARMS_H = _judged(12, "h", "how slowly a room answers to heat given off in it")
AIRING_CHANGES_H = _judged(2, "1/h", "air changes of airing by a fan or a window")
AIRING_DRIER = _judged(0.95, "1", "airing only while the vapour outdoors is under this share of the room's")
AIRING_COOLS_K = _judged(8, "K", "airing only while outdoors is at most this much colder than the room")
HEATING_MOST_K = _judged(8, "K", "heating when damp lifts the room by at most this")
AIRING_FAN_W = _judged(15, "W", "a small fan")
TIGHTENED_TO = _judged(0.5, "1", "share of the air change left after draught-proofing, where none is given")
ENCLOSURE_CHANGES_DAY = _judged(0.5, "1/day", "a frame closed behind with board and tape")
ENCLOSURE_VOLUME_M3 = _judged(0.05, "m³", "a painting's enclosure")
ENCLOSURE_GEL_KG = _judged(1, "kg", "silica gel beside it")
GEL_G_KG = Figure(2.0, "g/(kg % RH)", "gel-1992", MEMORY, "regular density gel over 50 to 60 %")

# ------------------------------------------------------------------------------------------------ room fitting
FIT_LEAST_DAYS = _judged(7, "days", "a shorter log is not fitted")
FIT_LEAST_OUT_SD = _judged(0.5, "g/m³", "less movement outdoors tells nothing of the air change")
FIT_GOOD_OUT_SD = _judged(1.0, "g/m³", "under it the fit is said to rest on little")
FIT_HELD_OUT = _judged(0.25, "share", "of the log kept from the fit to try it on")
WEIGHED_WIDE = _judged(10, "1", "highest over lowest of what a room holds, beyond which weighed water tells nothing")
FIT_WIDENED = _judged(
    1.2, "1", "intervals against the plain bootstrap's, which held the air change of 73 in 100 of 600 invented rooms"
)
FIT_WIDENED_EXCESS = _judged(1.08, "1", "the same for the source over air change, held in 79 of 100")
FIT_GAP_H = _judged(6, "h", "a longer gap cuts the log")
FIT_WIDE = _judged(4, "1", "highest over lowest of an 80 % interval, beyond which a ratio is called not known")
AIR_CHANGE_PRIOR = (
    _judged(0.3, "1/h", "median where nothing is known of a room's air change"),
    _judged(2.0, "1", "and the factor within which two of three rooms lie"),
)
BUFFERING_PRIOR = (
    _judged(20, "1", "median of buffering where no log tells"),
    _judged(2.5, "1", "and the factor within which two of three rooms lie"),
)
HELD_WITHIN_PERCENT = (
    _judged(1.5, "% RH", "a log that has nearly half of its hours within so little looks held by a machine"),
    _judged(6, "% RH", "and one that has nine tenths within so little"),
)
HELD_SHARE = _judged(0.45, "share of hours", "nearly half")
HELD_LEAST_DAYS = _judged(28, "days", "a shorter log may lie still of itself")
AIR_CHANGE_KINDS = {
    "store built for low energy": Figure(0.042, "1/h", "low-energy-store", PUBLISHED, "abstract: under one a day"),
    "large office": Figure(0.45, "1/h", "grot-persily-1986", PUBLISHED, "abstract: 0.2 to 0.7, its middle"),
    "cellar, closed": Figure(0.22, "1/h", "from-memory", MEMORY, "0.1 to 0.5"),
    "dwelling room, closed": Figure(0.32, "1/h", "from-memory", MEMORY, "0.2 to 0.5"),
}

# -------------------------------------------------------------------------------------------------- the draws
DRAWS = _judged(500, "draws", "rooms drawn alike for every alternative")
SOURCE_GSD = _judged(1.2, "1", "a year's source against that of the log")
CAPACITY_SD = _judged(0.10, "1", "spread of what a machine does of its label's figure")
EFFICIENCY_SD = _judged(0.10, "1", "spread of litres per kWh")
HUMIDISTAT_SD = _judged(3, "% RH", "error of a machine's own humidistat")
HEAT_LOSS_GSD = _judged(2.0, "1", "heat loss of a room that nobody has measured")

# ------------------------------------------------------------------------------------------------ what is asked
DAMP_LINE = _judged(65, "% RH", "the damp measure that is named: hours over it")
VERY_DAMP_LINE = Figure(75, "% RH", "michalski-rh", PUBLISHED, "damp begins")
DRY_LINE = _judged(40, "% RH", "the lower alarm: hours under it count as too dry")
ENOUGH_LEFT_H = _judged(50, "h", "so few hours over the line in a year are called dry enough")
