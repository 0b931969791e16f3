"""Marked readings, and what a person answered about them.

A suspect reading stays in and the finding says so. Only a person's dated answer changes that: "out" takes the marked
readings out, and they count as missing from then on; "good" says that they can be believed, and they are no longer
doubted. An answer touches marked readings and no others; the readings themselves, and their marks, stay as they are.
Of two answers about one reading the later one counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from envwatch.archive.csv_io import ANSWERS, DRIFT, MARKS
from envwatch.archive.drifting import drifted
from envwatch.archive.rules import the
from envwatch.archive.series import Series
from envwatch.logs import quality

if TYPE_CHECKING:
    from envwatch.archive.register import MarkAnswer
    from envwatch.archive.studio import Studio

OUT, GOOD = ANSWERS
OF_TEMP, OF_RH = quality.TEMP_ODD, quality.RH_ODD | quality.SATURATED  # marks of one quantity alone
NO_MARK, DOUBTED, FOUND_GOOD, TAKEN_OUT = range(4)
TOGETHER_H = 6  # marked readings no farther apart are told as one stretch


@dataclass(frozen=True)
class Doubt:
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
    answer: MarkAnswer | None = None


def answered(
    rows: Series, answers: Sequence[MarkAnswer], channel: str, temp_c: np.ndarray, rh_percent: np.ndarray,
    drift: np.ndarray, told_of: slice = slice(None),
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:  # fmt: skip
    """What the answers make of one probe's rows.

    Parameters
    ----------
    temp_c, rh_percent : (n,) as they would count without the answers. [°C], [% RH]
    drift : (n,) rows that are doubted for drifting from a neighbour.
    told_of : the rows that the sentences count.

    Returns
    -------
    (temp_c, rh_percent, believed, told): what was taken out is NaN; `believed`, (n,), marks that a person lifted;
    a sentence for each answer that touched a reading.
    """
    counts = counting(rows, answers, channel, "", drift)
    out = np.isin(counts, [n for n, answer in enumerate(answers) if answer.answer == OUT])
    temp_c = np.where(out & ~_only(rows, OF_RH, drift), np.nan, temp_c)
    rh_percent = np.where(out & ~_only(rows, OF_TEMP, False), np.nan, rh_percent)
    told = tuple(
        f"{int(n):,} readings {answers[at].sentence}"
        for at, n in zip(*np.unique(counts[told_of][counts[told_of] >= 0], return_counts=True), strict=True)
    )
    return temp_c, rh_percent, (counts >= 0) & ~out, told


def counting(rows: Series, answers: Sequence[MarkAnswer], channel: str, mark: str, drift: np.ndarray) -> np.ndarray:
    """Which answer counts for each reading with a mark, by its place among the answers; -1 where none does. (n,)"""
    counts = np.full(len(rows.time), -1)
    for n, answer in enumerate(answers):
        if answer.channel in ("", channel) and (not mark or answer.mark in ("", mark)):
            counts[_within(rows, answer) & _bears(rows, answer.mark, drift)] = n
    return counts


def standing(studio: Studio, logger: str, channel: str, rows: Series) -> np.ndarray:
    """How each reading stands: `NO_MARK`, `DOUBTED`, or as a person answered `FOUND_GOOD` or `TAKEN_OUT`. (n,)"""
    drift = drifted(studio, logger, channel, rows.time)
    answers = studio.register().mark_answers.get(logger, ())
    counts = counting(rows, answers, channel, "", drift)
    said = np.array([DOUBTED, *(TAKEN_OUT if answer.answer == OUT else FOUND_GOOD for answer in answers)])
    return np.where(_bears(rows, "", drift), said[counts + 1], NO_MARK)


def _only(rows: Series, bits: int, drift: np.ndarray | bool) -> np.ndarray:
    """Rows whose marks are of one quantity alone, so that the other one stays; a drift is of humidity."""
    suspect = rows.marks & quality.SUSPECT
    return ((suspect != 0) | drift) & ((suspect & ~np.uint16(bits)) == 0)


def _within(rows: Series, answer: MarkAnswer) -> np.ndarray:
    inside = rows.time >= answer.start.value // 1000
    return inside if answer.end is None else inside & (rows.time < answer.end.value // 1000)


def _bears(rows: Series, mark: str, drift: np.ndarray) -> np.ndarray:
    if mark == DRIFT:
        return drift
    bits = quality.SUSPECT if not mark else next(bit for bit, name in quality.NAMES.items() if name == mark)
    bears = (rows.marks & bits) != 0
    return bears if mark else bears | drift


def doubts(studio: Studio, start: pd.Timestamp, end: pd.Timestamp, logger: str | None = None) -> tuple[Doubt, ...]:
    """All stretches of suspect readings in [start, end), by logger, probe and time, each with what was answered."""
    from envwatch.archive.climates import channels_of

    chosen = studio.loggers() if logger is None else {the("logger", logger, studio.loggers()): None}
    out: list[Doubt] = []
    for id in chosen:
        for channel, rows in channels_of(studio, id, start, end).items():
            out += _stretches(studio, id, channel, rows)
    return tuple(sorted(out, key=lambda doubt: (doubt.logger, doubt.channel, doubt.start)))


def _stretches(studio: Studio, logger: str, channel: str, rows: Series) -> Iterator[Doubt]:
    drift = drifted(studio, logger, channel, rows.time)
    answers = studio.register().mark_answers.get(logger, ())
    for mark in MARKS:
        at = np.flatnonzero(_bears(rows, mark, drift))
        if not len(at):
            continue
        counts = counting(rows, answers, channel, mark, drift)[at]
        apart = np.diff(rows.time[at]) > TOGETHER_H * quality.HOUR_US
        for piece in np.split(np.arange(len(at)), np.flatnonzero(apart | (np.diff(counts) != 0)) + 1):
            first, last = (pd.Timestamp(int(rows.time[at[n]]), unit="us", tz="UTC") for n in (piece[0], piece[-1]))
            said = answers[counts[piece[0]]] if counts[piece[0]] >= 0 else None
            yield Doubt(logger, studio.loggers()[logger].name, channel, mark, first, last, len(piece), said)


__all__ = [
    "ANSWERS", "DOUBTED", "FOUND_GOOD", "GOOD", "MARKS", "NO_MARK", "OUT", "TAKEN_OUT", "Doubt", "answered", "doubts",
    "standing",
]  # fmt: skip
