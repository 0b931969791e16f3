"""The air outdoors, from whatever there is: a logger, a station, a typical year, twelve months, or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import air
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike, Mask
from envwatch.core.errors import BadInput
from envwatch.core.words import Word

MONTH_NEEDS, LEAST_MONTH_H = 0.75, 28 * 24  # share of a month's hours that a typical year must have, and its hours


class OutdoorKind(Word):
    """What is known of the air outdoors: its hours, a usual year's, monthly means, or nothing but bounds."""

    DATED, TYPICAL, MONTHLY, BOUNDS = "dated", "typical year", "monthly", "bounds"


DATED, TYPICAL, MONTHLY, BOUNDS = OutdoorKind


@dataclass(frozen=True, eq=False)
class Outdoors:
    """Air outdoors. `kind` says what may be done with it: only dated air may be laid beside a dated log.

    `time` (n,) UTC; `temp_c`, `vapour_pa` (n,), NaN where not read. A typical year is given on any year's hours and
    used by the day of the year.
    """

    time: pd.DatetimeIndex
    temp_c: Array
    vapour_pa: Array
    kind: OutdoorKind
    words: str
    rh_bias_percent: float = 0.0  # what the logger outdoors may be off by; 0: not known, nothing is added


def from_climate(climate: Climate, words: str, kind: OutdoorKind = DATED) -> Outdoors:
    """A logger's or a station's air."""
    return Outdoors(climate.time, climate.temp_c, climate.vapour_pa, kind, words, climate.sensor.rh_bias_percent)


def typical_year(time: pd.DatetimeIndex, temp_c: ArrayLike, dew_point_c: ArrayLike, words: str) -> Outdoors:
    """A typical year's hours; its vapour from the dew point.

    Raises
    ------
    BadInput : a month of which less than three quarters is read: its gap would be filled from its neighbours.
    """
    read = np.isfinite(np.asarray(temp_c, np.float64)) & np.isfinite(np.asarray(dew_point_c, np.float64))
    hours = np.bincount(time.month[read], minlength=13)[1:]
    lacking = [month for month, had in enumerate(hours.tolist(), 1) if had < MONTH_NEEDS * LEAST_MONTH_H]
    if lacking:
        months = "any month" if len(lacking) == 12 else f"month {', '.join(map(str, lacking))}"
        raise BadInput(
            f"too little is read of {months}; a typical year has 8,760 hours. Give the file whole", place=words
        )
    note = "a typical year is made of months of several years: it hides extreme summers"
    vapour = air.saturation_pressure(dew_point_c)
    return Outdoors(time, np.asarray(temp_c, np.float64), vapour, TYPICAL, f"{words} ({note})")


def monthly(temp_c: Sequence[float], rh_percent: Sequence[float], words: str) -> Outdoors:
    """Twelve monthly means, January first. Vapour pressure is interpolated between the months, never humidity.

    Raises
    ------
    BadInput : not twelve of each, or values that are no outdoor air.
    """
    temp, rh = np.asarray(temp_c, np.float64), np.asarray(rh_percent, np.float64)
    if len(temp) != 12 or len(rh) != 12 or not (np.isfinite(temp).all() and np.isfinite(rh).all()):
        raise BadInput(
            f"{len(temp)} temperatures, {len(rh)} humidities; give twelve of each, January first", place=words
        )
    if rh.max() <= 1 or rh.min() <= 0 or rh.max() > 100 or np.abs(temp).max() > 60:
        raise BadInput("give °C and % RH (0 to 100, not a fraction)", place=words)
    time = pd.date_range("2001-01-01", periods=365, freq="D", tz="UTC")
    middle = np.array([(pd.Timestamp(2001, m, 15) - pd.Timestamp(2001, 1, 1)).days for m in range(1, 13)], np.float64)
    wrapped: Array = np.concatenate([[middle[-1] - 365], middle, [middle[0] + 365]])

    def by_day(values: Array) -> Array:
        ends_joined: Array = np.concatenate([[values[-1]], values, [values[0]]])
        return np.interp(np.arange(365), wrapped, ends_joined)

    note = "monthly means: what happens within a month is not known"
    return Outdoors(time, by_day(temp), by_day(air.vapour_pressure(temp, rh)), MONTHLY, f"{words} ({note})")


def bounds(climate: Climate) -> Outdoors:
    """No outdoor data: the room's own daily mean vapour stands for what comes in, its source for nothing."""
    day = climate.time.floor("D")
    mean = pd.Series(climate.vapour_pa).groupby(day).transform("mean").to_numpy()
    words = "none: the room's own daily mean of vapour stands for the air that comes in, so that answers are bounds"
    return Outdoors(climate.time, np.full(len(day), np.nan), mean, BOUNDS, words)


def on_grid(outdoors: Outdoors, time: pd.DatetimeIndex, gap_h: float) -> tuple[Array, Array, Mask]:
    """Temperature, vapour pressure and whether they are known, on a grid; a longer gap than `gap_h` is not known."""
    if outdoors.kind in (TYPICAL, MONTHLY):
        return _by_day_of_year(outdoors, time)
    vapour, known = bridged(outdoors.time, outdoors.vapour_pa, time, gap_h)
    temp_c, _ = bridged(outdoors.time, outdoors.temp_c, time, gap_h)
    return temp_c, vapour, known


def _by_day_of_year(outdoors: Outdoors, time: pd.DatetimeIndex) -> tuple[Array, Array, Mask]:
    def place(stamps: pd.DatetimeIndex) -> Array:
        return ((stamps.day_of_year - 1) + stamps.hour / 24 + stamps.minute / 1440).to_numpy(float)

    at = place(outdoors.time)
    order = np.argsort(at, kind="stable")
    read = order[np.isfinite(outdoors.vapour_pa[order]) & np.isfinite(outdoors.temp_c[order])]
    if not len(read):
        raise BadInput("holds no reading of temperature and moisture together", place=outdoors.words)
    values = (np.interp(place(time), at[read], v[read], period=366) for v in (outdoors.temp_c, outdoors.vapour_pa))
    temp_c, vapour = values
    return temp_c, vapour, np.ones(len(time), bool)


def bridged(time: pd.DatetimeIndex, values: ArrayLike, grid: pd.DatetimeIndex, gap_h: float) -> tuple[Array, Mask]:
    """Values on a grid by straight lines between readings, and where no gap longer than `gap_h` was bridged.

    (n,) on (n,) times -> (g,) values, (g,) known. All NaN where nothing was read at all.
    """
    values = np.asarray(values, np.float64)
    read = np.isfinite(values)
    if not read.any():
        return np.full(len(grid), np.nan), np.zeros(len(grid), bool)
    hour = pd.Timedelta(hours=1)
    at, wanted = (((t - grid[0]) / hour).to_numpy(np.float64) for t in (time[read], grid))
    after = np.searchsorted(at, wanted)
    before_h = at[np.maximum(after - 1, 0)]
    after_h = at[np.minimum(after, len(at) - 1)]
    inside = (wanted >= at[0] - gap_h / 2) & (wanted <= at[-1] + gap_h / 2)
    return np.interp(wanted, at, values[read]), inside & (after_h - before_h <= gap_h)
