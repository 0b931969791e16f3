"""One place over one span, in the figures a person reads each week."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.climate.fluctuation import seasonal_so_far
from envwatch.climate.hours import Hourly, hourly, spells
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, ArrayLike
from envwatch.figures.canvas import DRY_LINED_RH, PLACE_DAMP_RH, SEASON_WINDOW_H


@dataclass(frozen=True)
class Swing:
    """What one local civil day did: highest less lowest hourly mean, and how much of the day was read."""

    on: pd.Timestamp  # midnight by the place's clock, without a zone
    percent: float
    coverage: float  # hours read, of the 23, 24 or 25 the day has


@dataclass(frozen=True)
class DampSpell:
    """One spell over a limit, by the rule of `climate.hours`: when, how many hours read, and how far it went."""

    start: pd.Timestamp
    end: pd.Timestamp
    hours: float
    highest_percent: float
    unread_h: float = 0.0  # hours in it that were not read and are held to have been damp


@dataclass(frozen=True)
class DampHours:
    """Time over one humidity limit: all of it, and the spells, longest first."""

    limit_percent: float
    hours: float
    spells: tuple[DampSpell, ...]

    @property
    def longest(self) -> DampSpell | None:
        """The longest spell, or None where there was none."""
        return self.spells[0] if self.spells else None


@dataclass(frozen=True)
class PlaceSummary:
    """A place over [start, end). NaN (or None) is not known, never "nothing".

    Attributes
    ----------
    coverage, temp_coverage : share of the span with both read, and with temperature read, 0 to 1.
    temp_*_c, rh_*_percent, dew_point_*_c : lowest and highest reading; means are time-weighted. [°C], [% RH]
    swing : the local day with the largest daily swing of humidity. A day of which part was not read may
        have swung further.
    damp : hours and spells over each limit.
    dry_hours : hours under `dry_limit_percent`. [h]
    fluctuation_percent : farthest departure of an hourly mean from the seasonal cycle, with its sign. [% RH]
    fluctuation_at : when that was.
    seasonal_percent : the seasonal level at the end of the span. [% RH]
    provisional : true where the seasonal level is a trailing mean that will be replaced.
    seasonal_from : where no seasonal level could be formed, the day from which it can, if readings go on.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    zone: str
    coverage: float
    temp_coverage: float
    first_reading: pd.Timestamp | None
    last_reading: pd.Timestamp | None
    temp_min_c: float
    temp_mean_c: float
    temp_max_c: float
    rh_min_percent: float
    rh_mean_percent: float
    rh_max_percent: float
    dew_point_min_c: float
    dew_point_max_c: float
    swing: Swing | None
    damp: tuple[DampHours, ...]
    dry_hours: float
    dry_limit_percent: float
    fluctuation_percent: float
    fluctuation_at: pd.Timestamp | None
    seasonal_percent: float
    provisional: bool
    seasonal_from: pd.Timestamp | None
    suspect_hours: float  # hours whose readings bear a mark but were counted

    @property
    def daily_swing_percent(self) -> float:
        """The largest daily swing of humidity, NaN where none is known. [% RH]"""
        return float("nan") if self.swing is None else self.swing.percent

    @property
    def hours_over(self) -> dict[int, float]:
        """Damp hours by limit: {65: ..., 70: ..., 75: ...}. [h]"""
        return {round(damp.limit_percent): damp.hours for damp in self.damp}


def local_days(time: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """The civil day of each time in a zone, without a zone. (n,) UTC -> (n,)"""
    return time.tz_convert(zone).tz_localize(None).normalize()


def day_begins(days: pd.DatetimeIndex, zone: str) -> pd.DatetimeIndex:
    """When civil days, told without a zone, begin in one; where midnight comes twice, with the first. (n,) -> (n,)

    >>> day_begins(pd.DatetimeIndex(["2026-03-08"]), "America/Havana")[0].hour  # from 0:00 clocks go to 1:00
    1
    """
    return days.tz_localize(zone, nonexistent="shift_forward", ambiguous=np.ones(len(days), bool))


def day_hours(days: pd.DatetimeIndex, zone: str) -> Array:
    """Length of civil days in a zone: 23, 24 or 25. (n,) without NaN -> (n,) [h]. Source: the zone's own table.

    >>> day_hours(pd.DatetimeIndex(["2026-03-29", "2026-10-25"]), "Europe/Amsterdam").tolist()
    [23.0, 25.0]
    """
    begins, ends = (day_begins(of, zone) for of in (days, days + pd.Timedelta(days=1)))
    return ((ends - begins) / pd.Timedelta(hours=1)).to_numpy()


def daily_swings(time: pd.DatetimeIndex, values: ArrayLike, zone: str) -> list[Swing]:
    """Highest less lowest hourly value of each local civil day, in day order.

    Parameters
    ----------
    time : (n,) whole UTC hours.
    values : (n,) hourly means, NaN where nothing was read.
    zone : the place's zone; a change of clock makes the day 23 or 25 hours long, and nothing else.

    Returns
    -------
    One entry for each day with a reading. Where `coverage` is under 1 the swing is "at least".
    """
    frame = pd.Series(np.asarray(values, np.float64)).groupby(local_days(time, zone))
    table = frame.agg(["max", "min", "count"]).query("count > 0")
    whole = day_hours(pd.DatetimeIndex(table.index), zone)
    spread = (table["max"] - table["min"]).to_numpy()
    share = np.minimum(table["count"].to_numpy() / whole, 1.0)
    return [
        Swing(pd.Timestamp(day), swing, read)
        for day, swing, read in zip(table.index, spread.tolist(), share.tolist(), strict=True)
    ]


def damp_hours(hours: Hourly, limit_percent: float, of: Climate | None = None) -> DampHours:
    """Hours over a limit and their spells, from hourly means; one not read is counted apart, and only in a spell.

    of : the readings, which tell where the highest of a spell is a bound.
    """
    over = hours.rh_percent > limit_percent
    found = [
        DampSpell(s.start, s.end, s.hours, _highest(hours, s.start, s.end, of), s.unread_h)
        for s in spells(hours.time, over, unread=np.isnan(hours.rh_percent))
    ]
    longest_first = tuple(sorted(found, key=lambda s: -s.hours - s.unread_h))
    return DampHours(float(limit_percent), float(over.sum()), longest_first)


def _highest(hours: Hourly, start: pd.Timestamp, end: pd.Timestamp, of: Climate | None) -> float:
    lo, hi = hours.time.searchsorted([start, end])
    highest = float(np.nanmax(hours.rh_percent[lo:hi]))
    return highest if of is None else of.beyond(highest, "rh_percent", start, end)


def _mean(values: Array, weights: Array) -> float:
    """The weighted mean of what was read; NaN where nothing was."""
    read = np.isfinite(values)
    if not read.any():
        return np.nan
    values, weights = values[read], weights[read]
    return float(np.average(values, weights=weights) if weights.sum() else values.mean())


def describe_place(climate: Climate, zone: str, start: pd.Timestamp | None = None) -> PlaceSummary:
    """Describe a place over [start, climate.end), with the history before it for the season.

    Parameters
    ----------
    climate : readings with as much history before `start` as there is; 30 days give a seasonal level.
    zone : the place's zone, for its days.
    start : begin of the span described; by default the climate's own.

    Returns
    -------
    A `PlaceSummary`; figures of what was not read are NaN. Lowest and highest are of single readings,
    everything counted in hours is of hourly means.

    >>> c = Climate.of(pd.date_range("2026-01-05", periods=48, freq="h", tz="UTC"), [18.0] * 48, [50.0, 54.0] * 24)
    >>> summary = describe_place(c, "Europe/Amsterdam")
    >>> summary.rh_max_percent, summary.swing.percent, summary.damp[0].hours, summary.seasonal_percent
    (54.0, 4.0, 0.0, nan)
    """
    start = climate.start if start is None else start
    span = climate.between(start, climate.end)
    hours = hourly(span)
    swings = daily_swings(hours.time, hours.rh_percent, zone)
    temp, rh, dew = (span.edges(name) for name in ("temp_c", "rh_percent", "dew_point_c"))
    read = span.time[np.isfinite(span.temp_c) | np.isfinite(span.rh_percent)]
    departure, at, level, provisional = _season(climate, start)
    return PlaceSummary(
        start, climate.end, zone, span.coverage, span.temp_coverage,
        read[0] if len(read) else None, read[-1] if len(read) else None,
        temp[0], _mean(span.temp_c, span.hours), temp[1], rh[0], _mean(span.rh_percent, span.hours), rh[1], *dew,
        max(swings, key=lambda s: s.percent, default=None),
        tuple(damp_hours(hours, limit, span) for limit in PLACE_DAMP_RH),
        float((hours.rh_percent < DRY_LINED_RH).sum()), float(DRY_LINED_RH),
        departure, at, level, provisional,
        _season_possible_from(climate) if np.isnan(level) else None,
        float(span.hours[span.suspect].sum()),
    )  # fmt: skip


def _season(climate: Climate, start: pd.Timestamp) -> tuple[float, pd.Timestamp | None, float, bool]:
    """Farthest departure from the seasonal cycle, its time, the level at the end, whether that is provisional."""
    history = hourly(climate)
    cycle, provisional = seasonal_so_far(history.rh_percent)
    first = int(history.time.searchsorted(start.floor("h")))
    cycle, provisional, time = cycle[first:], provisional[first:], history.time[first:]
    known = np.flatnonzero(np.isfinite(cycle))
    if not len(known):
        return np.nan, None, np.nan, False
    departure = history.rh_percent[first:] - cycle
    level, is_provisional = float(cycle[known[-1]]), bool(provisional[known].any())
    if not np.isfinite(departure).any():
        return np.nan, None, level, is_provisional
    worst = int(np.nanargmax(np.abs(departure)))
    return float(departure[worst]), time[worst], level, is_provisional


def _season_possible_from(climate: Climate) -> pd.Timestamp | None:
    read = climate.time[np.isfinite(climate.rh_percent)]
    return read[0] + pd.Timedelta(hours=float(SEASON_WINDOW_H)) if len(read) else None
