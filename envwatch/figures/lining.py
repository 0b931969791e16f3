"""Figures of the lining hazard that belong to no single adhesive: glue in damp, creep, rules of the first weeks.

The limits of each adhesive are in the materials file and nowhere else.
"""

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, OURS, MEMORY = Confidence.PUBLISHED, Confidence.OUR_JUDGEMENT, Confidence.FROM_MEMORY


def _ours(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", OURS, note)


def _sorbed(grams: float) -> Figure:
    return Figure(grams, "g water / 100 g dry gelatine", "gelatine-sorption-2013", PUBLISHED, "table 1")


# water taken up by gelatine at 40, 50 … 90 % RH; between these, and between 25 and 40 °C, linear
SORPTION_AT_PERCENT = (40, 50, 60, 70, 80, 90)
SORBED_AT_25_C = tuple(map(_sorbed, (13.82, 16.30, 18.48, 21.60, 26.73, 40.20)))
SORBED_AT_40_C = tuple(map(_sorbed, (13.34, 15.70, 17.64, 20.05, 25.35, 36.45)))

# Gordon-Taylor: between dry gelatine and water, through the one point at which gelatine was seen to become mobile
DRY_GELATINE_SOFTENS_C = Figure(200, "°C", "pinhas-1996", PUBLISHED, "anhydrous; 145 °C for stored samples")
WATER_SOFTENS_C = Figure(-135, "°C", "from-memory", MEMORY, "glass transition of water")
GLUE_MOBILE_AT_G = Figure(
    25, "g water / 100 g dry gelatine", "pinhas-1996", PUBLISHED, "marked mobility of the chains over this"
)
GLUE_MOBILE_AT_C = _ours(25, "°C", "the temperature that the sentence is taken to be about: the line is indicative")
GLUE_LINE_WATCH_K = _ours(10, "°C", "watch so far before the line is reached")

COLD_CAP_TEMP_C = _ours(
    5, "°C", "under this 24-hour mean, glue and paste are glassy and nothing grows: damp is watch at most"
)
COLD_CAP_PERCENT = _ours(85, "% RH", "at and over this the cold excuses nothing")

FRESH_DAMP_ACT_ABOVE = _ours(5, "% RH", "in the first weeks, act so far over watch where that is stricter")
FRESH_SWING_ACT_ABOVE = _ours(10, "% RH", "in the first weeks, act so far over watch of a swing where that is stricter")
FRESH_UNDER_FILM_TIMES = _ours(2, "times", "first weeks of water-borne work under a film or wax, which dries slowly")
PRINT_THROUGH_DRY_PERCENT = _ours(
    40,
    "% RH",
    "watch for a stiff patch or mend under this: print-through rises (Conserving Canvas, chapter 40, in words)",
)

CREEP_ENERGIES_KJ = tuple(
    _ours(energy, "kJ/mol", "no activation energy of a lining was found: a band, never one number")
    for energy in (60, 100, 150)
)
CREEP_REFERENCE_C = _ours(20, "°C", "hours are counted as hours at this temperature")
CREEP_STOPS_BELOW_K = _ours(
    5, "°C", "so close to softening the law of creep no longer holds; those hours are counted apart"
)

NEAR_SOFTENING_K = tuple(_ours(distance, "°C", "hours so close to softening are shown") for distance in (10, 5, 0))
COOL_AFTER_TIMES = _ours(
    4, "time constants", "a warmed picture is cool: 2 % of the warmth is left, 13 % where it cools at half the speed"
)
RETURNS_WITHIN_H = _ours(24, "h", "heat or cold that comes back within a day is one spell")
BY_DAYS = {
    "watch": _ours(28, "d", "look by"), "act": _ours(7, "d", "do by"), "urgent": _ours(0, "d", "today"),
}  # fmt: skip
