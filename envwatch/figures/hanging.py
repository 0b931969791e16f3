"""Figures of a position in a house: walls by construction, moisture of a lived-in room, heat, light, the advice."""

from __future__ import annotations

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, MEMORY, JUDGED = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT


def _ours(value: float, unit: str, note: str = "") -> Figure:
    return Figure(value, unit, "our-judgement", JUDGED, note)


def _table(value: float, note: str = "") -> Figure:
    return Figure(value, "W/(m²K)", "scot-u-values", PUBLISHED, note)


def _u(value: float, note: str = "") -> Figure:
    return _ours(value, "W/(m²K)", note)


# --- walls: lowest, usual and highest U-value to run; the table's default is the highest wherever it stands above the
# values measured on walls of its kind, so that neither is shown alone
WALLS: dict[str, tuple[Figure, Figure, Figure]] = {
    "solid brick": (
        _u(1.1, "low end of what was measured"),
        _u(1.4, "between the mean of 1.3 that li-2015 measured and the table"),
        _table(2.1, "before 1950, uninsulated"),
    ),
    "stone": (_u(0.9, "low end of what was measured"), _u(1.4), _table(1.8, "sandstone of 600 mm")),
    "granite": (_u(1.1), _u(1.6), _u(2.2, "granite or whinstone of 550 mm: 3.3 less 0.002 for each mm")),
    "cavity": (_u(1.2), _table(1.6, "unfilled, as built"), _u(1.7)),
    "filled cavity": (
        _u(0.5),
        Figure(0.7, "W/(m²K)", "scot-u-values", MEMORY, "filled"),
        _u(0.8),
    ),
    "cob": (_u(0.6), _table(0.8), _u(1.0)),
    "timber frame": (_table(0.5, "1976 to 1983"), _table(1.0, "1950 to 1964"), _table(2.5, "old")),
    "built 1984 to 2002": (_u(0.4), _table(0.45), _table(0.6)),
    "built since 2003": (_u(0.18), _table(0.25), _table(0.3)),
    "insulated inside": (_u(0.18), _u(0.25), _u(0.35)),
    "unheated behind": (_u(1.2), _u(1.7, "a half-brick or lath wall to a stair, hall or garage"), _u(2.1)),
}
STONE_AT_0_MM = _table(3.0, "sandstone or limestone: 3.0 less 0.002 for each mm, the formula of 2012, replaced in 2024")
GRANITE_AT_0_MM = _table(3.3, "granite or whinstone: 3.3 less 0.002 for each mm, the formula of 2012, replaced in 2024")
STONE_PER_MM = Figure(0.002, "W/(m²K mm)", "scot-u-values", PUBLISHED)
LINED_WALL = Figure(0.17, "m²K/W", "scot-u-values", PUBLISHED, "dry lining, or lath and plaster, on a solid wall")
CORNER_FACTOR = _ours(0.85, "1", "an outer corner, low edge or reveal: the bare wall's temperature factor times this")
READING_U_K = _ours(1.5, "K", "one infrared or contact reading of a wall's surface")
READING_LEAST_K = _ours(10, "K", "room less outdoors under which a reading of the wall says too little")
INSIDE_MOULD_M2KW = Figure(0.25, "m²K/W", "iso-13788", MEMORY, "inner surface for the assessment of mould")

FOAM_BOARD = _ours(0.14, "m²K/W", "foam board of 5 mm at 0.035 W/(m K)")
GLAZING = _ours(0.15, "m²K/W", "still air behind glass: 0.13 to 0.18")
STANDOFF_MOST_MM = _ours(60, "mm", "a picture is not hung farther off its wall")
STANDOFF_OPEN_MM = _ours(8, "mm", "under this stand-off the air behind is taken as closed")
STANDOFF_STEP_MM = _ours(5, "mm", "a distance from the wall is solved for in steps of pads as they are sold")
ROOM_LEAST_RH = _ours(40, "% RH", "nobody is advised to dry a room with a painting in it further")
ROOM_MOST_RH = _ours(55, "% RH", "nobody is advised to dampen a room further in the heating season")
STRETCHER_DEPTH_MM = _ours(20, "mm", "canvas to the back of frame or stretcher, where not known")

# --- the room where nothing was logged
EXCESS_COLD = (
    _ours(1.0, "g/m³", "dry habits, airing"),
    Figure(2.0, "g/m³", "kalamees-2006", MEMORY, "mean of houses at or under 5 °C outdoors"),
    Figure(
        4.0, "g/m³", "kalamees-2006", PUBLISHED, "abstract: one house in ten is over this, at or under 5 °C outdoors"
    ),
)
EXCESS_WARM_SHARE = Figure(
    0.375, "1", "kalamees-2006", PUBLISHED, "1.5 g/m³ at 15 °C and over against 4 at 5 and under"
)
EXCESS_HUMIDIFIED = _ours(6.0, "g/m³", "humidifier, laundry dried indoors, many plants")
EXCESS_EMPTY = _ours(0.5, "g/m³", "a closed, empty house")
EXCESS_COLD_C = Figure(5, "°C", "kalamees-2006", PUBLISHED)
EXCESS_WARM_C = Figure(15, "°C", "kalamees-2006", PUBLISHED)
EMPTY_OVER_OUT_K = _ours(2, "K", "an unheated, closed house over the mean of the last 14 days outdoors")
EMPTY_FOLLOWS_D = _ours(14, "d")
GAINS_K = _ours(4, "K", "a lived-in house over the day's mean outdoors when it is not heated")
OUT_RH_COLD = _ours(88, "% RH", "mean outdoors in the cold months of a moist temperate climate")
OUT_RH_WARM = _ours(75, "% RH", "mean outdoors in the warm months")
DAY_SWING_K = _ours(3, "K", "half the daily range outdoors")
COLD_SPELL_D = _ours(5, "d", "the design cold spell")
DESIGN_OUT_C = (
    _ours(0, "°C", "coldest month, where nothing is said of the climate"),
    _ours(18, "°C", "warmest month"),
    _ours(-8, "°C", "mean of a cold spell of five days"),
)
HEATING = {
    "continuous": (_ours(20, "°C"), _ours(18, "°C")),
    "day only": (_ours(19, "°C"), _ours(15, "°C")),
    "weekend": (_ours(18, "°C"), _ours(10, "°C")),
    "none": (_ours(0, "°C", "not heated"), _ours(0, "°C", "not heated")),
}
LOG_TEMP_U_C, LOG_RH_U_PERCENT = _ours(1.0, "K", "of a reckoned room"), _ours(8.0, "% RH", "of a reckoned room")

# --- heat
PLUME_AT_700 = Figure(
    8.9, "K m", "rouse-1952", MEMORY,
    "plane plume against a wall: dT = 8.9 (q/700)^(2/3) / z; order of magnitude, ± 50 %",
)  # fmt: skip
PLUME_Q = Figure(700, "W/m", "en-442", MEMORY, "convective part of 1 kW per metre of radiator at 75/65/20")
PLUME_LOW_Q = _ours(250, "W/m", "low-temperature heating, 0.36 kW per metre")
PLUME_LEAST_M = _ours(0.3, "m", "nearer than this the plume's law does not hold; taken as at this height")
PLUME_ASIDE_M = _ours(1.0, "m", "so far sideways of a radiator its plume is not met")
PLUME_NEVER_M = _ours(1.0, "m", "nearer over a hot radiator nothing is hung, whatever is reckoned")
HEATS_UNDER_C = _ours(15, "°C", "day's mean outdoors under which a house is heated")
PLUME_SPREAD = _ours(0.5, "1", "the plume's law is good to half its value either way")
STOVE_RISE_K = Figure(
    65.0, "K", "ul-117f", PUBLISHED, "rise that fire rules allow on combustible surfaces beside a stove (117 F)"
)
SUN_BACK = _ours(2.0, "W/(m²K)", "heat lost through the back of a picture in the sun")
SUN_CONVECTION_LEAST = _ours(2.0, "W/(m²K)", "free convection at a picture's face, least")
SUN_CONVECTION = Figure(1.31, "W/(m²K^(4/3))", "ashrae-fundamentals-2017", MEMORY, "turbulent, vertical: 1.31 dT^(1/3)")
ABSORBS = {"light": _ours(0.3, "1"), "middle": _ours(0.6, "1"), "dark": _ours(0.9, "1", "near-black passages")}
GLASS_PASSES = Figure(0.85, "1", "from-memory", MEMORY, "single glazing, sun's energy; double 0.75")
LAMP_LM_PER_W = {
    "halogen": Figure(20, "lm/W", "from-memory", MEMORY, "of beam radiation"),
    "led": Figure(300, "lm/W", "from-memory", MEMORY, "of beam radiation"),
}
LAMP_EXCHANGE = _ours(8.0, "W/(m²K)", "a lit surface against the room")

# --- light
DOSE_LOW = Figure(
    600_000,
    "lx h a year",
    "cie-157",
    MEMORY,
    "oil and tempera, the low class: 200 lx for 3000 h",
)
DOSE_CAUTIOUS = Figure(100_000, "lx h a year", "from-memory", MEMORY, "another museum's limit for oils, with 150 lx")
DOSE_ACT_TIMES = _ours(3, "times", "three years' allowance in one")
LUX_OILS = Figure(200, "lx", "wam-manual", PUBLISHED, "oil and tempera")
OUTDOOR_KLX_H = Figure(72_000, "klx h a year", "from-memory", MEMORY, "horizontal, diffuse, mid latitudes")
WINDOW_SHARE = {
    "beside the window": _ours(0.004, "1", "same wall"),
    "deep in the room": _ours(0.003, "1", "a side wall over 4 m away"),
    "side wall": _ours(0.01, "1", "2 to 3 m away"),
    "opposite the window": _ours(0.015, "1", "4 m away"),
    "opposite a large window": _ours(0.04, "1", "2 m away"),
}
FACING_TIMES = {
    "N": _ours(1.0, "1"), "E": _ours(1.3, "1"), "W": _ours(1.3, "1"), "S": _ours(1.6, "1", "diffuse and reflected"),
}  # fmt: skip
CURTAIN_PASSES = {
    "none": _ours(1.0, "1"), "net curtain": _ours(0.5, "1"), "blind": _ours(0.2, "1", "drawn while the sun is out"),
    "shutters": _ours(0.1, "1", "closed by day but for airing"),
}  # fmt: skip
DOSE_SPREAD = _ours(2.0, "times", "a dose reckoned without a meter, either way")
METER_SPREAD = _ours(1.3, "times", "a dose from a light meter or an app")
SUN_KLX = _ours(40, "klx", "a sun patch indoors, middle")

# --- advice
FIRST_WEEKS_LEAST_D = _ours(28, "d", "told apart after hanging, whatever the lining")
YEAR_D = _ours(365, "d", "a position is judged over a whole year from the day of hanging")
REPLAY_YEARS = _ours(3, "years", "how far back a log may stand for the coming year")
FIXING_TIMES = Figure(4, "times the weight", "from-memory", MEMORY, "rating of each fixing, 3 to 4 times")
TWO_PEOPLE_KG = _ours(15, "kg", "over this, or over a metre long, two people lift")
INSTALLER_KG = _ours(25, "kg", "over this a professional installer")
PADS_MM = _ours(25, "mm", "pads top and bottom where nothing else was solved for: 2 to 3 cm")
WATCH_OVER_YEAR = _ours(80, "% of a year", "a log that stands for the position itself")
