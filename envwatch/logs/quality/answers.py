"""A person's answers to quality marks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from envwatch.core.place import Answer
from envwatch.core.readings import Series
from envwatch.logs.quality import marks
from envwatch.logs.quality.marks import DRIFT

if TYPE_CHECKING:
    from envwatch.core.place import MarkDecision

OUT, GOOD = Answer


OF_TEMP, OF_RH = marks.TEMP_ODD, marks.RH_ODD | marks.SATURATED  # marks of one quantity alone


def answered(
    rows: Series, answers: Sequence[MarkDecision], channel: str, temp_c: np.ndarray, rh_percent: np.ndarray,
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
    if not answers:
        return temp_c, rh_percent, np.zeros(len(rows.time), bool), ()
    counts = counting(rows, answers, channel, "", drift)
    out = np.isin(counts, [n for n, answer in enumerate(answers) if answer.answer == OUT])
    temp_c = np.where(out & ~_only(rows, OF_RH, drift), np.nan, temp_c)
    rh_percent = np.where(out & ~_only(rows, OF_TEMP, False), np.nan, rh_percent)
    told = tuple(
        f"{int(n):,} readings {answers[at].sentence}"
        for at, n in zip(*np.unique(counts[told_of][counts[told_of] >= 0], return_counts=True), strict=True)
    )
    return temp_c, rh_percent, (counts >= 0) & ~out, told


def counting(rows: Series, answers: Sequence[MarkDecision], channel: str, mark: str, drift: np.ndarray) -> np.ndarray:
    """Which answer counts for each reading with a mark, by its place among the answers; -1 where none does. (n,)"""
    counts = np.full(len(rows.time), -1)
    for n, answer in enumerate(answers):
        if answer.channel in ("", channel) and (not mark or answer.mark in ("", mark)):
            counts[_within(rows, answer) & bearing(rows, answer.mark, drift)] = n
    return counts


def _only(rows: Series, bits: int, drift: np.ndarray | bool) -> np.ndarray:
    """Rows whose marks are of one quantity alone, so that the other one stays; a drift is of humidity."""
    suspect = rows.marks & marks.SUSPECT
    return ((suspect != 0) | drift) & ((suspect & ~np.uint16(bits)) == 0)


def _within(rows: Series, answer: MarkDecision) -> np.ndarray:
    inside = rows.time >= answer.start.value // 1000
    return inside if answer.end is None else inside & (rows.time < answer.end.value // 1000)


def bearing(rows: Series, mark: str, drift: np.ndarray) -> np.ndarray:
    if mark == DRIFT:
        return drift
    bits = marks.SUSPECT if not mark else next(bit for bit, name in marks.NAMES.items() if name == mark)
    bears = (rows.marks & bits) != 0
    return bears if mark else bears | drift
