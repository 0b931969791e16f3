"""Marked readings, and what a person answered about them.

A suspect reading stays in and the finding says so. Only a person's dated answer changes that: "out" takes the marked
readings out, and they count as missing from then on; "good" says that they can be believed, and they are no longer
doubted. An answer touches marked readings and no others; the readings themselves, and their marks, stay as they are.
Of two answers about one reading the later one counts.
"""

from __future__ import annotations

import getpass
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from sqlalchemy import delete

from envwatch.archive.climates.deployments import channels_of
from envwatch.archive.climates.drift import drifted
from envwatch.archive.register.edit import When, checked, day_at, put_row, row_of
from envwatch.archive.store import tables
from envwatch.archive.store.records import require_id
from envwatch.core.dates import day_end, instant
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.place import MarkDecision
from envwatch.core.readings import Series
from envwatch.logs.quality import marks
from envwatch.logs.quality.answers import OUT, bearing, counting
from envwatch.logs.quality.marks import MARKS

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

NO_MARK, DOUBTED, FOUND_GOOD, TAKEN_OUT = range(4)
TOGETHER_H = 6  # marked readings no farther apart are told as one stretch


@dataclass(frozen=True)
class MarkedSpan:
    """A stretch of one logger's readings that bear one mark, and the answer that counts for them.

    `start`, `end`: its first and last reading. `answer` is None until a person gave one.
    """

    logger: str
    name: str
    channel: str
    mark: str
    start: pd.Timestamp
    end: pd.Timestamp
    readings: int
    answer: MarkDecision | None = None


def mark_states(studio: StudioFolder, logger: str, channel: str, rows: Series) -> np.ndarray:
    """How each reading stands: `NO_MARK`, `DOUBTED`, or as a person answered `FOUND_GOOD` or `TAKEN_OUT`. (n,)"""
    drift = drifted(studio, logger, channel, rows.time)
    answers = studio.register().mark_answers.get(logger, ())
    counts = counting(rows, answers, channel, "", drift)
    said = np.array([DOUBTED, *(TAKEN_OUT if answer.answer == OUT else FOUND_GOOD for answer in answers)])
    return np.where(bearing(rows, "", drift), said[counts + 1], NO_MARK)


def doubts(
    studio: StudioFolder, start: pd.Timestamp, end: pd.Timestamp, logger: str | None = None
) -> tuple[MarkedSpan, ...]:
    """All stretches of suspect readings in [start, end), by logger, probe and time, each with what was answered."""
    chosen = studio.loggers() if logger is None else {require_id("logger", logger, studio.loggers()): None}
    out: list[MarkedSpan] = []
    for id in chosen:
        for channel, rows in channels_of(studio, id, start, end).items():
            out += _stretches(studio, id, channel, rows)
    return tuple(sorted(out, key=lambda doubt: (doubt.logger, doubt.channel, doubt.start)))


def _stretches(studio: StudioFolder, logger: str, channel: str, rows: Series) -> Iterator[MarkedSpan]:
    drift = drifted(studio, logger, channel, rows.time)
    answers = studio.register().mark_answers.get(logger, ())
    for mark in MARKS:
        at = np.flatnonzero(bearing(rows, mark, drift))
        if not len(at):
            continue
        counts = counting(rows, answers, channel, mark, drift)[at]
        apart = np.diff(rows.time[at]) > TOGETHER_H * marks.HOUR_US
        for piece in np.split(np.arange(len(at)), np.flatnonzero(apart | (np.diff(counts) != 0)) + 1):
            first, last = (pd.Timestamp(int(rows.time[at[n]]), unit="us", tz="UTC") for n in (piece[0], piece[-1]))
            said = answers[counts[piece[0]]] if counts[piece[0]] >= 0 else None
            yield MarkedSpan(logger, studio.loggers()[logger].name, channel, mark, first, last, len(piece), said)


__all__ = [
    "DOUBTED", "FOUND_GOOD", "MARKS", "NO_MARK", "OUT", "TAKEN_OUT", "MarkedSpan", "doubts",
    "mark_states",
]  # fmt: skip


def answer_marks(
    studio: StudioFolder, logger_id: str, answer: str, start: When, end: When | None, *, because: str, mark: str = "",
    channel: str = "", by: str = "",
) -> MarkDecision:  # fmt: skip
    """Record what a person says about marked readings. See `Studio.answer_marks`."""
    require_id("logger", logger_id, studio.loggers())
    where = f"answer about {logger_id}"
    if not because.strip():
        raise BadInput("say why; the reason is kept with it", place=where, field="because")
    row = row_of("mark_answers", where, logger=logger_id, channel=channel, mark=mark, answer=answer,
               by=by.strip() or _me(), on=pd.Timestamp.now(studio.zone).strftime("%Y-%m-%d"), because=because,
               **{"from": day_at(start, studio.zone, where, "from"),
                  "to": day_at(end, studio.zone, where, "to")})  # fmt: skip
    first = instant(row["from"], studio.zone)
    last = _FAR if not row["to"] else day_end(instant(row["to"], studio.zone), studio.zone)
    marked = [d for d in doubts(studio, first, last, logger_id)
              if channel in ("", d.channel) and row["mark"] in ("", d.mark)]  # fmt: skip
    if not marked:
        raise BadInput(f"no reading in that time bears {f'the mark {mark}' if mark else 'a mark'}; "
                       f"see them with: envwatch marks {logger_id}",
                       place=where, field="mark" if mark else "from")  # fmt: skip
    with studio.writing("answering a mark"), studio.saving() as connection:
        put_row(connection, tables.MARK_ANSWERS, row)
        checked(studio, connection)
    return studio.register().mark_answers[logger_id][-1]


_FAR = pd.Timestamp("2200-01-01", tz="UTC")


def _me() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # no user name in this environment
        return "someone"


def withdraw_answer(studio: StudioFolder, number: int) -> None:
    """Take an answer about marked readings back. See `Studio.withdraw_answer`."""
    known = {a.number for answers in studio.register().mark_answers.values() for a in answers}
    if number not in known:
        raise NotThere(f"no answer {number}; envwatch marks shows the numbers of those there are")
    with studio.writing("taking back an answer"), studio.saving() as connection:
        connection.execute(delete(tables.MARK_ANSWERS).where(tables.MARK_ANSWERS.c.id == number))
