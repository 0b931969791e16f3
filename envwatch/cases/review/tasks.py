"""What there is to do: carried over, asked for by this week's findings, and what falls due after a treatment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.reviews import Task
from envwatch.cases import aftercare, leaving
from envwatch.cases.review import over
from envwatch.cases.review.model import PaintingLine, TaskLine
from envwatch.core.findings import Level
from envwatch.core.painting import CareStatus, Treatment
from envwatch.core.period import Period
from envwatch.core.text import date
from envwatch.figures.review import DUE_SOON_DAYS


def tasks_of(studio: Studio, judged: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> tuple[TaskLine, ...]:
    """What to do: carried over first, then this week's findings, one a painting, then what treatments make due."""
    titles = {painting.id: painting.title for painting in studio.paintings().values()}
    lines = {line.id: line for line in judged}
    open_ = [
        t for t in reviews.tasks(studio, open_only=True)
        if t.raised_on < span.end and not (t.put_off_until is not None and t.put_off_until > span.end)
    ]  # fmt: skip
    last = reviews.last_records(studio, [task.number for task in open_])
    carried = [
        over.as_it_stands(
            TaskLine(t.number, t.due, t.painting_id, titles.get(t.painting_id, ""), wanted(studio, t, span, now),
                "carried over", t.note),
            lines.get(t.painting_id), {} if _gone(studio, t, span, now) else last.get(t.number, {}), span.zone,
        )
        for t in open_
    ]  # fmt: skip
    known = {task.number for task in carried}
    fresh = [
        task for line in judged if not line.put_off for task in _tasks(line, span.zone, now) if task.number not in known
    ]
    return (*_one_look(carried, fresh), *coming(studio, judged, span, now))


def wanted(studio: Studio, task: Task, span: Period, now: pd.Timestamp) -> str:
    """What an open task asks: as it was raised, and once the painting has gone, to ring its owner about that."""
    left = _gone(studio, task, span, now)
    if left is None or task.what.startswith(leaving.RING):
        return task.what
    return f"{leaving.ring(left, span.zone)} Asked for while it was here: {task.what}"


def _gone(studio: Studio, task: Task, span: Period, now: pd.Timestamp) -> leaving.Departure | None:
    painting = studio.paintings().get(task.painting_id)
    return leaving.departure(studio, painting, span, now) if painting is not None else None


def _by_day(task: TaskLine) -> tuple[bool, int, str]:
    return task.on is None, task.on.value if task.on is not None else 0, task.title


def _tasks(line: PaintingLine, zone: str, now: pd.Timestamp) -> list[TaskLine]:
    """What to do about a painting: what the worst that goes on asks, and a look where the air of another is over."""
    ask = [finding for finding in line.asking if finding.level >= Level.ACT]
    still, gone = ([f for f in ask if (f.ended is not None) is ended] for ended in (False, True))
    return [
        TaskLine(f.number, f.by or now, line.id, line.title, f.do, over.state_of(f, line.painting, zone))
        for f in (*still[:1], *gone[:1])
    ]


def _one_look(carried: Sequence[TaskLine], fresh: Sequence[TaskLine]) -> list[TaskLine]:
    """Tasks in their order, those that ask for the same look at the same painting in one."""
    kept: list[TaskLine] = []
    for due in (*carried, *sorted(fresh, key=_by_day)):
        at = next((n for n, d in enumerate(kept) if _same_look(d, due)), None)
        if at is None:
            kept.append(due)
        elif due in carried and due.number is not None:
            kept[at] = replace(kept[at], also=(*kept[at].also, due.number))
    return kept


def _same_look(one: TaskLine, other: TaskLine) -> bool:
    return one.painting_id == other.painting_id and one.state == other.state == over.OVER


def coming(studio: Studio, lines: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> list[TaskLine]:
    """What falls due after a treatment in this period or soon after: weights off, looks, keying, first weeks' end."""
    until = max(span.end, now) + pd.Timedelta(days=float(DUE_SOON_DAYS))
    out = []
    for line in lines:
        for treatment in line.painting.treatments:
            for step in aftercare.due_after(treatment, span.zone, line.painting, studio.materials()):
                if span.start <= step.on < _ends(line, until) and not step.done:
                    what = _told(step, treatment, span.zone)
                    out.append(TaskLine(None, step.on, line.id, line.title, what, _state(step, now)))
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
