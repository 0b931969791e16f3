"""Types of control of the museum handbook: which a room meets, which criterion fails, and for how long."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from envwatch.climate.means import Hourly
from envwatch.climate.seasons import seasonal_cycle
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.guidelines import CONTROL_CLASSES, CONTROL_LONGEST_H, CONTROL_NEEDS_SHARE, ControlClass

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
