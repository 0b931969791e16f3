"""Figures of quality control and of calibration against saturated salts.

Limits made for weather stations do not fit rooms: a good store is flat, and a lived-in room jumps. Where a
figure is ours, the note says what it was set against.
"""

from envwatch.core.quantities import Confidence, Figure


def _ours(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", Confidence.OUR_JUDGEMENT, note)


# The sensor cannot have measured it. Upper end of humidity: `figures.air.RH_NOISE_CEILING`.
TEMP_LOWEST_C = _ours(
    -45, "°C", "below the range of common loggers; a humidity sensor that answers with zeros reads -46.9"
)
TEMP_HIGHEST_C = _ours(85, "°C", "above the range of common loggers; a hot table stays under it")
RH_LOWEST = _ours(-1, "% RH", "a dry sensor reads a little under 0; below this it is a fault")
RH_LOW_END = _ours(2, "% RH", "at or under this a failed sensor sits at its low end")
RH_HIGH_END = _ours(98, "% RH", "at or over this a failed sensor sits at its high end")
FLIPS = _ours(2, "jumps from end to end", "so many of them, one after the other, make a dead sensor")
FLIP_WITHIN_H = _ours(24, "h", "jumps from end to end closer than this belong together")

# Possible, and to be looked at.
TEMP_ODD_LOW_C = _ours(-20, "°C", "below this a place that holds paintings is not believed without a look")
TEMP_ODD_HIGH_C = _ours(50, "°C", "above this a place that holds paintings is not believed without a look")
RH_ODD_LOW = _ours(0, "% RH", "no air in a building is drier")
RH_ODD_HIGH = _ours(100, "% RH", "air holds no more")
SPIKE_C = Figure(
    3,
    "°C",
    "zahumensky-2004",
    Confidence.FROM_MEMORY,
    "its limit for two readings a minute apart, used here for one row",
)
SPIKE_RH = Figure(
    10, "% RH", "zahumensky-2004", Confidence.FROM_MEMORY, "its limit for two readings a minute apart, used for one row"
)
SPIKE_NEIGHBOURS = _ours(1 / 3, "share of the spike", "the readings on both sides agree within this")
SPIKE_MAX_STEP_H = _ours(1, "h", "in a slower record one odd reading is not a spike")
STEP_C = _ours(
    2, "°C", "in 10 minutes, growing with the root of the interval; seven houses: 0.8 at the 99.9th percentile"
)
STEP_RH = _ours(
    10, "% RH", "in 10 minutes, growing with the root of the interval; seven houses: 4.8 at the 99.9th percentile"
)
STEP_BASE_MIN = _ours(10, "min", "the interval for which the step limits stand")
STEP_LEAST_MIN = _ours(1, "min", "for faster records the step limits shrink no further")
STEP_MAX_H = _ours(3, "h", "a longer interval is a gap, and what changed across it is not a step")
SATURATED_RH = _ours(99.5, "% RH", "from here on: condensation on the sensor, or a sensor that failed high")
SATURATED_ROWS = _ours(2, "readings", "so many in a row")
FOG_MAX_H = _ours(72, "h", "out of doors fog and rain hold a sensor at saturation as long; longer is a failed sensor")
STUCK_H = _ours(12, "h", "temperature and humidity both unchanged; seven houses: at most 10 hourly readings in a row")
STUCK_RH_H = _ours(24, "h", "humidity alone unchanged")
STUCK_MOVED_C = _ours(1, "°C", "while temperature moved by this")
STUCK_RESOLUTION = _ours(0.1, "°C and % RH", "a coarser logger stands still of itself")
STUCK_ROWS = _ours(6, "readings", "fewer make no run")
SUN_RISE_C = _ours(3, "°C", "rise within an hour")
SUN_WITHIN_H = _ours(1, "h", "for the rise")
SUN_VAPOUR = _ours(
    0.08, "share of the vapour pressure", "the air itself stayed: change of vapour pressure less than this"
)
SUN_RETURN_H = _ours(6, "h", "by then half of the rise is gone again; otherwise it was heating")
HANDLING_C = _ours(1.5, "°C", "step within two readings, growing with the root of the interval as the step limits do")
HANDLING_RH = _ours(5, "% RH", "step within the same two readings")
HANDLING_RETURN_H = _ours(3, "h", "by then half of the step is gone again, or the record has ended")
RETURNED = _ours(0.5, "share of the change", "when this much is gone again, it has returned")
SETTLING_H = _ours(1, "h", "from the first reading: a logger comes from another room, or from a hand")
SETTLING_C = _ours(1, "°C", "distance of the first reading from all of the two hours that follow")
SETTLING_RH = _ours(5, "% RH", "distance of the first reading from all of the two hours that follow")
SETTLED = _ours(1 / 3, "share of the first distance", "a reading nearer than this has settled")
STUCK_TEMP_H = _ours(48, "h", "temperature unchanged on a fine logger that reads nothing else")
DRIFT_RH = _ours(3, "% RH", "change of how two loggers in a room differ at equal vapour; sample: 0.4")
DRIFT_DAYS = _ours(30, "days", "the first ones together, and the trailing ones they are held against")
DRIFT_LEAST_DAYS = _ours(20, "days", "so many of the trailing days must be read by both")

# Changes that are a room's own.
HABIT_C = _ours(0.5, "°C", "a room's own change moves the temperature too; a bad contact moves one quantity alone")
HABIT_RH = _ours(2, "% RH", "and the humidity")
HABIT_TIMES = _ours(6, "times", "so many such changes, apart from one another, are a habit of the room, not of a hand")
HABIT_DAYS = _ours(7, "days", "within so many: a shower a day, an air conditioner's cycles")
FADING_VAPOUR = _ours(0.25, "share of the vapour pressure", "a shower, a kettle or wet washing adds as much at once")
FADING_C = _ours(5, "°C", "and warms the air by no more; a hand warms a logger farther")
EDGE_H = _ours(3, "h", "after a pause the record is held against its hours from the second to this one")
AWAY_MAX_H = _ours(48, "h", "a logger lies no longer elsewhere, to be read out, before its file ends")

# Calibration.
SLOPE_LOWEST = _ours(0.9, "% RH per % RH", "a sensor that needs a stronger correction is replaced")
SLOPE_HIGHEST = _ours(1.1, "% RH per % RH", "a sensor that needs a stronger correction is replaced")
OFFSET_LARGEST = _ours(5, "% RH", "correction at a reference point; a sensor that needs more is replaced")
TEMP_OFFSET_LARGEST = _ours(3, "K", "the same of a temperature")
POINTS_APART = _ours(20, "% RH", "two reference points closer than this tell nothing about the slope")


SALT_U = Figure(
    0.5, "% RH", "greenspan-1977", Confidence.FROM_MEMORY, "no salt here has a larger stated uncertainty at 25 °C"
)


def _salt(
    *coefficients: float, until_c: float = 50, confidence: Confidence = Confidence.PUBLISHED, note: str = ""
) -> tuple[tuple[float, float], tuple[Figure, ...]]:
    """Temperatures between which the fit is used, and its coefficients in rising powers of °C."""
    units = ("% RH", "% RH/°C", "% RH/°C²", "% RH/°C³")
    figures = [Figure(c, u, "greenspan-1977", confidence, note) for c, u in zip(coefficients, units, strict=False)]
    return (0, until_c), tuple(figures)


SALTS = {
    "lithium chloride": _salt(
        11.2323, 0.00824245, -2.14890e-4,
        note="reprints differ in the sign of the linear term; plus gives the tabulated 11.30 at 25 °C, minus 10.89",
    ),
    "magnesium chloride": _salt(33.6686, -0.00797397, -1.08988e-3),
    "potassium carbonate": _salt(43.1315, 0.00147523, until_c=30, confidence=Confidence.FROM_MEMORY),
    "magnesium nitrate": _salt(60.3514, -0.298153),
    "sodium chloride": _salt(75.5164, 0.0398321, -2.65459e-3, 2.848e-5),
    "potassium chloride": _salt(88.6190, -0.193340, 8.99706e-4),
    "potassium sulphate": _salt(98.7792, -0.0590502),
}  # fmt: skip
