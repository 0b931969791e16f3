"""What is to be done about one painting, in one order by day: its deed, its drying course, what treatments make due."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from envwatch.cases.review.model import PaintingLine, Review, TaskLine
from envwatch.core.findings import Finding
from envwatch.core.text import date, fold
from envwatch.core.words import Word

TENSION = ("restretch", "keying out")  # how what is due begins that waits until a damp canvas is back


class Kind(Word):
    """Where a step comes from."""

    DO, DRYING, DUE = "do", "dry back", "due"


@dataclass(frozen=True)
class PlanStep:
    """One step. `on`: by which day, None where none is set; `due`: the task that it ticks."""

    kind: Kind
    on: pd.Timestamp | None
    what: str
    due: TaskLine | None = None
    note: str = ""  # how the task stands: "carried over", "was due; no look recorded"


def plan(line: PaintingLine, tasks: Iterable[TaskLine], zone: str) -> tuple[PlanStep, ...]:
    """The steps of one painting, by day; what has none comes last.

    What stretches the canvas waits for the end of a drying course, whatever day its treatment set for it.
    """
    mine = [due for due in tasks if due.painting_id == line.id]
    finding = line.headline
    own = next((due for due in mine if finding is not None and due.number == finding.number is not None), None)
    steps = [] if finding is None else [_deed(finding, own)]
    steps += [_held(line, due, zone) for due in mine if due is not own]
    if line.drying is not None:
        course = line.drying.course
        steps.append(
            PlanStep(Kind.DRYING, course.steps[0].by if course and course.steps else None, line.drying.sentence)
        )
    return tuple(sorted(steps, key=lambda step: (step.on is None, step.on.value if step.on is not None else 0)))


def _deed(finding: Finding, due: TaskLine | None) -> PlanStep:
    """What is done about what leads; where its task says the same and more, in the task's words."""
    if due is None:
        return PlanStep(Kind.DO, finding.by, finding.do)
    on, now, raised = due.on if due.on is not None else finding.by, fold(finding.do), fold(due.what)
    if now in raised or raised in now:
        return PlanStep(Kind.DO, on, max(finding.do, due.what, key=len), due, due.words)
    note = "; ".join(part for part in (due.words, f"raised as: {due.what}") if part)
    return PlanStep(Kind.DO, on, finding.do, due, note)


def _held(line: PaintingLine, due: TaskLine, zone: str) -> PlanStep:
    steps = line.drying.course.steps if line.drying is not None and line.drying.course is not None else ()
    if not steps or due.on is None or due.on >= steps[-1].by or not due.what.startswith(TENSION):
        return PlanStep(Kind.DUE, due.on, due.what, due, due.words)
    note = f"due {date(due.on, zone)} by its treatment, but not before the canvas is back"
    return PlanStep(Kind.DUE, steps[-1].by, due.what, due, note)


def unplanned(review: Review) -> tuple[TaskLine, ...]:
    """What is due besides the plans of the paintings that ask for somebody."""
    planned = {line.id for line in review.trouble}
    return tuple(due for due in review.tasks if due.painting_id not in planned)
