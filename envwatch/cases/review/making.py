"""The whole review, and what is kept of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, replace

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.intake.summary import arrivals, mark_notes
from envwatch.archive.store.writing import user
from envwatch.cases.review import again, causes, events, hit_rate, revised, unread
from envwatch.cases.review.limits import in_force
from envwatch.cases.review.model import PaintingLine, Review
from envwatch.cases.review.over import LOOKED, OVER, SEEN
from envwatch.cases.review.paintings import left_out, painting_lines
from envwatch.cases.review.places import logger_lines, place_lines, read_once
from envwatch.cases.review.span import clock_notes, default_period, refuse_empty
from envwatch.cases.review.tasks import tasks_of
from envwatch.core.errors import StudioError
from envwatch.core.findings import Level
from envwatch.core.period import Period


def make(
    studio: Studio,
    now: pd.Timestamp,
    span: Period | None = None,
    progress: Callable[[int, int, str], None] | None = None,
) -> Review:
    """The review of a period; by default of the last full week for which there are readings.

    Parameters
    ----------
    now : the clock, UTC; handed in, so that a review can be made again as it was.
    progress : called with (done, of, what) as paintings are judged.

    Raises
    ------
    NotThere : a stated period in which nothing at all was read, in a studio that has readings.
    """
    span, opening = default_period(studio, now) if span is None else (span, clock_notes(span, now, studio.zone))
    refuse_empty(studio, span, now)
    before = reviews.previous_review(studio, span.start)
    paintings = list(studio.paintings().values())
    if not paintings:
        opening = (*opening, "No paintings in the register yet: envwatch import FOLDER reads them from CSV.")
    left = {painting.id: left_out(studio, painting, span, now) for painting in paintings}
    aside = [(painting.title, left[painting.id]) for painting in paintings if left[painting.id]]
    paintings = [painting for painting in paintings if not left[painting.id]]
    judged = painting_lines(studio, paintings, span, now, before["record"] if before else None, progress)
    raised = sorted((line for line in judged if line.headline), key=lambda line: (line.urgency, line.title))
    rest = sorted((line for line in judged if not line.headline), key=lambda line: line.title)
    read_once(studio, span, now)
    came = arrivals(studio, before["made_at"] if before else None)
    made = Review(
        studio=studio.name, adoption=studio.adoption, period=span, made_at=now,
        opening=(*opening, *unread.notes(studio, judged, span)),
        arrivals=came.came_in, set_aside=came.set_aside, marks=mark_notes(studio, span.start, span.end),
        tray=tuple(item.sentence for item in studio.tray()),
        trouble=tuple(line for line in raised if not line.put_off),
        put_off=tuple(line for line in raised if line.put_off),
        standing=tuple(line for line in rest if line.level >= Level.WATCH and line.only_met),
        told=tuple(line for line in rest if line.level >= Level.WATCH and not line.only_met),
        not_seen=tuple(line for line in rest if line.level is Level.UNKNOWN and not line.only_waits),
        waiting=tuple(line for line in rest if line.level is Level.UNKNOWN and line.only_waits),
        quiet=tuple(line for line in rest if line.level is Level.CLEAR),
        left_out=tuple(aside), places=place_lines(studio, span, judged),
        loggers=logger_lines(studio, span, now), tasks=tasks_of(studio, judged, span, now),
        events=events.events(studio, judged, span),
        changes=_changes(judged, before), cautions=_cautions(raised),
        borne_out=tuple(one.sentence for one in (*hit_rate.of(studio), *hit_rate.by_limit(studio)) if one.looked),
    )  # fmt: skip
    return revised.opened(studio, made)


def _changes(judged: Sequence[PaintingLine], before: dict | None) -> tuple[str, ...]:
    if before is None:
        return ()
    words = {"new": "is new in the list", "worse": "is worse than last time", "eased": "has eased since last time",
             "over": "has ended"}  # fmt: skip
    return tuple(f"{line.title} {words[line.change]}." for line in judged if line.change in words)


def _cautions(lines: Sequence[PaintingLine]) -> tuple[str, ...]:
    found = (finding.caution for line in lines for finding in line.verdict.raised if finding.caution)
    return tuple(dict.fromkeys(found))


def record_of(review: Review) -> dict:
    """What is kept of a review, so that the next one can say what changed."""
    lines = review.judged
    return {
        "label": review.period.label,
        "drying": {
            line.id: line.drying.course.record() for line in lines if line.drying is not None and line.drying.course
        },
        "levels": {line.id: int(line.verdict.level) for line in lines},
        "read_until": {line.id: str(line.read_until) for line in lines if line.read_until is not None},
        "findings": [again.as_kept(line.id, f) for line in lines for f in line.verdict.raised],
        "events": [causes.as_kept(one) for one in review.events],
        "revised": [asdict(one) for one in review.revised],
        **review.rested,
    }


def keep(studio: Studio, review: Review) -> Review:
    """Keep the review with the limits in force, and raise its tasks. Returns it with its number."""
    used = {layer.material for line in review.judged for layer in line.painting.layers}
    limits = in_force(studio.materials(), used)
    if any(f.number is None for line in review.judged for f in line.verdict.raised):
        raise StudioError("its findings could be given no numbers; the review was not kept", place=studio.folder)
    with studio.saving():
        for due in review.tasks:
            if due.state in ("open", OVER, SEEN) and due.number is not None:
                reviews.raise_task(studio, due.number, due.painting_id, due.what, due.on, review.made_at)
            elif due.state == LOOKED and due.number is not None:
                reviews.close_task(studio, due.number, due.note, review.made_at)
            for number in due.also:
                reviews.close_task(studio, number, f"one look for both: no. {due.number}", review.made_at)
        number = reviews.keep_review(
            studio, review.period.start, review.period.end, record_of(review) | {"by": user()}, limits, review.made_at
        )
    return replace(review, number=number)
