"""Hourly means, and means and ranges over running windows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike, Mask, Whole
from envwatch.figures.coverage import GAP_LIKE_WITHIN_H, HOUR_NEEDS, STAMP_TELLS_H, WINDOW_NEEDS

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
