"""How humidity moves: the season and the band about it, the change within a day, a year's cycles by rainflow.

The season is a centred mean over 30 days, and a trailing one where the record ends. Of "±10 % in 24 h" there are three
readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from envwatch.climate.hours import running_extremes, running_mean, running_range
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.canvas import (
    BAND_HIGH_PERCENTILE,
    BAND_LEAST,
    BAND_LOW_PERCENTILE,
    BAND_NEEDS_DAYS,
    BAND_PROVISIONAL_DAYS,
    HALF_CYCLE,
    SEASON_WINDOW_H,
)
from envwatch.figures.coverage import WINDOW_NEEDS

CYCLE_EDGES = (5.0, 10.0, 20.0, 30.0)
DAY_POINTS = 25  # hourly values from one hour to the same hour of the next day


def seasonal_cycle(values: ArrayLike, window_h: int = int(SEASON_WINDOW_H), need: float = WINDOW_NEEDS) -> Array:
    """Centred running mean of hourly values, the two ends of the window at half weight.

    Half weight at the ends makes the window exactly 30 days long, so a daily cycle leaves no trace in it.

    Parameters
    ----------
    values : (..., n) regular hourly values, time on the last axis, NaN where nothing was read.
    window_h : length of the window, even. [h]
    need : share of the window that must have been read.

    Returns
    -------
    (..., n) NaN for the first and last half window, and where too little was read. No padding.

    Raises
    ------
    ValueError : a window that is odd or under two hours.

    Source: EN 15757:2010, moving average over 15 days before and after, as reported in Sensors 16 (2016) 1291
    and 21 (2021) 7754; the half weights and the share are our choice.

    >>> seasonal_cycle([1.0, 2.0, 3.0, 4.0, 5.0], window_h=2).tolist()
    [nan, 2.0, 3.0, 4.0, nan]
    """
    if window_h < 2 or window_h % 2:
        raise ValueError(f"a window of {window_h} hours; give an even number of 2 or more")
    values = np.asarray(values, np.float64)
    out, half = np.full(values.shape, np.nan), window_h // 2
    for at in np.ndindex(values.shape[:-1]):
        row, read = values[at], np.isfinite(values[at])
        if len(row) < window_h + 1 or not read.any():
            continue
        middle = float(row[read].mean())  # sums stay small, so rounding does
        sums = np.cumsum([np.where(read, row - middle, 0.0), read], axis=1)
        sums = np.pad(sums, ((0, 0), (1, 0)))
        windows = sums[:, window_h:] - sums[:, :-window_h]  # of window_h values, one starting at each hour
        total, weight = (windows[:, :-1] + windows[:, 1:]) / 2
        enough = weight >= max(need * window_h - 1e-9, 1e-6)
        out[at][half : len(row) - half] = np.where(enough, middle + total / np.maximum(weight, 1e-9), np.nan)
    return out


def seasonal_so_far(values: ArrayLike, window_h: int = int(SEASON_WINDOW_H)) -> tuple[Array, Mask]:
    """Seasonal cycle that reaches the record's end: centred where it can be, trailing after that.

    Parameters, missing data (NaN), errors and source as in `seasonal_cycle`; the trailing mean is our choice.

    Returns
    -------
    (..., n) the cycle; (..., n) true where it is the trailing mean, which is provisional: it lags behind the
    season and is replaced by the centred one when another half window has been read.

    >>> cycle, provisional = seasonal_so_far([1.0, 2.0, 3.0, 4.0, 5.0], window_h=2)
    >>> cycle.tolist(), provisional.tolist()
    ([nan, 2.0, 3.0, 4.0, 4.5], [False, False, False, False, True])
    """
    cycle = seasonal_cycle(values, window_h)
    trailing = running_mean(values, window_h)
    at_end = np.arange(cycle.shape[-1]) >= cycle.shape[-1] - window_h // 2
    return np.where(at_end, trailing, cycle), at_end & np.isfinite(trailing)


@dataclass(frozen=True, eq=False)
class Band:
    """The 7/93 percentile band about the seasonal cycle.

    Attributes
    ----------
    seasonal, departure : (n,) the cycle, and how far the record was from it. [% RH]
    low, high : offsets of the band from the cycle, `low` negative. [% RH]
    p7, p93 : the percentiles themselves, before the widening to ±10 %. [% RH]
    days : length of the record from first to last reading. [d]
    standard : true from 13 months on; under it the band is provisional, and not the standard's.
    year_mean : mean of the record where the cycle is known. [% RH]
    coverage : share of the hours where the cycle could be known that were read.
    """

    seasonal: Array
    departure: Array
    low: float
    high: float
    p7: float
    p93: float
    days: float
    standard: bool
    year_mean: float
    coverage: float

    @property
    def widened(self) -> tuple[bool, bool]:
        """Whether the lower and the upper edge were widened to ±10 %, each side apart."""
        return self.p7 > self.low, self.p93 < self.high

    @property
    def if_calm(self) -> tuple[float, float]:
        """The edges, `low` and `high`, had the record not departed from its cycle in the hours not read. [% RH]"""
        known = self.departure[np.isfinite(self.departure)]
        unread = len(known) * (1 / self.coverage - 1)
        calm = np.append(known, np.zeros(round(unread)))
        p7, p93 = np.percentile(calm, [BAND_LOW_PERCENTILE, BAND_HIGH_PERCENTILE]).tolist()
        return min(p7, -float(BAND_LEAST)), max(p93, float(BAND_LEAST))

    @property
    def hours_outside(self) -> float:
        """Hours of the record outside its own band: 14 % by construction where nothing was widened."""
        return float(((self.departure < self.low - 1e-9) | (self.departure > self.high + 1e-9)).sum())


def fluctuation_band(rh_percent: ArrayLike, centred: bool = True) -> Band | None:
    """Band of short-term fluctuation that a record of hourly humidity has shown.

    Parameters
    ----------
    rh_percent : (n,) regular hourly means, NaN where nothing was read. [% RH]
    centred : about the standard's centred means; else about trailing ones, for hours whose centred mean cannot be
        formed yet: a trailing mean lags behind the season, so departures from it are larger, and are held against
        their own like.

    Returns
    -------
    A `Band`, or None under 90 days of record or where no seasonal cycle can be formed.

    Source: EN 15757:2010 as reported in papers; percentiles by linear interpolation, the widening to ±10 %
    taken for each side apart, both our choice. A history from before a treatment, or one that harmed, is no
    target: the caller leaves it out.

    >>> band = fluctuation_band(50 + 8 * np.sin(2 * np.pi * np.arange(395 * 24) / 24))
    >>> round(band.p93, 3), band.high, band.widened, band.hours_outside
    (7.727, 10.0, (True, True), 0.0)
    """
    rh = np.asarray(rh_percent, np.float64)
    read = np.flatnonzero(np.isfinite(rh))
    days = (read[-1] - read[0] + 1) / 24 if len(read) else 0.0
    if days < BAND_PROVISIONAL_DAYS:
        return None
    seasonal = seasonal_cycle(rh) if centred else running_mean(rh, int(SEASON_WINDOW_H))
    departure = rh - seasonal
    known = np.isfinite(departure)
    if not known.any():
        return None
    p7, p93 = np.percentile(departure[known], [BAND_LOW_PERCENTILE, BAND_HIGH_PERCENTILE]).tolist()
    half = int(SEASON_WINDOW_H) // 2
    possible = max(read[-1] - read[0] + 1 - 2 * half, 1)
    coverage = min(float(known.sum() / possible), 1.0)
    return Band(
        seasonal, departure, min(p7, -float(BAND_LEAST)), max(p93, float(BAND_LEAST)), p7, p93, days,
        bool(days >= BAND_NEEDS_DAYS and coverage >= WINDOW_NEEDS), float(rh[known].mean()), coverage,
    )  # fmt: skip


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
        if stop - begin < 2:  # within a gap
            continue
        points = turning_points(values[begin:stop], least)
        if len(points) == 2:  # the package leaves out the last point of a pair
            found.append((abs(float(points[1] - points[0])), float(points.mean()), float(HALF_CYCLE)))
        elif len(points) > 2:
            found += [cycle[:3] for cycle in rainflow.extract_cycles(points.tolist())]
    table = np.array(found, np.float64).reshape(-1, 3)
    return Cycles(table[:, 0], table[:, 1], table[:, 2])
