"""The course by which a damp painting is dried back, in a review: given anew, or held to the readings since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.cases import judging
from envwatch.cases.review.model import PaintingLine
from envwatch.climate import drying_back
from envwatch.climate.drying_back import Progress
from envwatch.climate.exposure import Exposure
from envwatch.core.findings import Verdict
from envwatch.core.painting import Painting
from envwatch.core.period import Period
from envwatch.figures.materials import Materials

NOT_KNOWN = f"How damp the canvas is now is not known, so there is no course with dates: {drying_back.RULE}."


def draft(
    studio: Studio, painting: Painting, exposures: Sequence[Exposure], judged: Verdict, span: Period
) -> Progress | None:
    """A new course for a painting that is to be dried, from the end of the period on; None where none is needed."""
    if not any(map(verdict.asks_to_dry, judged.findings)):
        return None

    def make() -> Progress | None:
        return _new(painting, exposures, span, studio.materials())

    return judging.alike(studio, "drying", painting, exposures, span.start, make)


def _new(painting: Painting, exposures: Sequence[Exposure], span: Period, materials: Materials) -> Progress | None:
    need = [verdict.dampness(exposure, painting, span.start, span.zone, materials) for exposure in exposures]
    known = any(_any_day(exposure, painting, span) for exposure in exposures)
    damp = max((one for one in need if one is not None), key=lambda one: one.rh_percent, default=None)
    if damp is None:
        return None if known else Progress("", NOT_KNOWN, None)
    course = drying_back.begin(damp, span.end, span.zone)
    return Progress("", course.sentence, course)


def _any_day(exposure: Exposure, painting: Painting, span: Period) -> bool:
    ends, percent = verdict.canvas_days(exposure, painting, span.start, span.zone)
    return bool((percent[ends > span.start] > 0).any())


def at(studio: Studio, line: PaintingLine, span: Period, now: pd.Timestamp, before: dict | None) -> Progress | None:
    """What a line says of drying back: of the course kept with the review before, else of a new one from now on."""
    record = (before or {}).get("drying", {}).get(line.id)
    fresh = line.drying
    if record is None or not record["steps"]:
        if fresh is None or fresh.course is None:
            return fresh
        course = drying_back.begin(fresh.course.damp, max(span.end, now), span.zone)
        return Progress("", course.sentence, course)
    course = drying_back.kept(record)
    if span.end <= course.start:  # a review made late: its course has not begun yet
        return Progress("", course.sentence, course)
    damp = fresh.course.damp if fresh is not None and fresh.course is not None else None
    ways = [verdict.canvas_days(exposure, line.painting, span.start, span.zone)
            for exposure in judging.exposures(studio, line.painting, span)]  # fmt: skip
    held = [drying_back.held_to(course, *days, span.end) for days in ways]
    return drying_back.go_on(course, held, damp, span.end, now)


def with_drying(
    studio: Studio, line: PaintingLine, span: Period, now: pd.Timestamp, before: dict | None
) -> PaintingLine:
    """The line with its course; one that has left is its owner's to be rung about, and is given none."""
    if line.left is not None:
        return replace(line, drying=None)
    return replace(line, drying=at(studio, line, span, now, before))
