"""Figures of canvas paintings and the air: season, limits of humidity and cold, strain of the layers.

Limits that belong to a lining adhesive are not here but in the materials file.
"""

from envwatch.core.quantities import Confidence, Figure

PUBLISHED, FROM_MEMORY, OURS = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT

# --------------------------------------------------------------------------------- season and history
SEASON_WINDOW_H = Figure(
    720, "h", "en-15757", FROM_MEMORY, "30 days, 15 each side",
)  # fmt: skip
BAND_LOW_PERCENTILE = Figure(
    7, "percentile", "en-15757", FROM_MEMORY, "14 % of fluctuations lie outside by construction"
)
BAND_HIGH_PERCENTILE = Figure(93, "percentile", "en-15757", FROM_MEMORY)
BAND_LEAST = Figure(
    10, "% RH", "en-15757", FROM_MEMORY, "a calmer history may be widened to this, each side apart"
)  # fmt: skip
BAND_NEEDS_DAYS = Figure(
    395, "d", "en-15757", PUBLISHED, "13 months of record, as Sustainability 17 (2025) 1189 tells it"
)
BAND_PROVISIONAL_DAYS = Figure(
    90, "d", "our-judgement", OURS, "under this no band is formed, from here it is provisional"
)
GAP_BRIDGES_H = Figure(3, "h", "our-judgement", OURS, "a shorter gap in the humidity is bridged by a straight line")
LAG_RESTARTS_TAU = Figure(
    3, "time constants", "our-judgement", OURS, "after a longer gap (a day at least) the lag restarts"
)

HALF_CYCLE = Figure(
    0.5, "cycle", "astm-e1049", PUBLISHED, "section 5.4.4: a range that never closes counts as half a cycle"
)

# ------------------------------------------------------------------------------------- limits of change
DAY_CHANGE_WATCH = Figure(
    10, "% RH", "our-judgement", OURS,
    "distance from the mean of the 24 h; ±10 % in 24 h within 40 to 60 % is remembered of directors-2014",
)  # fmt: skip
DAY_CHANGE_ACT = Figure(
    20, "% RH", "michalski-ladder", FROM_MEMORY, "the next class of sensitivity bears twice the swing"
)
WEEK_CHANGE_WATCH = Figure(
    15, "% RH", "our-judgement", OURS,
    "daily means a week apart; glue size dried from 50 % reaches yield strain after 11 %, the safe range is ±15 %",
)  # fmt: skip
WEEK_CHANGE_ACT = Figure(
    25, "% RH", "our-judgement", OURS, "glue size dried from 50 % reaches failure strain after 23 %"
)
# a fall that is advised: under the 8 % after which size dried from 60 to 75 % yields (0.004 at 5e-4 per % RH), and half
# of what is watched within a week; after long damp the size has flowed together and pulls harder when it dries
BACK_A_WEEK = Figure(7, "% RH a week", "our-judgement", OURS, "the fastest that a canvas is brought back, damp or dry")
BACK_A_WEEK_AFTER_LONG_DAMP = Figure(5, "% RH a week", "our-judgement", OURS, "the fastest after long damp")
LONG_DAMP_RH = Figure(70, "% RH", "our-judgement", OURS, "long damp: hours of the canvas over this")
LONG_DAMP_DAYS = Figure(14, "d", "our-judgement", OURS, "long damp: so long, since it was last at its goal")
BACK_NEARNESS = Figure(1, "% RH", "our-judgement", OURS, "a daily mean so near to the course is on it")
BACK_NO_LOWER_RH = Figure(45, "% RH", "our-judgement", OURS, "no course of drying back goes lower")
FIRST_YEAR_DAYS = Figure(365, "d", "our-judgement", OURS, "a lined picture has no history of its own yet")
BEYOND_ACT = Figure(10, "% RH", "our-judgement", OURS, "as far again beyond the edge as the least band is wide")

# ------------------------------------------------------------------------------------ dry, damp and cold
DRY_LINED_RH = Figure(
    35, "% RH", "our-judgement", OURS,
    "lower alarm for a lined picture; 35 to 65 % is the range of richard-mecklenburg-tumosa-1998, page 528",
)  # fmt: skip
DRY_DANGER_RH = Figure(
    25, "% RH", "padfield-standard", PUBLISHED, "section RH: even briefly, laminates split and flake"
)
DAMP_SIZE_RH = Figure(75, "% RH", "our-judgement", OURS, "glue size softens; over a day asks for action")
DAMP_CANVAS_RH = Figure(
    80, "% RH", "hedley-1988", PUBLISHED, "abstract: above about this tension rises with humidity; canvas shrinks"
)
DAMP_DANGER_RH = Figure(90, "% RH", "berger-russell-1994", PUBLISHED, "abstract: above it extremely dangerous")
DAMP_SIZE_HOURS = Figure(24, "h", "our-judgement", OURS, "how long over 75 % before it asks for action")
PLACE_DAMP_RH = tuple(Figure(limit, "% RH", "our-judgement", OURS, "counted, not a limit") for limit in (65, 70, 75))

OIL_COLD_WATCH_C = Figure(
    10, "°C", "our-judgement", OURS, "oil and alkyd stiffen on the way to mcglinchey-1990 (oil, about -30 to 0 °C)"
)
OIL_COLD_ACT_C = Figure(
    5, "°C", "our-judgement", OURS, "paintings and coatings may crack by contraction or a blow, told of michalski-cci"
)
OIL_COLD_URGENT_C = Figure(
    -5, "°C", "our-judgement", OURS,
    "alkyd paint is glassy from about here (richard-mecklenburg-tumosa-1998, page 542), oil paint colder still",
)  # fmt: skip
ACRYLIC_COLD_WATCH_C = Figure(15, "°C", "erlebacher-1992", PUBLISHED, "abstract: stiffness and strength climb below")
ACRYLIC_NO_HANDLING_C = Figure(
    11, "°C", "erlebacher-1992", PUBLISHED, "abstract: some are brittle where the air is dry"
)
ACRYLIC_COLD_ACT_C = Figure(5, "°C", "erlebacher-1992", PUBLISHED, "abstract: some are brittle at 50 % RH")
ACRYLIC_COLD_URGENT_C = Figure(-3, "°C", "erlebacher-1992", PUBLISHED, "abstract: all are brittle at 50 % RH")
COLD_AND_DRY_ADDS_C = Figure(5, "K", "our-judgement", OURS, "added to the limits of cold where the air is dry too")
ACRYLIC_SOLD_FROM = Figure(1950, "year", "our-judgement", OURS, "a picture made earlier is not taken for acrylic")

# -------------------------------------------------------------------------------------------------- met before
# The rule is ours. What is published is told for itself (`MET_BASIS`): neither statement bears the other, nor the rule.
MET_BASIS = (
    "published of a proofed fluctuation (michalski-rh): one more event no larger than the worst already met adds "
    "little, unless the object has weakened since",
    "published of a historic climate (en-15757): a band about the seasonal level that leaves the outer 14 % out, for "
    "an object found in order in it; it says nothing of a single event",
    "the looks, windows, margin and what ends it are our judgement; met before is no clean bill of health",
)
MET_MARGIN_RH = Figure(
    1, "% RH", "our-judgement", OURS,
    "taken off what was met, besides the ± of the loggers, but for a change within an hour: what one drifts in a year",
)  # fmt: skip
MET_HOLDS_DAYS = Figure(365, "d", "our-judgement", OURS, "after the last look of one's own, and between two that count")
MET_COLD_C = Figure(
    10, "°C", "our-judgement", OURS, "colder hours have extremes of their own: oil paint stiffens below about this"
)
MET_GLUE_NEVER_RH = Figure(
    30, "% RH", "our-judgement", OURS,
    "under it never with a paste or glue that was put on; the old size of a canvas goes by the limit for all, 25 %",
)  # fmt: skip
MET_DAMP_RH = Figure(
    70, "% RH", "our-judgement", OURS,
    "in damp broken size flows together and pulls anew when it dries (Conserving Canvas, chapter 19, in words)",
)  # fmt: skip
MET_DAMP_HOURS = Figure(24, "h", "our-judgement", OURS, "so long together over it ends what was met before")
MET_NEEDS = Figure(0.9, "1", "our-judgement", OURS, "share of a window that was read, for it to count as met")
MET_DOUBT_RH = Figure(0.5, "% RH", "our-judgement", OURS, "hours of which gaps leave more open do not count as met")
LOGGERS_COMPARED_DAYS = Figure(2, "d", "our-judgement", OURS, "two loggers are compared: so long in one place")
ORDINARY_DRY_RH = Figure(
    30, "% RH", "our-judgement", OURS,
    "dryness down to this, come slowly, is what a heated house does each winter; glue asks for action under it",
)  # fmt: skip

# --------------------------------------------------------------------------------------- when to have looked
LOOK_WITHIN_DAYS = {
    2: Figure(7, "d", "our-judgement", OURS, "watch"),
    3: Figure(2, "d", "our-judgement", OURS, "act"),
    4: Figure(0, "d", "our-judgement", OURS, "urgent: at once"),
}  # by level
INTENDED_TAIL_H = Figure(
    72, "h", "our-judgement", OURS, "at most, a canvas drying after an intended stay raises no alarm"
)

# ------------------------------------------------------------------------------------------------- strain
STRAIN_KNOTS_RH = (0.0, 30.0, 40.0, 60.0, 75.0, 100.0)


def _bands(note: str, source: str, confidence: Confidence, *per_percent: float) -> tuple[Figure, ...]:
    return tuple(Figure(a, "strain per % RH", source, confidence, note) for a in per_percent)


SWELLING = {  # coefficient in each band between STRAIN_KNOTS_RH
    "size": _bands(
        "hide glue; bands ours, fitted to 4e-4 in the middle (poznanska-tempera) and 0.03 over 60 % (padfield-strain)",
        "our-judgement", OURS, 5.0e-4, 4.0e-4, 3.5e-4, 5.0e-4, 8.0e-4,
    ),
    "lean ground": _bands(
        "order of magnitude; a ground rich in glue two to four times this",
        "memory-coefficients", FROM_MEMORY, 3e-5, 3e-5, 2.5e-5, 5e-5, 1.2e-4,
    ),
    "lead paint": _bands(
        "lead-rich oil paint or ground; 2 to 6e-5", "memory-coefficients", FROM_MEMORY, 3e-5, 3e-5, 3e-5, 3e-5, 3e-5
    ),
    "earth paint": _bands(
        "oil paint of earths and organic pigments",
        "memory-coefficients", FROM_MEMORY, 8e-5, 8e-5, 8e-5, 1.6e-4, 1.6e-4,
    ),
}  # fmt: skip
YIELD_STRAIN = {
    "size": Figure(0.004, "strain", "richard-mecklenburg-tumosa-1998", PUBLISHED, "page 528"),
    "lean ground": Figure(0.0025, "strain", "richard-mecklenburg-tumosa-1998", PUBLISHED, "page 528: brittle gesso"),
    "lead paint": Figure(
        0.004, "strain", "richard-mecklenburg-tumosa-1998", PUBLISHED, "page 528: degraded paint may break below"
    ),
    "earth paint": Figure(
        0.004, "strain", "richard-mecklenburg-tumosa-1998", PUBLISHED, "page 528: degraded paint may break below"
    ),
}
FAILURE_STRAIN = Figure(
    0.009,
    "strain",
    "richard-mecklenburg-tumosa-1998",
    PUBLISHED,
    "page 528: least at failure, 35 to 65 % RH; so too reasons mecklenburg-1998",
)
EXPANSION_PER_K = {
    "size": Figure(30e-6, "strain per K", "padfield-strain", PUBLISHED, "part 7: gelatine"),
    "lean ground": Figure(20e-6, "strain per K", "memory-coefficients", FROM_MEMORY, "gesso"),
    "lead paint": Figure(52e-6, "strain per K", "memory-coefficients", FROM_MEMORY, "oil paint"),
    "earth paint": Figure(52e-6, "strain per K", "memory-coefficients", FROM_MEMORY, "oil paint"),
}
SIZE_SWELLS_ABOUT = Figure(4e-4, "strain per % RH", "poznanska-tempera", PUBLISHED, "abstract: collagen glue")
SHRINK_FROM_RH = DAMP_CANVAS_RH
SHRINK_AT_98 = Figure(
    0.010, "strain", "hedley-1988", PUBLISHED, "abstract: free shrinkage up to this at 98 % RH; the square is ours"
)
PASTE_LINING_SHRINKS = Figure(2, "times", "our-judgement", OURS, "two canvases and a second size, paste or glue lining")
WAX_SIZE_SHARE = Figure(
    0.5,
    "times",
    "our-judgement",
    OURS,
    "wax-resin damps the size, not to nothing: andersen-2014 found it to pull harder at high humidity",
)

# ---------------------------------------------------------------------------------------------- stretcher
WOOD_MOISTURE = tuple(
    tuple(Figure(x, "1", "wood-handbook", PUBLISHED, f"{name}, by powers of the temperature in °C") for x in row)
    for name, row in {
        "W": (349, 1.29, 0.0135),
        "K": (0.805, 0.000736, -0.00000273),
        "K1": (6.27, -0.00938, -0.000303),
        "K2": (1.91, 0.0407, -0.000293),
    }.items()
)
WOOD_ACROSS_PER_PERCENT = Figure(
    0.00263, "strain per % moisture", "wood-handbook", FROM_MEMORY, "spruce, tangential; chapter 13"
)

# ------------------------------------------------------------------------------------------------- ageing
AGEING_REFERENCE_C = Figure(20, "°C", "michalski-2002", PUBLISHED, "taken as 293.15 K, so that 20 °C and 50 % give 1")
AGEING_REFERENCE_RH = Figure(50, "% RH", "michalski-2002", PUBLISHED)
AGEING_RH_POWER = Figure(1.3, "1", "michalski-2002", PUBLISHED, "formula read in a text that quotes the paper")
AGEING_CELLULOSE_J = Figure(100e3, "J/mol", "michalski-2002", PUBLISHED, "canvas, glue, paper labels")
AGEING_VARNISH_J = Figure(70e3, "J/mol", "michalski-2002", PUBLISHED, "yellowing of varnish")
GAS_CONSTANT = Figure(8.314, "J/(mol K)", "codata-2018", PUBLISHED)
AGEING_VALID_C = (
    Figure(0, "°C", "our-judgement", OURS, "the formula is not used below"),
    Figure(35, "°C", "our-judgement", OURS, "the formula is not used above"),
)
AGEING_VALID_RH = (
    Figure(20, "% RH", "our-judgement", OURS, "the formula is not used below"),
    Figure(80, "% RH", "our-judgement", OURS, "the formula is not used above"),
)
