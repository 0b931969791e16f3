"""What an open task asks once the air of its finding is over: a look, a second one where due, and then nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from envwatch.cases.review import state
from envwatch.cases.review.model import PaintingLine, TaskLine
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Observation, Painting
from envwatch.core.text import date, stamp

LOOKED = "looked"  # state of a task whose looks are all had: keeping the review closes it
OVER = "over, not looked at"
SEEN = "a sign seen"
CORRECT = "Correct: "  # before the papers that rest on air since revised


def state_of(finding: Finding, painting: Painting, zone: str) -> str:
    """The state of a task that a finding raises."""
    if finding.ended is None:
        return "open"
    return SEEN if state.seen_words(state.looks_since(painting, finding.ended, zone), zone) else OVER


def as_it_stands(due: TaskLine, line: PaintingLine | None, record: Mapping[str, Any], zone: str) -> TaskLine:
    """A carried task as it stands in this review.

    Parameters
    ----------
    due : as it was raised. line : the painting's, None where it is not judged. record : what was last kept of the
        finding.

    What still goes on asks what its finding does now; of which nothing was read stays as it was: not read is no end.
    """
    if line is None or not record:
        return due
    now = _current(line, record)
    ended = _ended(now, line, record)
    if ended is None:
        goes_on = now is not None and now.level >= Level.ACT
        return _asking(due, now.do) if goes_on and now is not None else due
    began, by, signs = ended
    looks = state.looks_since(line.painting, began, zone)
    if not looks:
        tail = f"It ended {stamp(began, zone)}{by}; the painting has not been looked at since."
        return _asking(due, f"{state.look_words(signs)} {tail}", state=OVER)
    return _after_looks(due, record, line.painting, looks, began, zone)


def _asking(due: TaskLine, what: str, **changed: Any) -> TaskLine:
    """A task that asks for something else now; papers that were to be corrected still are."""
    papers = due.what.partition(CORRECT)[2]
    return replace(due, what=f"{what} {CORRECT}{papers}" if papers else what, **changed)


def _after_looks(
    due: TaskLine, record: Mapping[str, Any], painting: Painting, looks: Sequence[Observation], began: pd.Timestamp,
    zone: str,
) -> TaskLine:  # fmt: skip
    """After a sign it stays until a later look finds nothing new; else until the second look is had."""
    last, seen = looks[-1], state.seen_words(looks, zone)
    if seen:
        return _asking(due, f"{seen} {state.look_words(record.get('look_for', ''))}")
    days = state.second_look_days(record["mechanism"], record["hazard"])
    again = began + pd.Timedelta(days=days or 0)
    if days is None or state.looks_since(painting, again, zone):
        seen = f"looked {date(last.on, zone)}: {last.sign}"
        return replace(due, what="Looked at since it ended: closed with this review.", state=LOOKED, note=seen)
    what = (f"Second look: it ended {stamp(began, zone)}, looked {date(last.on, zone)} and found well; what shows "
            f"late shows by then.")  # fmt: skip
    return _asking(due, what, on=again)


def _ended(now: Finding | None, line: PaintingLine, record: Mapping[str, Any]) -> tuple[pd.Timestamp, str, str] | None:
    """When its air was over, by what in brackets, and the signs to look for; None where it goes on or nobody knows."""
    signs = (now.look_for if now is not None else "") or record.get("look_for", "")
    if now is not None and now.level >= Level.WATCH:
        return None if now.ended is None else (now.ended, state.by_words(now.ended_by), signs)
    if record.get("ended"):
        return pd.Timestamp(record["ended"]), state.by_words(record.get("ended_by")), signs
    if now is None or now.level is not Level.CLEAR:
        return None
    return max(line.verdict.start, pd.Timestamp(record.get("until") or line.verdict.start)), "", signs


def _current(line: PaintingLine, record: Mapping[str, Any]) -> Finding | None:
    key = record["hazard"], record["mechanism"]
    return next((f for f in line.verdict.findings if state.key_of(f) == key), None)
