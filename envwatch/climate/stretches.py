"""Unbroken stretches over or under a limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.figures.coverage import SPELL_BRIDGES_H

HOUR = pd.Timedelta(hours=1)


@dataclass(frozen=True)
class Spell:
    """An unbroken stretch over (or under) a limit."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float  # hours that truly passed the limit; breaks that were bridged are not counted


def rows_of_spells(passed, bridge_h: float = SPELL_BRIDGES_H) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Spells of an hourly condition by row; breaks up to `bridge_h` do not end one.

    (n,) of bool -> first row, last row, and hours that truly passed; each (k,).

    >>> [a.tolist() for a in rows_of_spells([False, True, True, False, True], bridge_h=0)]
    [[1, 4], [2, 4], [2, 1]]
    """
    at = np.flatnonzero(np.asarray(passed, bool))
    if not len(at):
        return at, at, at
    breaks = np.flatnonzero(np.diff(at) - 1 > bridge_h)
    first, last = np.append(0, breaks + 1), np.append(breaks, len(at) - 1)
    return at[first], at[last], last - first + 1


def hours_in_spell(passed, bridge_h: float = SPELL_BRIDGES_H) -> np.ndarray:
    """Hours of the spell of `rows_of_spells` that have passed the limit by each row; 0 in rows that do not pass it.

    (n,) of bool -> (n,) [h]

    >>> hours_in_spell([True, True, False, True, False, False, True], bridge_h=1).tolist()
    [1, 2, 0, 3, 0, 0, 1]
    """
    passed = np.asarray(passed, bool)
    at, made = np.flatnonzero(passed), np.zeros(len(passed), int)
    first = np.searchsorted(at, rows_of_spells(passed, bridge_h)[0])
    made[at] = np.arange(len(at)) - np.repeat(first, np.diff(np.append(first, len(at)))) + 1
    return made


def spells(
    time: pd.DatetimeIndex, passed, bridge_h: float = SPELL_BRIDGES_H, after: pd.Timestamp | None = None
) -> list[Spell]:
    """Spells of a condition on an hourly record; breaks up to `bridge_h` do not end one.

    Parameters
    ----------
    time : (n,) whole hours, regular.
    passed : (n,) true where the condition holds; false where it does not or nothing was read.
    after : leave out the spells that had ended by then.
    """
    first, last, hours = rows_of_spells(passed, bridge_h)
    if len(last) and after is not None:
        late = last >= time.searchsorted(after - HOUR, side="right")
        first, last, hours = first[late], last[late], hours[late]
    if not len(last):
        return []
    return [Spell(a, b, float(n)) for a, b, n in zip(time[first], time[last] + HOUR, hours, strict=True)]
