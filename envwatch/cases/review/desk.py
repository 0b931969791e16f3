"""What a person does at the desk besides reading: tick a task, put it off, keep a review, sort findings by layer."""

from __future__ import annotations

import pandas as pd

from envwatch.archive import Studio, reviews
from envwatch.archive.reviews import Task
from envwatch.cases.review import Review, TaskLine
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.period import given


def tick(studio: Studio, due: TaskLine, word: str, now: pd.Timestamp) -> Task:
    """Close a task with a word on what was done, raising it first where its review was not kept.

    Raises
    ------
    BadInput : no word. NotThere : a task without a number, which nobody raised.
    """
    if not (word or "").strip():
        raise BadInput("say in a word or two what was done", field="word")
    return reviews.close_task(studio, _raised(studio, due, now), word.strip(), now)


def put_off(studio: Studio, due: TaskLine, until: str, reason: str, now: pd.Timestamp) -> Task:
    """Put a task off until a day, with a reason. BadInput: no reason, or a day that is not later than today."""
    if not (reason or "").strip():
        raise BadInput("reason: say why it can wait", field="reason")
    day = given(until or "", "until").tz_localize(studio.zone).tz_convert("UTC")
    if day <= now:
        raise BadInput("give a day after today", field="until", seen=until)
    number = _raised(studio, due, now)
    return reviews.put_off(studio, number, reason.strip(), day)


def _raised(studio: Studio, due: TaskLine, now: pd.Timestamp) -> int:
    if due.number is None:
        raise NotThere("this one is cleared by an observation on the painting")
    reviews.raise_task(studio, due.number, due.painting_id, due.what, due.on, now)
    return due.number


def settled(studio: Studio, shown: Review) -> dict[int, str]:
    """What was closed or put off since a review's period began: a sentence by the task's number."""
    out: dict[int, str] = {}
    for task in reviews.tasks(studio, open_only=False):
        if task.closed_on is not None and task.closed_on >= shown.period.start:
            out[task.number] = f"done: {task.note}"
        elif task.put_off_until is not None and task.put_off_until > shown.made_at:
            out[task.number] = f"put off until {task.put_off_until.tz_convert(studio.zone).date()}: {task.note}"
        else:
            out.pop(task.number, None)
    return out


__all__ = [
    "put_off", "settled", "tick", ]  # fmt: skip
