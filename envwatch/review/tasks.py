"""What there is to do: carried over, asked for by this week's findings, and inspections that fall due."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from envwatch.archive import Studio
from envwatch.figures.review import DUE_SOON_DAYS, INSPECTION_DAYS
from envwatch.period import Period, date
from envwatch.records import Level
from envwatch.review.lines import Due, PaintingLine

LOOKED_AFTER = ("lining", "strip-lining", "consolidation", "patch", "tear mend")


def tasks_of(studio: Studio, judged: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> tuple[Due, ...]:
    """What to do: carried over first, then this week's findings, one a painting, then inspections due soon."""
    titles = {painting.id: painting.title for painting in studio.paintings().values()}
    carried = [
        Due(t.number, t.due, t.painting_id, titles.get(t.painting_id, ""), t.what, "carried over", t.note)
        for t in studio.tasks(open_only=True)
        if t.raised_on < span.end and not (t.put_off_until is not None and t.put_off_until > span.end)
    ]
    known = {due.number for due in carried}
    fresh = [_task(line, now) for line in judged if not line.put_off and line.level >= Level.ACT]
    fresh = [due for due in fresh if due.number not in known]
    return (*carried, *sorted(fresh, key=_by_day), *inspections(judged, span, now))


def _by_day(due: Due) -> tuple[bool, int, str]:
    return due.on is None, due.on.value if due.on is not None else 0, due.title


def _task(line: PaintingLine, now: pd.Timestamp) -> Due:
    """The one thing to do about a painting: what its worst finding asks."""
    finding = line.headline
    assert finding is not None
    return Due(finding.number, finding.by or now, line.id, line.title, finding.do)


def inspections(lines: Sequence[PaintingLine], span: Period, now: pd.Timestamp) -> list[Due]:
    """Inspection days of recent linings and consolidations that fall into this period or soon after."""
    until = max(span.end, now) + pd.Timedelta(days=float(DUE_SOON_DAYS))
    out = []
    for line in lines:
        for treatment in line.painting.treatments:
            for days in treatment.inspection_days or INSPECTION_DAYS:
                on = treatment.on + pd.Timedelta(days=float(days))
                looked = any(seen.on >= on for seen in line.painting.observations)
                if treatment.kind in LOOKED_AFTER and span.start <= on < until and not looked:
                    what = f"look at the {treatment.kind} of {date(treatment.on, span.zone)}, day {int(days)}"
                    state = "due next" if on >= now else "was due; no look recorded"
                    out.append(Due(None, on, line.id, line.title, what, state))
    return sorted(out, key=_by_day)
