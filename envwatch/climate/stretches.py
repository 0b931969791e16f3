"""The rule of a spell, stated once: an hour belongs with hours before it that passed a limit as long as

- no dry stretch between them is longer than `SPELL_BRIDGES_H`, and
- counted back from it over any length, at least half of the hours passed. So at least half of a spell's hours did, and
  a spell that was damp long ago does not go on through air that is mostly dry.

More hours that pass never make the longest spell shorter: what was a spell stays one. Spells lie apart or inside one
another, so the outermost tell all. A stretch not read up to `SPELL_UNREAD_H` between two hours that passed is held to
have passed (`held`). What such hours are worth is told apart: the least (not read is dry), the most (not read is damp).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.core.arrays import Array, ArrayLike, Mask, Whole
from envwatch.figures import mould as fig
from envwatch.figures.coverage import SPELL_BRIDGES_H, SPELL_UNREAD_H

HOUR = pd.Timedelta(hours=1)


@dataclass(frozen=True)
class Spell:
    """A stretch over (or under) a limit, by the rule above."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float  # hours that passed the limit and were read; breaks are not counted
    unread_h: float = 0.0  # hours not read that are held to have passed it too


def rows_of_spells(
    passed: ArrayLike, bridge_h: float = SPELL_BRIDGES_H, half: bool = True
) -> tuple[Whole, Whole, Whole]:
    """Outermost spells of an hourly condition by row, in order; without `half` by their breaks alone.

    (n,) of bool -> first row, last row, and hours that truly passed; each (k,).

    >>> [a.tolist() for a in rows_of_spells([False, True, True, False, True], bridge_h=0)]
    [[1, 4], [2, 4], [2, 1]]
    >>> [a.tolist() for a in rows_of_spells([True, True, False, False, True, True, False, False, True])]
    [[0, 8], [5, 8], [4, 1]]
    """
    at, first = _spell_starts(passed, bridge_h, half)
    if not len(at):
        return at, at, at
    last = np.append(np.minimum.accumulate(first[::-1])[::-1][1:] > np.arange(len(at) - 1), True)
    return at[first[last]], at[last], np.flatnonzero(last) - first[last] + 1


def hours_in_spell(passed: ArrayLike, bridge_h: float = SPELL_BRIDGES_H) -> Whole:
    """Hours that passed the limit in the longest spell that ends with each row; 0 in rows that do not pass it.

    (n,) of bool -> (n,) [h]

    >>> hours_in_spell([True, True, False, True, False, False, True], bridge_h=1).tolist()
    [1, 2, 0, 3, 0, 0, 1]
    """
    at, first = _spell_starts(passed, bridge_h)
    made = np.zeros(np.shape(passed), np.int64)
    made[at] = np.arange(len(at)) - first + 1
    return made


def held(passed: ArrayLike, unread: ArrayLike, up_to_h: float = SPELL_UNREAD_H) -> Mask:
    """A condition that is held to go on through short stretches not read, between two hours that passed.

    (n,) of bool, twice -> (n,) of bool. Source: our judgement, see `figures.coverage`.

    >>> held([True, False, False, True, False], [False, True, True, False, True]).tolist()
    [True, True, True, True, False]
    """
    passed = np.asarray(passed, bool)
    edge = np.diff(np.asarray(unread, np.int8), prepend=0, append=0)
    first, stop = np.flatnonzero(edge > 0), np.flatnonzero(edge < 0)
    inside = (first > 0) & (stop < len(passed)) & (stop - first <= up_to_h)
    first, stop = first[inside], stop[inside]
    between = passed[first - 1] & passed[stop]
    step = np.zeros(len(passed) + 1, int)
    step[first[between]], step[stop[between]] = 1, -1
    return passed | (np.cumsum(step)[:-1] > 0)


def spells(
    time: pd.DatetimeIndex, passed: ArrayLike, bridge_h: float = SPELL_BRIDGES_H, after: pd.Timestamp | None = None,
    unread: ArrayLike | None = None, half: bool = True,
) -> list[Spell]:  # fmt: skip
    """Spells of a condition on an hourly record, by the rule of this module.

    Parameters
    ----------
    time : (n,) whole hours, regular.
    passed : (n,) true where the condition holds; false where it does not or nothing was read.
    after : leave out the spells that had ended by then.
    unread : (n,) true where nothing was read. Left out: not read is as dry.
    half : without it only breaks end a spell. For since when something keeps coming back, never for how long it was.
    """
    passed = np.asarray(passed, bool)
    first, last, hours = rows_of_spells(passed if unread is None else held(passed, unread), bridge_h, half)
    if len(last) and after is not None:
        late = last >= time.searchsorted(after - HOUR, side="right")
        first, last, hours = first[late], last[late], hours[late]
    if not len(last):
        return []
    read = np.append(0, np.cumsum(passed))
    read = read[last + 1] - read[first]
    return [
        Spell(a, b, float(n), float(m))
        for a, b, n, m in zip(time[first], time[last] + HOUR, read, hours - read, strict=True)
    ]


def _spell_starts(passed: ArrayLike, bridge_h: float, half: bool = True) -> tuple[Whole, Whole]:
    """Rows that passed, and for each the place among them of the first of the longest spell that ends there; (k,).

    That at least half of the rows passed, counted back over any length, is a walk that goes up a step for a row that
    passed and down one for another: counting back is good as far as the walk was no higher than it stands now. So it
    ends at the last step down from above to where it stands: the last before it, in walk order, among the steps that
    end at its height.
    """
    passed = np.asarray(passed, bool)
    at = np.flatnonzero(passed)
    if not len(at):
        return at, at
    dry = np.diff(at, prepend=at[0] - 1) - 1  # dry rows before each
    begin = np.maximum.accumulate(np.where(dry > bridge_h, np.arange(len(at)), 0))
    if not half or not dry.any():
        return at, begin
    short = np.minimum(dry, np.floor(bridge_h).astype(int) + 1)  # of a break that ends a spell anyhow no more is needed
    up = np.arange(len(at)) + np.cumsum(short)
    rises = np.zeros(up[-1] + 1, bool)
    rises[up] = True
    height = np.cumsum(np.where(rises, 1, -1))
    height = height.astype(np.int16) if np.abs(height).max() < 2**15 else height  # short numbers are sorted faster
    order = np.argsort(height, kind="stable")
    down = np.maximum.accumulate(np.where(rises[order], -1, np.arange(len(order))))
    ends = np.empty(len(order), int)
    ends[order] = np.where((down >= 0) & (height[order] == height[order[down]]), order[down], -1)
    return at, np.maximum(begin, np.searchsorted(up, ends[up], side="right"))


def hours_over(rh_percent: ArrayLike, hours: ArrayLike, limits_percent: Sequence[float] = fig.DAMP_LEVELS) -> Array:
    """Time over each of some humidities.

    Parameters
    ----------
    rh_percent : (..., n), time on the last axis, NaN where not read. [% RH]
    hours : scalar or broadcast to the humidity, time each reading stands for. [h]
    limits_percent : (k,) exclusive limits.

    Returns
    -------
    (..., k) hours; missing readings add nothing. [h]

    Source: a count; the limits are anchored on publications, see `figures.mould`.

    >>> hours_over([64.0, 66.0, 81.0, float("nan")], 1.0).tolist()
    [2.0, 1.0, 1.0, 1.0]
    """
    over = np.asarray(rh_percent, np.float64)[..., None, :] > np.array([float(x) for x in limits_percent])[:, None]
    total: Array = (over * np.broadcast_to(hours, np.shape(rh_percent))[..., None, :]).sum(-1)
    return total
