"""Figures of mould: the growth index and its sensitivity classes, the damp clock, the 30-day rules."""

from __future__ import annotations

from typing import NamedTuple

from envwatch.core.quantities import Confidence, Figure
from envwatch.core.words import Word

PUBLISHED, MEMORY, JUDGED = Confidence.PUBLISHED, Confidence.FROM_MEMORY, Confidence.OUR_JUDGEMENT


def _wood(value: float, unit: str, note: str = "") -> Figure:
    return Figure(value, unit, "hukka-viitanen-1999", PUBLISHED, note)


# Critical humidity of growth: a cubic in temperature up to 20 °C
CRITICAL_CUBIC = (_wood(-0.00267, "% RH/K³"), _wood(0.160, "% RH/K²"), _wood(-3.13, "% RH/K"), _wood(100, "% RH"))
CUBIC_TO_C = _wood(20, "°C", "warmer, the critical humidity is the class's least")
GROWTH_OVER_C = _wood(0, "°C", "no growth at or below")
GROWTH_TO_C = _wood(50, "°C", "no growth above; the tests behind the model lie between about 5 and 40 °C")

# Weeks from nothing to index 1: exp(a ln T + b ln RH + c), resawn softwood
WEEKS_LN_TEMP, WEEKS_LN_RH, WEEKS_CONSTANT = _wood(-0.68, "1"), _wood(-13.9, "1"), _wood(66.02, "1")
SLOWS_NEAR_HIGHEST = _wood(2.3, "1", "growth slows as 1 - exp(2.3 (M - highest))")
INDEX_MICROSCOPIC = _wood(1, "index", "small amounts, seen only under the microscope")
INDEX_VISIBLE = _wood(3, "index", "first growth that the naked eye can see")
INDEX_TOP = _wood(6, "index", "heavy growth over the whole surface")

DECLINE_EARLY = _wood(0.00133, "1/h", "decline in the first hours of a dry spell")
DECLINE_EARLY_H = _wood(6, "h")
DECLINE_LATE = _wood(0.000667, "1/h", "decline in a dry spell after the pause")
DECLINE_LATE_FROM_H = _wood(24, "h", "between the first hours and this no decline")


class MouldClass(NamedTuple):
    """Sensitivity class of a surface in the extended model."""

    speed_below_1: Figure  # factor on the growth rate while the index is under 1
    speed_from_1: Figure
    highest_a: Figure  # highest index = a + b x - c x², x from 0 at the critical humidity to 1 at saturation
    highest_b: Figure
    highest_c: Figure
    least_rh: Figure  # no growth below it at any temperature


def _class(example: str, *values: float) -> MouldClass:
    units = ("1", "1", "index", "index", "index", "% RH")
    return MouldClass(
        *(Figure(v, unit, "ojanen-2010", PUBLISHED, example) for v, unit in zip(values, units, strict=True))
    )


class Sensitivity(Word):
    """How sensitive a surface is to mould, the most sensitive first."""

    VERY, SENSITIVE, MEDIUM, RESISTANT = "very sensitive", "sensitive", "medium resistant", "resistant"


CLASSES: dict[str, MouldClass] = {
    Sensitivity.VERY: _class("untreated softwood", 1.0, 2.0, 1.0, 7.0, 2.0, 80),
    Sensitivity.SENSITIVE: _class("planed wood, glued boards, paper-faced products", 0.578, 0.386, 0.3, 6.0, 1.0, 80),
    Sensitivity.MEDIUM: _class("concrete, glass wool, polyester wool", 0.072, 0.097, 0.0, 5.0, 1.5, 85),
    Sensitivity.RESISTANT: _class("polished plastic, glass, metal", 0.033, 0.014, 0.0, 3.0, 1.0, 85),
}


def _decline(value: float, note: str) -> Figure:
    return Figure(value, "share of the decline on pine", "ojanen-2010", MEMORY, note)


DECLINES = {
    "as pine": _decline(1.0, "pine in short dry spells"),
    "significant": _decline(0.5, "significant decline"),
    "relatively low": _decline(0.25, "relatively low decline"),
    "almost none": _decline(0.1, "almost no decline; the cautious default"),
}
DECLINE_DEFAULT = DECLINES["almost none"]


def _judged(value: float, unit: str, note: str) -> Figure:
    return Figure(value, unit, "our-judgement", JUDGED, note)


WALL_SENSITIVITY = Sensitivity.SENSITIVE  # a papered or painted, dusty wall: our judgement

INDEX_WATCH = _judged(0.5, "index", "half way to microscopic growth; a pass mark of 3 is too late for a painting")
INDEX_ACT = _judged(1.0, "index", "microscopic growth becomes possible")
INDEX_URGENT = _judged(3.0, "index", "visible growth becomes possible")
INDEX_PAST_MOULD = _judged(1.0, "index", "where mould was seen before, the index starts here, one class more sensitive")
INDEX_GREW = _judged(0.01, "index", "less growth than this in the judged period counts as none")
GAP_TAKES_H = _judged(168, "h", "in a gap the air is taken at worst as in the dampest stretch of this length on record")
COURSE_H = _judged(672, "h", "a course is foretold as the last four weeks over and over")
COURSE_UP_TO_H = _judged(17_520, "h", "no course is foretold beyond two years")

DAMP_LEVELS = tuple(
    Figure(rh, "% RH", source, PUBLISHED, note)
    for rh, source, note in (
        (65, "snow-1944", "abstract: mould after two years and more; below 75 % only after a very long latent period"),
        (70, "wright-1941", "abstract: 67 % reasonably safe for dried grass, 70 to 75 % widely and wrongly thought so"),
        (75, "michalski-rh", "section Definition: damp begins"),
        (80, "hukka-viitanen-1999", "least humidity of growth on wood"),
    )
)
FORMER = "abstract of its successor; a former rule, withdrawn in 2016"
WEEK_H, MONTH_H = (
    _judged(168, "h", "a week"),
    Figure(720, "h", "ashrae-160-2009", PUBLISHED, f"running mean of 30 days; {FORMER}"),
)
WEEK_MEAN_WATCH = _judged(65, "% RH", "seven-day mean; anchored on published latent periods at 65 and 67 %")


class Rung(NamedTuple):
    """One step of the damp clock: so many hours over a humidity, unbroken or within a window."""

    grade: str  # watch, act or urgent
    over: Figure
    hours: Figure
    within: Figure | None = None  # None: in one spell


DAMP_CLOCK = (
    Rung("act", _judged(70, "% RH", "clock"), _judged(720, "h", "30 days"), _judged(1440, "h", "within 60 days")),
    Rung("act", _judged(75, "% RH", "clock"), _judged(168, "h", "7 days")),
    Rung("urgent", _judged(75, "% RH", "clock"), _judged(504, "h", "21 days")),
    Rung("urgent", _judged(80, "% RH", "clock"), _judged(168, "h", "7 days")),
    Rung("urgent", _judged(90, "% RH", "clock"), _judged(48, "h", "2 days")),
)
COLD_CLOCK_C = _judged(
    5, "°C", "hours colder than this do not run the clock: growth below it was not seen in the tests"
)

MONTH_MEAN_RH = Figure(
    80, "% RH", "ashrae-160-2009", PUBLISHED, f"30-day mean at the surface, where it is 5 to 40 °C; {FORMER}"
)
MONTH_MEAN_FROM_C = Figure(5, "°C", "ashrae-160-2009", PUBLISHED, FORMER)
MONTH_MEAN_TO_C = Figure(40, "°C", "ashrae-160-2009", PUBLISHED, FORMER)
CALENDAR_MONTH_RH = Figure(
    80, "% RH", "iso-13788", PUBLISHED, "clause 5.3: calendar month's mean vapour at its mean temperature"
)
MONTH_NEEDS = Figure(
    0.9, "share of the 30 days", "our-judgement", JUDGED, "under this share read the 30-day mean is not formed"
)
CLOCK_NEEDS = _judged(0.75, "share of the window", "under this share read the clock cannot be called clear")
