"""Regular hours: the means of readings, the windows that run over them, and the spells in which they pass a limit.

The rule of a spell, stated once here: an hour belongs with hours before it that passed a limit as long as

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
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike, Mask, Whole
from envwatch.figures import mould as fig
from envwatch.figures.coverage import (
    GAP_LIKE_WITHIN_H,
    HOUR_NEEDS,
    SPELL_BRIDGES_H,
    SPELL_UNREAD_H,
    STAMP_TELLS_H,
    WINDOW_NEEDS,
)

HOUR = pd.Timedelta(hours=1)
HOUR_US = 3_600_000_000


@dataclass(frozen=True, eq=False)
class Hourly:
    """Time-weighted means on whole UTC hours; NaN where less than half of the hour was read."""

    time: pd.DatetimeIndex
    temp_c: Array
    rh_percent: Array
    temp_max_c: Array  # highest single reading in the hour


@lru_cache(maxsize=8)  # what is judged asks for the hours of one climate several times in a row
def hourly(climate: Climate) -> Hourly:
    """Hourly means of a climate over its whole span.

    Returns
    -------
    One row for each UTC hour that the span touches. A reading is counted in the hour of its stamp; one that stands
    for more than `STAMP_TELLS_H` (a slow logger) in the hours it stands for, as far as it does.

    >>> c = Climate.of(pd.date_range("2026-01-05", periods=4, freq="30min", tz="UTC"), [18, 20, 19, 19], [50] * 4)
    >>> hourly(c).temp_c.tolist()
    [19.0, 19.0]
    """
    first_us = climate.start.value // 1000 // HOUR_US * HOUR_US
    count = max(-((first_us * 1000 - climate.end.value) // (HOUR_US * 1000)), 0)
    time = pd.DatetimeIndex((first_us + HOUR_US * np.arange(count)).view("M8[us]"), tz="UTC")
    at, hours, rows, peak = _by_hour(climate.time.asi8 - first_us, climate.hours)
    temp_c, rh_percent = climate.temp_c[rows], climate.rh_percent[rows]
    if len(at) and not (at.min() >= 0 and at.max() < count):
        inside = (at >= 0) & (at < count)
        at, hours, peak = at[inside], hours[inside], peak[inside]
        temp_c, rh_percent = temp_c[inside], rh_percent[inside]
    found = []
    for values in (temp_c, rh_percent):
        weight = np.bincount(at, np.where(np.isfinite(values), hours, 0.0), count)
        total = np.bincount(at, np.where(np.isfinite(values), hours * values, 0.0), count)
        mean = np.round(total / np.maximum(weight, 1e-12), 9)  # equal readings make that very mean, at any step
        found.append(np.where(weight >= HOUR_NEEDS - 1e-9, mean, np.nan))
    highest = np.full(count, -np.inf)
    peak = peak & np.isfinite(temp_c)
    np.maximum.at(highest, at[peak], temp_c[peak])
    found.append(np.where(np.isfinite(highest), highest, np.nan))
    for values in found:
        values.flags.writeable = False  # they are shared
    return Hourly(time, *found)


def _by_hour(time_us: Whole, hours: Array) -> tuple[Whole, Array, Whole | slice, Mask]:
    """The pieces of readings by hour: hour, length [h], reading, and whether the reading's peak is told there.

    (n,) [µs since the first hour], (n,) [h]. A peak is told in the hour of its stamp, and where it fills over half.
    """
    hour, last = time_us // HOUR_US, time_us // HOUR_US
    slow = np.flatnonzero(hours > STAMP_TELLS_H)
    last[slow] = (time_us[slow] + np.round(hours[slow] * HOUR_US).astype(np.int64) - 1) // HOUR_US
    pieces = np.maximum(last - hour, 0) + 1
    if (pieces == 1).all():
        return hour, hours, slice(None), np.ones(len(hour), bool)
    rows, ahead = np.repeat(np.arange(len(hour)), pieces), np.arange(pieces.sum())
    ahead -= np.repeat(np.cumsum(pieces) - pieces, pieces)
    at, begin_h = hour[rows] + ahead, time_us[rows] / HOUR_US
    length = np.minimum(begin_h + hours[rows], at + 1) - np.maximum(begin_h, at)
    length = np.where(pieces[rows] > 1, length, hours[rows])
    return at, length, rows, (ahead == 0) | (length > 0.5)


def running_mean(values: ArrayLike, window_h: int, need: float = WINDOW_NEEDS) -> Array:
    """Trailing mean of hourly values over `window_h` hours, the present hour included.

    Parameters
    ----------
    values : (..., n) regular hourly values, time on the last axis, NaN where nothing was read.
    window_h : length of the window, 1 or more. [h]
    need : share of the window that must have been read.

    Returns
    -------
    (..., n). NaN until one full window has passed, and where more of it than `1 - need` is missing; a missing hour
    itself has a mean where the rest of its window was read.

    Raises
    ------
    ValueError : a window under one hour.

    Source: a plain mean; the share that must have been read is our judgement.

    >>> running_mean([1.0, 2.0, 3.0, 4.0], 2).tolist()
    [nan, 1.5, 2.5, 3.5]
    """
    values = np.asarray(values, np.float64)
    if values.shape[-1] < window_h:
        return np.full(values.shape, np.nan)
    read = np.isfinite(values)
    if read.all():
        mean = _windows(values, window_h) / window_h
        mean[..., : window_h - 1] = np.nan
        return mean
    count = _windows(read, window_h)
    enough = count >= max(need * window_h - 1e-9, 1)
    enough[..., : window_h - 1] = False
    return np.where(enough, _windows(np.where(read, values, 0.0), window_h) / np.maximum(count, 1), np.nan)


def _windows(values: Array | Mask, window_h: int) -> NDArray[Any]:
    """Sum of each trailing window; of what there is, where the record begins."""
    if window_h < 1:
        raise ValueError(f"a window of {window_h} hours; give 1 or more")
    total: NDArray[Any] = np.cumsum(values, axis=-1)
    total[..., window_h:] -= total[..., :-window_h].copy()
    return total


def running_range(
    values: ArrayLike, window_h: int, need: float = WINDOW_NEEDS, highest: ArrayLike | None = None
) -> Array:
    """Largest less smallest hourly value in each trailing window.

    Parameters, missing data (NaN) and errors as in `running_mean`: (..., n) -> (..., n). `highest`: where each hour
    lies anywhere between two series, the upper of them, NaN in the same hours; then the widest range there may be.

    Source: a plain range; the share that must have been read is our judgement.

    >>> running_range([1.0, 4.0, 2.0, 2.0], 2).tolist(), running_range([1.0, 3.0, 2.0], 2, highest=[1, 5, 2]).tolist()
    ([nan, 3.0, 2.0, 0.0], [nan, 4.0, 3.0])
    """
    values = np.asarray(values, np.float64)
    least, most = running_extremes(values, window_h)
    if highest is not None:
        most = running_extremes(highest, window_h)[1]
    read, spread = np.isfinite(values), most - least
    if not read.all():
        spread = np.where(_windows(read, window_h) >= max(need * window_h - 1e-9, 1), spread, np.nan)
    spread[..., : window_h - 1] = np.nan
    return spread


def running_extremes(values: ArrayLike, window_h: int) -> tuple[Array, Array]:
    """Smallest and largest value of each trailing window, of as much of it as there is.

    Parameters
    ----------
    values : (..., n) regular hourly values, time on the last axis, NaN where nothing was read: left out.
    window_h : length of the window, 1 or more. [h]

    Returns
    -------
    (..., n) and (..., n); NaN where nothing of the window was read.

    Raises
    ------
    ValueError : a window under one hour.

    Source: a plain minimum and maximum, through scipy.ndimage.

    >>> [a.tolist() for a in running_extremes([3.0, 1.0, float("nan"), 2.0], 2)]
    [[3.0, 1.0, 1.0, 2.0], [3.0, 3.0, 1.0, 2.0]]
    """
    from scipy import ndimage  # heavy: only where something is judged

    values = np.asarray(values, np.float64)
    if window_h < 1:
        raise ValueError(f"a window of {window_h} hours; give 1 or more")
    if not values.size:
        return values.copy(), values.copy()
    gap, back = np.isnan(values), (window_h - 1) // 2
    least, most = np.where(gap, np.inf, values), np.where(gap, -np.inf, values)
    least = ndimage.minimum_filter1d(least, window_h, mode="constant", cval=np.inf, origin=back)
    most = ndimage.maximum_filter1d(most, window_h, mode="constant", cval=-np.inf, origin=back)
    return np.where(np.isinf(least), np.nan, least), np.where(np.isinf(most), np.nan, most)


def worst_about(values: ArrayLike, sign: int = 1, within_h: int = int(GAP_LIKE_WITHIN_H)) -> Array:
    """The worst that was read within some hours before and after each hour.

    Parameters, errors and source as in `worst_in_gaps`: (n,) regular hourly values, NaN where nothing was read.

    Returns
    -------
    (n,); NaN where nothing was read so near.

    >>> worst_about([20.0, 30.0, float("nan"), 25.0], within_h=1).tolist()
    [30.0, 30.0, 30.0, 25.0]
    """
    from scipy import ndimage  # heavy: only where something is judged

    known = sign * np.asarray(values, np.float64)
    if not known.size:
        return known
    known = np.where(np.isnan(known), -np.inf, known)
    worst = ndimage.maximum_filter1d(known, 2 * within_h + 1, mode="constant", cval=-np.inf)
    return np.where(np.isinf(worst), np.nan, sign * worst)


def worst_in_gaps(values: ArrayLike, sign: int = 1, within_h: int = int(GAP_LIKE_WITHIN_H)) -> Array:
    """Hourly values with each gap at the worst that was read within some hours before and after it.

    Parameters
    ----------
    values : (n,) regular hourly values, NaN where nothing was read.
    sign : 1 where higher is worse, -1 where lower is.
    within_h : how far about an hour of a gap is looked. [h]

    Returns
    -------
    (n,); NaN where nothing was read so near.

    Source: how far about a gap is looked is our judgement.

    >>> worst_in_gaps([20.0, 30.0, float("nan"), 25.0], within_h=2).tolist()
    [20.0, 30.0, 30.0, 25.0]
    """
    known = np.asarray(values, np.float64)
    gap = np.isnan(known)
    return np.where(gap, worst_about(known, sign, within_h), known) if gap.any() else known.copy()


@dataclass(frozen=True)
class Spell:
    """A stretch over (or under) a limit, by the rule of this module."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float  # hours that passed the limit and were read; breaks are not counted
    unread_h: float = 0.0  # hours not read that are held to have passed it too


def rows_of_spells(
    passed: ArrayLike, bridge_h: float = SPELL_BRIDGES_H, half: bool = True
) -> tuple[Whole, Whole, Whole]:
    """Outermost spells of an hourly condition by row, in order; without `half` by their breaks alone.

    (n,) of bool, False where the value is NaN -> first row, last row, and hours that truly passed; each (k,). Source:
    our judgement, see `figures.coverage`.

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

    (n,) of bool, False where the value is NaN -> (n,) [h]. Source: our judgement, see `figures.coverage`.

    >>> hours_in_spell([True, True, False, True, False, False, True], bridge_h=1).tolist()
    [1, 2, 0, 3, 0, 0, 1]
    """
    at, first = _spell_starts(passed, bridge_h)
    made = np.zeros(np.shape(passed), np.int64)
    made[at] = np.arange(len(at)) - first + 1
    return made


def held(passed: ArrayLike, unread: ArrayLike, up_to_h: float = SPELL_UNREAD_H) -> Mask:
    """A condition that is held to go on through short stretches not read, between two hours that passed.

    (n,) of bool, twice; a NaN is unread -> (n,) of bool. Source: our judgement, see `figures.coverage`.

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
