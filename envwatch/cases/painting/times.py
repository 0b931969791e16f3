"""The times of a finding, and of an event of a room: when it happened, when that was read, who saw it first in a
review, and who answered."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from envwatch.archive import OriginalFile, Studio, reviews
from envwatch.archive.reviews import Task
from envwatch.cases.review import PaintingLine, causes
from envwatch.cases.review.model import Event
from envwatch.core.findings import Finding
from envwatch.core.painting import Look, Observation, Painting
from envwatch.core.period import Period


@dataclass(frozen=True)
class Times:
    """None, or empty: not known, or not yet. `number`: of the finding.

    happened : its first and its last hour. read : when the file of its worst hour came in. reviewed, review, by : the
    first kept review that held it, and who made it. answered, answer, answered_by : the first look that names it, or
    the first own look after it, else the word with which its task was closed.
    """

    number: int | None
    happened: tuple[pd.Timestamp | None, pd.Timestamp | None] = (None, None)
    read: pd.Timestamp | None = None
    reviewed: pd.Timestamp | None = None
    review: str = ""
    by: str = ""
    answered: pd.Timestamp | None = None
    answer: str = ""
    answered_by: str = ""


def of(studio: Studio, painting: Painting, line: PaintingLine, files: Iterable[OriginalFile]) -> tuple[Times, ...]:
    """The times of each raised finding of a painting, in the order of its verdict.

    Parameters
    ----------
    files : logger files behind its air, with when each came in.
    """
    kept, tasks, files = reviews.reviews(studio), reviews.tasks(studio, open_only=False), tuple(files)
    return tuple(
        Times(
            finding.number, (finding.since, finding.ended or finding.until), _read(finding, files),
            *_reviewed(finding, kept), *_answered(finding, painting, tasks),
        )
        for finding in line.verdict.raised
    )  # fmt: skip


def of_events(
    studio: Studio, painting: Painting, span: Period, files: Iterable[OriginalFile], but: Container[str] = ()
) -> tuple[tuple[str, Times], ...]:
    """What a painting met with others in a room over a span, as the kept reviews have it: a sentence, and its times.

    It is answered with its cause. The last sentence of an event stands, and the first review that held it.

    Parameters
    ----------
    but : places of which nothing is told.
    """
    met: dict[tuple[str, str, str], list[tuple[dict[str, Any], Event]]] = {}
    for kept in reviews.reviews(studio):
        for event in map(causes.from_kept, kept["record"].get("events", ())):
            if painting.id in event.paintings and event.place_id not in but and _within(event, span):
                met.setdefault((event.place_id, str(event.kind), str(event.began)), []).append((kept, event))
    files, out = tuple(files), []
    for held in met.values():
        (first, event), (_, last) = held[0], held[-1]
        cause = causes.cause_of(studio, event.place_id, event.kind, event.began, last.until)
        answered = (cause.on, cause.words, cause.by) if cause is not None else ()
        seen = first["made_at"], first["label"], first["record"].get("by", "")
        out.append((last.sentence, Times(None, (event.began, last.until), _came(event.began, files), *seen, *answered)))
    return tuple(out)


def _within(event: Event, span: Period) -> bool:
    return event.began < span.end and event.until is not None and event.until >= span.start


def _read(finding: Finding, files: Sequence[OriginalFile]) -> pd.Timestamp | None:
    return _came(finding.worst_at or finding.since, files)


def _came(moment: pd.Timestamp | None, files: Sequence[OriginalFile]) -> pd.Timestamp | None:
    if moment is None:
        return None
    came = [file.added for file in files if file.added is not None and file.first <= moment <= file.last]
    return min(came, default=None)


def _reviewed(finding: Finding, kept: Sequence[dict[str, Any]]) -> tuple[pd.Timestamp | None, str, str]:
    for review in kept:
        if any(found.get("number") == finding.number is not None for found in review["record"].get("findings", ())):
            return review["made_at"], review["label"], review["record"].get("by", "")
    return None, "", ""


def _answered(
    finding: Finding, painting: Painting, tasks: Sequence[Task]
) -> tuple[pd.Timestamp | None, str, str]:  # fmt: skip
    looks = [seen for seen in painting.observations if _answers(seen, finding)]
    if looks:
        first = min(looks, key=lambda seen: seen.on)
        return first.on, first.sign, first.by
    closed = [task for task in tasks if task.number == finding.number and task.closed_on is not None]
    return (closed[0].closed_on, closed[0].note, "") if closed else (None, "", "")


def _answers(seen: Observation, finding: Finding) -> bool:
    if seen.finding is not None:
        return seen.finding == finding.number
    return seen.look == Look.OWN and finding.since is not None and seen.on >= finding.since


__all__ = ["Times", "of", "of_events"]
