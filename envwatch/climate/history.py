"""A place over as long as it was read: its season, its band, what papers ask of it, its damp, its cycles.

None of this judges a painting. It is what a lender, an insurer or a curious owner asks about a room, told with what the
record is too short to say yet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.climate.ageing import ageing_sentence
from envwatch.climate.control_classes import ClassResult, TargetHours, best_class, control_classes, target_hours
from envwatch.climate.fluctuation import CYCLE_EDGES, Band, fluctuation_band, rainflow_cycles, seasonal_so_far
from envwatch.climate.hours import Hourly, hourly
from envwatch.climate.response import BUILD_UPS, canvas_humidity
from envwatch.climate.series import Climate
from envwatch.climate.summary import DampHours, damp_hours
from envwatch.core.arrays import Array
from envwatch.figures.canvas import BAND_NEEDS_DAYS, BAND_PROVISIONAL_DAYS, SEASON_WINDOW_H
from envwatch.figures.mould import DAMP_LEVELS

DAY = pd.Timedelta(days=1)


@dataclass(frozen=True)
class Season:
    """The 30-day seasonal level: where it stood lowest, highest and last. [% RH]"""

    lowest_percent: float
    lowest_at: pd.Timestamp
    highest_percent: float
    highest_at: pd.Timestamp
    last_percent: float
    last_at: pd.Timestamp
    provisional: bool  # the last level is a trailing mean, centred once 15 more days are read


@dataclass(frozen=True)
class BandTold:
    """The 7th to 93rd percentile band about the season, each side widened to ±10 %. Offsets in % RH."""

    p7: float
    p93: float
    low: float
    high: float
    widened: tuple[bool, bool]
    hours_outside: float
    days: float
    coverage: float
    standard: bool  # 13 months or more; else provisional, and not the standard's


@dataclass(frozen=True)
class CycleTable:
    """Cycles of the moisture response of one build-up, by range; half cycles count as halves."""

    build_up: str
    tau_h: float
    counts: tuple[float, ...]  # from each edge of CYCLE_EDGES up to the next, the last without end
    largest_percent: float  # NaN where there was no cycle
    days: float  # in which the response is known


@dataclass(frozen=True)
class NotYet:
    """What the record is too short to say, and from which day it can be said if readings go on."""

    what: str
    since: pd.Timestamp | None


@dataclass(frozen=True)
class PlaceHistory:
    """A place's climate over [start, end). NaN and None are not known, never "nothing"."""

    start: pd.Timestamp
    end: pd.Timestamp
    zone: str
    coverage: float
    temp_coverage: float
    first_reading: pd.Timestamp | None
    last_reading: pd.Timestamp | None
    temp_mean_c: float
    temp_range_c: tuple[float, float]
    rh_mean_percent: float
    rh_range_percent: tuple[float, float]
    season: Season | None
    band: BandTold | None
    control: tuple[ClassResult, ...]
    control_met: str  # the strictest type met, "" where none is or none can be known
    targets: tuple[TargetHours, ...]
    damp: tuple[DampHours, ...]
    cycles: tuple[CycleTable, ...]
    ageing: str
    not_yet: tuple[NotYet, ...]
    suspect_hours: float = 0.0  # hours whose readings bear a mark of doubt and were counted
    notes: tuple[str, ...] = ()


def describe_history(climate: Climate, zone: str, start: pd.Timestamp | None = None) -> PlaceHistory:
    """Describe a place's climate over [start, climate.end).

    Parameters
    ----------
    climate : readings; 13 months of them say all there is to say, 90 days a provisional band.
    zone : the place's zone.
    start : begin of the span described; by default the climate's own.

    Returns
    -------
    A `PlaceHistory`. Everything counted in hours is of hourly means; an hour not read is neither inside nor outside.

    Source: season and band EN 15757:2010 as reported in papers; types of control ASHRAE Handbook, museums chapter;
    targets in `figures.guidelines`; cycles ASTM E1049-85; ageing Michalski 2002.

    >>> c = Climate.of(pd.date_range("2026-01-05", periods=48, freq="h", tz="UTC"), [18.0] * 48, [50.0, 54.0] * 24)
    >>> told = describe_history(c, "Europe/Amsterdam")
    >>> told.season, told.band, [n.what for n in told.not_yet][0]
    (None, None, 'the seasonal level')
    """
    span = climate if start is None else climate.between(start, climate.end)
    hours = hourly(span)
    read = np.isfinite(hours.rh_percent)
    first, last = _ends(span)
    season, band, control = _season(hours), _band(hours), control_classes(hours) if read.any() else ()
    best = best_class(control)
    return PlaceHistory(
        span.start, span.end, zone, span.coverage, span.temp_coverage, first, last,
        _mean(hours.temp_c), span.edges("temp_c"), _mean(hours.rh_percent), span.edges("rh_percent"),
        season, band, control, best.name if best else "", target_hours(hours),
        tuple(damp_hours(hours, float(limit), span) for limit in DAMP_LEVELS),
        tuple(_cycles(hours, name, float(tau)) for name, tau in BUILD_UPS.items()) if read.any() else (),
        ageing_sentence(span.temp_c, span.rh_percent, span.hours), tuple(_not_yet(first, season, band, control)),
        float(span.hours[span.suspect].sum()), span.notes,
    )  # fmt: skip


def _ends(span: Climate) -> tuple[pd.Timestamp | None, pd.Timestamp | None]:
    read = span.time[np.isfinite(span.temp_c) | np.isfinite(span.rh_percent)]
    return (read[0], read[-1]) if len(read) else (None, None)


def _mean(values: Array) -> float:
    return float(np.nanmean(values)) if np.isfinite(values).any() else float("nan")


def _season(hours: Hourly) -> Season | None:
    level, provisional = seasonal_so_far(hours.rh_percent)
    known = np.flatnonzero(np.isfinite(level))
    if not len(known):
        return None
    low, high, last = int(np.nanargmin(level)), int(np.nanargmax(level)), int(known[-1])
    return Season(
        float(level[low]), hours.time[low], float(level[high]), hours.time[high],
        float(level[last]), hours.time[last], bool(provisional[last]),
    )  # fmt: skip


def _band(hours: Hourly) -> BandTold | None:
    band: Band | None = fluctuation_band(hours.rh_percent)
    if band is None:
        return None
    return BandTold(
        band.p7, band.p93, band.low, band.high, band.widened, band.hours_outside, band.days, band.coverage,
        band.standard,
    )  # fmt: skip


def _cycles(hours: Hourly, name: str, tau_h: float) -> CycleTable:
    response = canvas_humidity(hours.rh_percent, tau_h)
    found = rainflow_cycles(response)
    largest = float(found.span.max()) if len(found.span) else float("nan")
    return CycleTable(name, tau_h, found.table(CYCLE_EDGES), largest, float(np.isfinite(response).sum() / 24))


def _not_yet(
    first: pd.Timestamp | None, season: Season | None, band: BandTold | None, control: tuple[ClassResult, ...]
) -> Iterator[NotYet]:
    def after(days: float) -> pd.Timestamp | None:
        return None if first is None else first + DAY * float(days)

    if season is None:
        yield NotYet("the seasonal level", after(SEASON_WINDOW_H / 24))
    elif season.provisional:
        yield NotYet("the season of the last 15 days, which is a trailing mean", season.last_at + 15 * DAY)
    if band is None:
        yield NotYet("a provisional band", after(BAND_PROVISIONAL_DAYS))
    if band is None or not band.standard:
        yield NotYet("the band as the standard asks for it", after(BAND_NEEDS_DAYS))
    open_types = ", ".join(result.name for result in control if result.met is None)
    if open_types:
        yield NotYet(f"whether it meets type {open_types}, of which nothing failed so far", after(BAND_NEEDS_DAYS))
