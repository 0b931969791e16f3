"""What papers ask of a room: types of control of the museum handbook and named targets, kept or not, for how long."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from envwatch.climate.fluctuation import DayChange, change_24h, seasonal_cycle
from envwatch.climate.hours import Hourly
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.guidelines import (
    CONTROL_CLASSES,
    CONTROL_LONGEST_H,
    CONTROL_NEEDS_SHARE,
    TARGETS,
    ControlClass,
    Target,
)

YEAR_H = 8760


@dataclass(frozen=True)
class ClassTest:
    """One criterion of one type. `share` is of the hours read."""

    criterion: str
    passed: bool
    hours_outside: float
    longest_h: float
    share_inside: float


@dataclass(frozen=True)
class ClassResult:
    """One type of control. `met` is None where it cannot be known yet: nothing failed, and a year is not there."""

    name: str
    met: bool | None
    tests: tuple[ClassTest, ...]

    @property
    def failed(self) -> tuple[ClassTest, ...]:
        """Criteria that fail, the one with most hours first."""
        return tuple(sorted((t for t in self.tests if not t.passed), key=lambda t: -t.hours_outside))


def control_classes(hours: Hourly, classes: tuple[ControlClass, ...] = CONTROL_CLASSES) -> tuple[ClassResult, ...]:
    """Every type of control against the last year of a record, the strictest first.

    Parameters
    ----------
    hours : hourly means over 13 months or more: a year of seasonal cycle and half a window at either end.
        A shorter record can fail a type, and meets none.

    Returns
    -------
    One `ClassResult` a type. Seasonal criteria allow no hour outside; short-term ones and the outer limits
    pass with 95 % of the hours read inside and no excursion over 24 h. Both shares are ours: the handbook
    gives no rule for a record. Types C and D also ask for no long damp, which the mould model judges.

    Source: ASHRAE Handbook, HVAC Applications, museums chapter; figures partly from memory.
    """
    rh, temp = _Year.of(hours.rh_percent), _Year.of(hours.temp_c)
    return tuple(_one_class(rh, temp, one) for one in classes)


def best_class(results: tuple[ClassResult, ...]) -> ClassResult | None:
    """The strictest type met, or None."""
    return next((result for result in results if result.met), None)


@dataclass(frozen=True, eq=False)
class _Year:
    """The last year of a record with a seasonal cycle, or as much as there is."""

    values: Array
    season: Array
    mean: float
    whole: bool

    @classmethod
    def of(cls, values: ArrayLike) -> _Year:
        values = np.asarray(values, np.float64)
        season = seasonal_cycle(values)
        known = np.flatnonzero(np.isfinite(season))
        if not len(known):
            return cls(values, season, np.nan, False)
        rows = slice(max(known[-1] - YEAR_H + 1, known[0]), known[-1] + 1)
        year, season = values[rows], season[rows]
        mean = float(np.nanmean(year)) if np.isfinite(year).any() else np.nan
        return cls(year, season, mean, bool(np.isfinite(season).sum() >= 0.75 * YEAR_H and len(year) == YEAR_H))


def _one_class(rh: _Year, temp: _Year, one: ControlClass) -> ClassResult:
    asked = [
        *_quantity("RH", rh, one.rh_short, one.rh_season_down, one.rh_season_up, one.rh_low, one.rh_high),
        *_quantity(
            "temperature", temp, one.temp_short_c, one.temp_season_down_c, one.temp_season_up_c,
            one.temp_low_c, one.temp_high_c,
        ),
    ]  # fmt: skip
    tests = tuple(test for test in asked if test is not None)
    if not all(test.passed for test in tests):
        return ClassResult(one.name, False, tests)
    known = rh.whole and temp.whole and len(tests) == len(asked)
    return ClassResult(one.name, True if known else None, tests)


def _quantity(
    name: str, year: _Year, short: float, down: float, up: float, low: float, high: float
) -> Iterator[ClassTest | None]:
    if not (np.isnan(low) and np.isnan(high)):
        yield _test(f"{name} outer limits", year.values, low, high)
    if not np.isnan(short):
        fixed = down == up == 0  # no seasonal change allowed: fluctuation is taken from the yearly mean
        yield _test(f"{name} short-term", year.values - (year.mean if fixed else year.season), -short, short)
        if not fixed:
            yield _test(f"{name} seasonal", year.season - year.mean, -down, up, share=1.0)


def _test(name: str, values: Array, low: float, high: float, share: float = CONTROL_NEEDS_SHARE) -> ClassTest | None:
    """One criterion, or None where there is nothing to test."""
    read = np.isfinite(values)
    if not read.any():
        return None
    outside = (values < low) | (values > high)
    inside = 1 - outside.sum() / read.sum()
    longest = _longest(outside)
    passed = inside >= share - 1e-12 and longest <= CONTROL_LONGEST_H
    return ClassTest(name, bool(passed), float(outside.sum()), longest, float(inside))


def _longest(flags: Mask) -> float:
    edges = np.flatnonzero(np.diff(flags.astype(int), prepend=0, append=0))
    return float((edges[1::2] - edges[::2]).max(initial=0))


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
