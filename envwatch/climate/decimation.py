"""A long line at the width of a screen: lowest and highest of each step are kept, and gaps stay gaps."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, Whole

US_PER_H = 3.6e9
SCREEN = 1_200  # steps over the width of a wide screen


class Line(NamedTuple):
    """A line to draw. A NaN parts what must not be joined. (n,) UTC times, (n,) values."""

    time: pd.DatetimeIndex
    values: Array


def thinned(climate: Climate, values: Array, steps: int = SCREEN) -> Line:
    """A quantity of a climate over its whole span, in at most some steps of equal length.

    Parameters
    ----------
    climate : gives times, and the time each reading stands for: where the next one comes later, there is a gap.
    values : (n,) one of its arrays; NaN is no reading.
    steps : how many; each keeps its lowest and its highest reading, in their order. What has fewer readings than
        twice the steps is drawn whole.

    Returns
    -------
    A `Line` with a NaN in each gap. No reading is altered, and the extremes are always among them.

    >>> c = Climate.of(pd.date_range("2026-01-05", periods=6, freq="h", tz="UTC"), [1, 2, 9, 2, 0, 1], [50] * 6)
    >>> thinned(c, c.temp_c, 2).values.tolist()
    [1.0, 9.0, 2.0, 0.0]
    """
    read = np.flatnonzero(np.isfinite(values))
    time, values = climate.time.asi8[read], np.asarray(values, np.float64)[read]
    after_gap = _after_gaps(time, climate.hours[read])
    if len(values) > 2 * steps:
        start, end = (moment.value // 1000 for moment in (climate.start, climate.end))
        kept = _extremes(time, values, np.linspace(start, end, steps + 1), after_gap)
        time, values, after_gap = time[kept], values[kept], np.searchsorted(kept, after_gap)
    return _parted(time, values, after_gap)


def _after_gaps(time: Whole, hours: Array) -> Whole:
    """Positions of readings that follow a gap: they come more than half a step after the last one ended."""
    return np.flatnonzero(np.diff(time) > 1.5 * hours[:-1] * US_PER_H) + 1


def _extremes(time: Whole, values: Array, edges: Array, after_gap: Whole) -> Whole:
    """Positions of the lowest and highest value of each step, a step ending at a gap too."""
    starts = np.union1d(np.searchsorted(time, edges[:-1]), after_gap)
    starts = starts[starts < len(time)]
    starts = np.union1d(starts, [0]).astype(int)
    counts = np.diff(np.append(starts, len(time)))
    step = np.repeat(np.arange(len(starts)), counts)
    kept = []
    for extreme in (np.minimum, np.maximum):
        at = np.flatnonzero(values == np.repeat(extreme.reduceat(values, starts), counts))
        kept.append(at[np.unique(step[at], return_index=True)[1]])
    return np.union1d(*kept)


def _parted(time: Whole, values: Array, after_gap: Whole) -> Line:
    """A NaN put in before each reading that follows a gap, just after the reading before it."""
    before = time[after_gap - 1] + 1
    time, values = np.insert(time, after_gap, before), np.insert(values, after_gap, np.nan)
    return Line(pd.DatetimeIndex(time.view("M8[us]"), tz="UTC"), values)


__all__ = ["SCREEN", "Line", "thinned"]
