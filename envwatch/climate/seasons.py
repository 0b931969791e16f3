"""The seasonal cycle: a centred mean over 30 days, and a trailing one where the record ends."""

from __future__ import annotations

import numpy as np

from envwatch.climate.means import running_mean
from envwatch.figures.canvas import SEASON_WINDOW_H
from envwatch.figures.coverage import WINDOW_NEEDS


def seasonal_cycle(values, window_h: int = int(SEASON_WINDOW_H), need: float = WINDOW_NEEDS) -> np.ndarray:
    """Centred running mean of hourly values, the two ends of the window at half weight.

    Half weight at the ends makes the window exactly 30 days long, so a daily cycle leaves no trace in it.

    Parameters
    ----------
    values : (n,) regular hourly values, NaN where nothing was read.
    window_h : length of the window, even. [h]
    need : share of the window that must have been read.

    Returns
    -------
    (n,) NaN for the first and last half window, and where too little was read. No padding.

    Source: EN 15757:2010, moving average over 15 days before and after, as reported in Sensors 16 (2016) 1291
    and 21 (2021) 7754; the half weights and the share are our choice.

    >>> seasonal_cycle([1.0, 2.0, 3.0, 4.0, 5.0], window_h=2).tolist()
    [nan, 2.0, 3.0, 4.0, nan]
    """
    values = np.asarray(values, float)
    out = np.full(values.shape, np.nan)
    half = window_h // 2
    read = np.isfinite(values)
    if len(values) < window_h + 1 or not read.any():
        return out
    middle = float(values[read].mean())  # sums stay small, so rounding does
    total = _half_weighted(np.where(read, values - middle, 0.0), window_h)
    weight = _half_weighted(read.astype(float), window_h)
    enough = weight >= need * window_h - 1e-9
    out[half : len(values) - half] = np.where(enough, middle + total / np.maximum(weight, 1e-9), np.nan)
    return out


def _half_weighted(values: np.ndarray, window_h: int) -> np.ndarray:
    sums = np.concatenate([[0.0], np.cumsum(values)])
    whole = sums[window_h:] - sums[:-window_h]  # windows of window_h values, one starting at each hour
    return (whole[:-1] + whole[1:]) / 2


def seasonal_so_far(values, window_h: int = int(SEASON_WINDOW_H)) -> tuple[np.ndarray, np.ndarray]:
    """Seasonal cycle that reaches the record's end: centred where it can be, trailing after that.

    Returns
    -------
    (n,) the cycle; (n,) true where it is the trailing mean, which is provisional: it lags behind the
    season and is replaced by the centred one when another half window has been read.

    >>> cycle, provisional = seasonal_so_far([1.0, 2.0, 3.0, 4.0, 5.0], window_h=2)
    >>> cycle.tolist(), provisional.tolist()
    ([nan, 2.0, 3.0, 4.0, 4.5], [False, False, False, False, True])
    """
    cycle = seasonal_cycle(values, window_h)
    trailing = running_mean(values, window_h)
    at_end = np.zeros(len(cycle), bool)
    at_end[max(len(cycle) - window_h // 2, 0) :] = True
    return np.where(at_end, trailing, cycle), at_end & np.isfinite(trailing)
