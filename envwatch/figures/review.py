"""Rhythms of the weekly review."""

from envwatch.core.quantities import Confidence, Figure

INSPECTION_DAYS = tuple(
    Figure(days, "d after treatment", "our-judgement", Confidence.OUR_JUDGEMENT) for days in (1, 7, 28, 90)
)
DUE_SOON_DAYS = Figure(14, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "how far ahead the review looks")
LOOKS_BACK_DAYS = Figure(
    430, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "over which a place is described and a painting's air drawn unless a span is named: 13 months and a half",
)  # fmt: skip
BARE_DAY_COUNTS_DAYS = Figure(
    100, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "how long before a period a bare day of a move is judged both ways: longer than any window of damp, heat or swing",
)  # fmt: skip
PLACE_HISTORY_DAYS = Figure(
    60, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "history behind a place's week: twice the seasonal window"
)
