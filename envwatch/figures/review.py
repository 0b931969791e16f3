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
LOOK_HOLDS_DAMP_DAYS = Figure(
    7, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "an own look that found nothing answers damp, mould, water and cold that grow no worse",
)  # fmt: skip
LOOK_HOLDS_SLOW_DAYS = Figure(28, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "the same of dryness and swing")
SEASON_DAYS = Figure(
    120, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "dryness told once is told again only as it grows worse: a heating season, and a dated note in the next",
)  # fmt: skip
SECOND_LOOK_HEAT_DAYS = Figure(
    7, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "what heat loosened may open only as the bond is loaded again: once more after a week",
)  # fmt: skip
SECOND_LOOK_DAMP_DAYS = Figure(
    14, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "mould shows late, and size that flowed together pulls as it dries: once more after two weeks",
)  # fmt: skip
LOOK_WHEN_OVER_DAYS = {
    2: Figure(14, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "watch"),
    3: Figure(4, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "act: nothing is left to stop, so no haste"),
    4: Figure(2, "d", "our-judgement", Confidence.OUR_JUDGEMENT, "urgent"),
}  # by level
MOVE_ENDS_WITHIN_H = Figure(
    48, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "air that was over its limit and ended so soon after a move ended by it: a canvas follows its air with a lag",
)  # fmt: skip
LATE_REACH_DAYS = Figure(
    30, "d", "our-judgement", Confidence.OUR_JUDGEMENT,
    "how long before a reviewed period readings that come in later have it judged again: the longest of its windows",
)  # fmt: skip
READ_OUT_H = Figure(
    12, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "at the end of what was read: their marks may change with what is read after them, which is no new air",
)  # fmt: skip
