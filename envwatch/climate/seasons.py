"""The seasonal cycle: a centred mean over 30 days, and a trailing one where the record ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from envwatch.climate.means import running_mean
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.figures.canvas import (
    BAND_HIGH_PERCENTILE,
    BAND_LEAST,
    BAND_LOW_PERCENTILE,
    BAND_NEEDS_DAYS,
    BAND_PROVISIONAL_DAYS,
    SEASON_WINDOW_H,
)
from envwatch.figures.coverage import WINDOW_NEEDS


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
