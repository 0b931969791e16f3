"""Figures of canvas paintings and the air: season, limits of humidity and cold, strain of the layers."""

from envwatch.figures.kinds import Confidence, Figure

SEASON_WINDOW_H = Figure(
    720, "h", "en-15757", Confidence.PUBLISHED,
    "30 days, 15 each side; the standard itself not seen, the window as papers report it",
)  # fmt: skip
DRY_LINED_RH = Figure(
    35, "% RH", "our-judgement", Confidence.OUR_JUDGEMENT,
    "lower alarm for a lined picture; paints and glues bear 35 to 65 % in mecklenburg-1998",
)  # fmt: skip
PLACE_DAMP_RH = tuple(
    Figure(limit, "% RH", "our-judgement", Confidence.OUR_JUDGEMENT, "counted, not a limit") for limit in (65, 70, 75)
)
