"""How much must have been read before anything may be called clear."""

from envwatch.core.quantities import Confidence, Figure

CLEAR_NEEDS = Figure(
    0.80, "share of the period", "our-judgement", Confidence.OUR_JUDGEMENT,
    "under this share of the judged period no finding may be clear",
)  # fmt: skip
WINDOW_NEEDS = Figure(
    0.75, "share of a running window", "our-judgement", Confidence.OUR_JUDGEMENT,
    "a running mean with more than a quarter of its hours missing is not formed",
)  # fmt: skip
HOUR_NEEDS = Figure(
    0.5, "share of an hour", "our-judgement", Confidence.OUR_JUDGEMENT,
    "an hourly mean needs half of its hour read",
)  # fmt: skip
GAP_LIKE_WITHIN_H = Figure(
    168, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "at worst the air in a gap was as it was at its worst within so long before and after it",
)  # fmt: skip
SPELL_BRIDGES_H = Figure(
    6, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "a dry break up to this does not end a spell: as long as the quick decline of the published growth index lasts",
)  # fmt: skip
SPELL_UNREAD_H = Figure(
    24, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "not read up to this between two hours over a limit is held to be over it: a room's air follows its days",
)  # fmt: skip
ENDED_NEEDS_H = Figure(
    24, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "air is over only after so many hours read within its limit: heat, sun and people come back with the day",
)  # fmt: skip
RATE_NEEDS = Figure(
    5, "findings looked at", "our-judgement", Confidence.OUR_JUDGEMENT,
    "with fewer, how often a hazard was right is not told as a rate",
)  # fmt: skip
STANDS_MOST_H = Figure(
    8, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "a reading stands for no longer: three a day show at least 75 % of a daily swing, two may show none of it",
)  # fmt: skip
STAMP_TELLS_H = Figure(
    0.5, "h", "our-judgement", Confidence.OUR_JUDGEMENT,
    "a reading that stands for no longer belongs to the hour, and the span, in which it was taken",
)  # fmt: skip
