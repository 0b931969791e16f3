"""What there is to do: carried over, asked for by this week's findings, and what falls due after a treatment."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.reviews import Task
from envwatch.cases import aftercare, leaving
from envwatch.cases.review.model import Due, PaintingLine
from envwatch.core.findings import Level
from envwatch.core.painting import CareStatus, Treatment
from envwatch.core.period import Period
from envwatch.core.text import date
from envwatch.figures.review import DUE_SOON_DAYS


def tasks_of(studio: Studio, judged: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> tuple[Due, ...]:
    """What to do: carried over first, then this week's findings, one a painting, then what treatments make due."""
    titles = {painting.id: painting.title for painting in studio.paintings().values()}
    carried = [
        Due(t.number, t.due, t.painting_id, titles.get(t.painting_id, ""), wanted(studio, t, span, now), "carried over",
            t.note)
        for t in reviews.tasks(studio, open_only=True)
        if t.raised_on < span.end and not (t.put_off_until is not None and t.put_off_until > span.end)
    ]  # fmt: skip
    known = {task.number for task in carried}
    fresh = [_task(line, now) for line in judged if not line.put_off and line.level >= Level.ACT]
    fresh = [task for task in fresh if task.number not in known]
    return (*carried, *sorted(fresh, key=_by_day), *coming(studio, judged, span, now))


def wanted(studio: Studio, task: Task, span: Period, now: pd.Timestamp) -> str:
    """What an open task asks: as it was raised, and once the painting has gone, to ring its owner about that."""
    painting = studio.paintings().get(task.painting_id)
    left = leaving.departure(studio, painting, span, now) if painting is not None else None
    if left is None or task.what.startswith(leaving.RING):
        return task.what
    return f"{leaving.ring(left, span.zone)} Asked for while it was here: {task.what}"


def _by_day(task: Due) -> tuple[bool, int, str]:
    return task.on is None, task.on.value if task.on is not None else 0, task.title


def _task(line: PaintingLine, now: pd.Timestamp) -> Due:
    """The one thing to do about a painting: what its worst finding asks."""
    finding = line.headline
    assert finding is not None
    return Due(finding.number, finding.by or now, line.id, line.title, finding.do)


def coming(studio: Studio, lines: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> list[Due]:
    """What falls due after a treatment in this period or soon after: weights off, looks, keying, first weeks' end."""
    until = max(span.end, now) + pd.Timedelta(days=float(DUE_SOON_DAYS))
    out = []
    for line in lines:
        for treatment in line.painting.treatments:
            for step in aftercare.due_after(treatment, span.zone, line.painting, studio.materials()):
                if span.start <= step.on < _ends(line, until) and not step.done:
                    what = _told(step, treatment, span.zone)
                    out.append(Due(None, step.on, line.id, line.title, what, _state(step, now)))
    return sorted(out, key=_by_day)


def _ends(line: PaintingLine, until: pd.Timestamp) -> pd.Timestamp:
    """Until when steps fall due: with care closed, none after it has left."""
    closed = line.left is not None and line.painting.care is CareStatus.CLOSED
    return min(until, line.left.on) if closed and line.left is not None else until


def _told(step: aftercare.CareStep, treatment: Treatment, zone: str) -> str:
    """In one line: a look by its day, anything else with the treatment it follows."""
    of = f"{treatment.kind} of {date(treatment.on, zone)}"
    if step.what.startswith("look: "):
        return f"look at the {of}, {step.what.removeprefix('look: ').partition(' after ')[0]}"
    return f"{step.what}; {of}"


def _state(step: aftercare.CareStep, now: pd.Timestamp) -> str:
    if step.on >= now:
        return "due next"
    return "was due; no look recorded" if step.what.startswith("look") else "was due"
