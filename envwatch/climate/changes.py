"""How far humidity moves: the three readings of "±10 % in 24 h", targets kept or not, a year's cycles by rainflow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from envwatch.climate.means import Hourly, running_extremes, running_mean, running_range
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.canvas import HALF_CYCLE
from envwatch.figures.guidelines import TARGETS, Target

CYCLE_EDGES = (5.0, 10.0, 20.0, 30.0)
DAY_POINTS = 25  # hourly values from one hour to the same hour of the next day


@dataclass(frozen=True, eq=False)
class DayChange:
    """Change within 24 h at each hour, in the three readings of the rule. All (..., n), NaN where not known."""

    from_mean: Array  # distance from the mean of the 24 h before: the lenient reading
    spread: Array  # highest less lowest in the 24 h before: the strict reading
    from_day_before: Array  # distance from the same hour of the day before


def change_24h(values: ArrayLike, need: float = 0.5) -> DayChange:
    """Change of hourly values within 24 h, without sign.

    Parameters
    ----------
    values : (..., n) regular hourly values, time on the last axis, NaN where nothing was read.
    need : share of the 24 h that must have been read.

    Returns
    -------
    A `DayChange`. The first 24 h, and hours with too little before them, are NaN.

    Source: the rule stands in the 2014 declaration on environmental guidelines without saying which is meant.

    >>> ramp = [50.0] * 24 + [50 + 15 * h / 24 for h in range(25)] + [65.0] * 24
    >>> change = change_24h(ramp)
    >>> [float(np.nanmax(a)) for a in (change.from_mean, change.spread, change.from_day_before)]
    [7.5, 15.0, 15.0]
    """
    values = np.asarray(values, np.float64)
    before, count = np.full(values.shape, np.nan), values.shape[-1]
    before[..., DAY_POINTS - 1 :] = values[..., : max(count - DAY_POINTS + 1, 0)]
    return DayChange(
        np.abs(values - running_mean(values, DAY_POINTS, need)),
        np.where(np.isfinite(values), running_range(values, DAY_POINTS, need), np.nan),
        np.abs(values - before),
    )


def change_within_week(values: ArrayLike, need: float = 0.5) -> Array:
    """Largest change of the 24 h mean within the week up to each hour; of as much of it as was read.

    Parameters
    ----------
    values : (..., n) regular hourly values, time on the last axis, NaN where nothing was read.
    need : share of each 24 h that must have been read.

    Returns
    -------
    (..., n), NaN where no 24 h mean can be formed. Under a week of history the change is "at least".

    Source: our own measure; its limits are our judgement.

    >>> float(change_within_week([50.0] * 48 + [60.0] * 48)[-1])
    10.0
    """

    means = running_mean(values, 24, need)
    lowest, highest = running_extremes(means, 7 * 24 + 1)
    return np.where(np.isfinite(means), highest - lowest, np.nan)


@dataclass(frozen=True)
class TargetHours:
    """How a named target was kept: hours outside, of the hours read. NaN: the target sets none."""

    target: Target
    rh_hours_outside: float
    temp_hours_outside: float
    change_hours_lenient: float  # hours farther from their 24 h mean than the target allows
    change_hours_strict: float  # hours whose 24 h spread is more than it allows
    temp_change_hours: float  # the lenient reading, for temperature
    rh_hours_read: float
    temp_hours_read: float


def target_hours(hours: Hourly, targets: tuple[Target, ...] = TARGETS) -> tuple[TargetHours, ...]:
    """Hours outside each named target; an hour not read is neither inside nor outside."""
    change, warmth = change_24h(hours.rh_percent), change_24h(hours.temp_c)
    return tuple(_one_target(hours, change, warmth, target) for target in targets)


def _one_target(hours: Hourly, change: DayChange, warmth: DayChange, target: Target) -> TargetHours:
    allowed = target.change_24h_percent
    return TargetHours(
        target,
        float(hours_outside(hours.rh_percent, target.rh_low, target.rh_high)),
        float(hours_outside(hours.temp_c, target.temp_low_c, target.temp_high_c)),
        float(hours_outside(change.from_mean, np.nan, allowed)),
        float(hours_outside(change.spread, np.nan, allowed)),
        float(hours_outside(warmth.from_mean, np.nan, target.change_24h_k)),
        float(np.isfinite(hours.rh_percent).sum()),
        float(np.isfinite(hours.temp_c).sum()),
    )


def hours_outside(values: ArrayLike, low: float, high: float) -> Array:
    """Hourly values under `low` or over `high`.

    Parameters
    ----------
    values : (..., n) hourly, time on the last axis; NaN values are not counted.
    low, high : the edges, themselves inside; NaN where there is none.

    Returns
    -------
    (...) hours; NaN where neither edge is set. [h]

    Source: a count; the edges come from `figures.guidelines`.

    >>> float(hours_outside([39.0, 40.0, 61.0, float("nan")], 40, 60))
    2.0
    """
    values = np.asarray(values, np.float64)
    if np.isnan(low) and np.isnan(high):
        return np.full(values.shape[:-1], np.nan)
    outside: Array = ((values < low) | (values > high)).sum(axis=-1).astype(float)
    return outside


@dataclass(frozen=True, eq=False)
class Cycles:
    """Cycles of a record: range and mean of each, and its count, 0.5 or 1. All (k,)."""

    span: Array
    mean: Array
    count: Array

    def table(self, edges: Sequence[float] = CYCLE_EDGES) -> tuple[float, ...]:
        """Cycles with a range from each edge up to the next, the last without end."""
        bounds = [*edges, np.inf]
        return tuple(
            float(self.count[(self.span >= a) & (self.span < b)].sum())
            for a, b in zip(bounds[:-1], bounds[1:], strict=True)
        )


def turning_points(values: ArrayLike, least: float = 0.0) -> Array:
    """First, last and every value where the course turns; repeated values count once.

    (n,) without NaN -> (k,), k at most n: one record at a time. Source: ASTM E1049-85, definition of a reversal.
    `least`: the pairs that enclose a whole cycle under it are left out, which leaves all other cycles. A range smaller
    than the one before it, and no larger than the one after, is such a cycle whatever comes later.

    >>> turning_points([0, 1, 1, 2, 1, 1, 3]).tolist()
    [0.0, 2.0, 1.0, 3.0]
    """
    values = np.asarray(values, np.float64)
    moves: Mask = np.append(True, np.diff(values) != 0)[: len(values)]
    values = values[moves]
    if len(values) < 3:
        return values
    rising = np.diff(values) > 0
    turns: Mask = np.concatenate([[True], rising[1:] != rising[:-1], [True]])
    values = values[turns]
    while least > 0 and len(values) > 3:
        span = np.abs(np.diff(values))
        at = np.flatnonzero((span[1:-1] < least) & (span[1:-1] < span[:-2]) & (span[1:-1] <= span[2:])) + 1
        if not len(at):
            break
        values = np.delete(values, np.concatenate([at, at + 1]))
    return values


def rainflow_cycles(values: ArrayLike, least: float = 0.0) -> Cycles:
    """Rainflow cycles of a record; a gap splits it, and no cycle spans one.

    Parameters
    ----------
    values : (n,) NaN in a gap. The first and the last value of a stretch count as turning points.
    least : whole cycles with a smaller range may be left out, for speed.

    Returns
    -------
    `Cycles`; empty for a constant or an empty record. Half cycles stay halves.

    Source: ASTM E1049-85, section 5.4.4, through the package rainflow.

    >>> found = rainflow_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> found.span.tolist(), found.count.tolist()
    ([3.0, 4.0, 4.0, 8.0, 9.0, 8.0, 6.0], [0.5, 0.5, 1.0, 0.5, 0.5, 0.5, 0.5])
    """
    import rainflow

    values = np.asarray(values, np.float64)
    gaps = np.flatnonzero(np.isnan(values)).tolist()
    found: list[tuple[float, ...]] = []
    for begin, stop in zip([0, *(gap + 1 for gap in gaps)], [*gaps, len(values)], strict=True):
        points = turning_points(values[begin:stop], least)
        if len(points) == 2:  # the package leaves out the last point of a pair
            found.append((abs(float(points[1] - points[0])), float(points.mean()), float(HALF_CYCLE)))
        elif len(points) > 2:
            found += [cycle[:3] for cycle in rainflow.extract_cycles(points.tolist())]
    table = np.array(found, np.float64).reshape(-1, 3)
    return Cycles(table[:, 0], table[:, 1], table[:, 2])
