"""Describing a climate: hourly means, lagged response, running means, spells.

Everything here works on arrays with time on the last axis. NaN is a reading that is not there; it is
never filled in silently, and a window with too many of them is NaN too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.figures import response
from envwatch.figures.coverage import HOUR_NEEDS, SPELL_BRIDGES_H, WINDOW_NEEDS
from envwatch.records import Climate, Painting


@dataclass(frozen=True, eq=False)
class Hourly:
    """Time-weighted means on whole UTC hours; NaN where less than half of the hour was read."""

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray
    temp_max_c: np.ndarray  # highest single reading in the hour


def hourly(climate: Climate) -> Hourly:
    """Hourly means of a climate over its whole span.

    Returns
    -------
    One row for each UTC hour that the span touches. A reading is counted in the hour of its stamp;
    a reading that stands for more than an hour (a slow logger) fills the hours it stands for.

    >>> c = Climate.of(pd.date_range("2026-01-05", periods=4, freq="30min", tz="UTC"), [18, 20, 19, 19], [50] * 4)
    >>> hourly(c).temp_c.tolist()
    [19.0, 19.0]
    """
    first = climate.start.floor("h")
    count = max(int(np.ceil((climate.end - first) / pd.Timedelta(hours=1))), 0)
    time = pd.date_range(first, periods=count, freq="h", tz="UTC")
    at = ((climate.time - first) // pd.Timedelta(hours=1)).to_numpy()
    hours = climate.hours
    slow = hours > 1
    values = np.vstack([climate.temp_c, climate.rh_percent])
    if slow.any():  # spread a slow reading over the hours it stands for
        copies = np.maximum(np.ceil(hours - 1e-9).astype(int), 1)
        first_copy = np.repeat(np.cumsum(copies) - copies, copies)
        at = np.repeat(at, copies) + np.arange(copies.sum()) - first_copy
        values, hours = np.repeat(values, copies, axis=1), np.repeat(hours / copies, copies)
    inside = (at >= 0) & (at < count)
    at, values, hours = at[inside], values[:, inside], hours[inside]
    means = []
    for row in values:
        read = np.isfinite(row)
        weight = np.bincount(at[read], hours[read], count)
        total = np.bincount(at[read], hours[read] * row[read], count)
        means.append(np.where(weight >= HOUR_NEEDS - 1e-9, total / np.maximum(weight, 1e-12), np.nan))
    highest = np.full(count, -np.inf)
    read = np.isfinite(values[0])
    np.maximum.at(highest, at[read], values[0][read])
    return Hourly(time, means[0], means[1], np.where(np.isfinite(highest), highest, np.nan))


def lagged(values, tau_h, step_h=1.0, start: float | None = None, gap_value: float | None = None) -> np.ndarray:
    """First-order response: each step closes the share 1 - exp(-step/tau) of the distance to the air.

    Exact for air that is constant within a step, whatever the step.

    Parameters
    ----------
    values : (n,) what the air did; NaN in a gap.
    tau_h : time constant, a scalar or (n,). [h]
    step_h : length of each step, a scalar or (n,). [h]
    start : the state before the first step; by default the mean of the first three time constants.
    gap_value : what to assume of the air in a gap; by default the state is held.

    Returns
    -------
    (n,) the state at the end of each step; NaN in a gap, where nothing is known of it.

    >>> lagged([30.0] * 48, 24, start=50).round(3)[[23, 47]].tolist()
    [37.358, 32.707]
    """
    values = np.asarray(values, float)
    tau = np.broadcast_to(np.asarray(tau_h, float), values.shape)
    step = np.broadcast_to(np.asarray(step_h, float), values.shape)
    closes = 1 - np.exp(-step / tau)
    read = np.isfinite(values)
    if not read.any():
        return np.full(values.shape, np.nan)
    if start is None:
        early = (np.cumsum(step) <= 3 * tau[0]) & read
        start = float(values[early].mean()) if early.any() else float(values[read][0])
    filled = np.where(read, values, np.nan if gap_value is None else gap_value)
    state, out = start, []
    for value, share in zip(filled.tolist(), closes.tolist(), strict=True):
        if value == value:  # not NaN
            state += share * (value - state)
        out.append(state)
    return np.where(read, out, np.nan)


def lagged_range(values, tau_h, step_h=1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lagged response with what the gaps leave open: (lowest, held, highest), each (n,).

    In a gap the air is taken at the lowest and at the highest value the record has, so the three differ
    after a gap and grow together again.
    """
    values = np.asarray(values, float)
    if not np.isfinite(values).any():
        empty = np.full(values.shape, np.nan)
        return empty, empty, empty
    held = lagged(values, tau_h, step_h)
    low = lagged(values, tau_h, step_h, gap_value=float(np.nanmin(values)))
    high = lagged(values, tau_h, step_h, gap_value=float(np.nanmax(values)))
    return low, held, high


def running_mean(values, window_h: int, need: float = WINDOW_NEEDS) -> np.ndarray:
    """Trailing mean of hourly values over `window_h` hours, the present hour included.

    (n,) -> (n,); NaN until one full window has passed, and where more of it than `1 - need` is missing.

    >>> running_mean([1.0, 2.0, 3.0, 4.0], 2).tolist()
    [nan, 1.5, 2.5, 3.5]
    """
    values = np.asarray(values, float)
    read = np.isfinite(values)
    total = np.cumsum(np.where(read, values, 0.0))
    count = np.cumsum(read)
    if len(values) < window_h:
        return np.full(values.shape, np.nan)
    total[window_h:] -= total[:-window_h].copy()
    count[window_h:] -= count[:-window_h].copy()
    enough = count >= need * window_h - 1e-9
    enough[: window_h - 1] = False
    return np.where(enough, total / np.maximum(count, 1), np.nan)


def running_range(values, window_h: int, need: float = WINDOW_NEEDS) -> np.ndarray:
    """Largest less smallest hourly value in each trailing window. (n,) -> (n,); NaN as in `running_mean`."""
    series = pd.Series(np.asarray(values, float))
    least = max(int(np.ceil(need * window_h)), 1)
    rolling = series.rolling(window_h, min_periods=least)
    spread = (rolling.max() - rolling.min()).to_numpy(copy=True)
    spread[: window_h - 1] = np.nan
    return spread


@dataclass(frozen=True)
class Spell:
    """An unbroken stretch over (or under) a limit."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float  # hours that truly passed the limit; breaks that were bridged are not counted


def spells(time: pd.DatetimeIndex, passed, bridge_h: float = SPELL_BRIDGES_H) -> list[Spell]:
    """Spells of a condition on an hourly record; breaks up to `bridge_h` do not end one.

    Parameters
    ----------
    time : (n,) whole hours, regular.
    passed : (n,) true where the condition holds; false where it does not or nothing was read.
    """
    at = np.flatnonzero(np.asarray(passed, bool))
    if not len(at):
        return []
    breaks = np.flatnonzero(np.diff(at) - 1 > bridge_h)
    first, last = np.append(at[0], at[breaks + 1]), np.append(at[breaks], at[-1])
    hour = pd.Timedelta(hours=1)
    return [
        Spell(time[a], time[b] + hour, float(((at >= a) & (at <= b)).sum()))
        for a, b in zip(first.tolist(), last.tolist(), strict=True)
    ]


def response_time_h(painting: Painting | None) -> float:
    """Time constant with which the canvas of this painting follows the room. [h]

    Where glazing or backing is unknown it is taken as absent: the faster response is the worse one.
    """
    if painting is None:
        return float(response.UNLINED_H)
    if painting.backed and painting.glazed:
        return float(response.GLAZED_BOARD_H)
    tau = float(response.UNLINED_H)
    materials = {layer.material for layer in painting.layers if layer.role in ("film", "old lining", "impregnation")}
    if materials & {"glue_paste", "starch", "animal_glue"}:
        tau = max(tau, float(response.PASTE_LINED_H))
    if materials - {"glue_paste", "starch", "animal_glue", "wax_resin"}:
        tau = max(tau, float(response.FILM_LINED_H))
    if "wax_resin" in materials:
        tau = max(tau, float(response.WAX_LINED_H))
    return max(tau, float(response.BOARD_H)) if painting.backed else tau
