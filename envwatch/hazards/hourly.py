"""What a lining went through, hour by hour: temperature, and the humidity it came to by its own lag."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import CANVAS_BACK, PAINT_FACE, ROOM, Exposure
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, Mask
from envwatch.core.place import Point, Sensor
from envwatch.figures.canvas import INTENDED_TAIL_H
from envwatch.figures.coverage import WINDOW_NEEDS
from envwatch.hazards import windows
from envwatch.hazards.alike import held_at, once

HOUR = pd.Timedelta(hours=1)
SETTLES_H = DAY_H = 24
MONTH_H = 720  # the longest window


@dataclass(frozen=True, eq=False)
class Air:
    """Hourly air at one point over the whole exposure, history included, with the lag of one build-up.

    Attributes
    ----------
    rh_percent : (n,) the air; lagged_percent : (n,) what the layer has come to. NaN where nothing was read.
    settled_percent : (n,) the same without the hours in which it still leans on the state it was begun with.
    in_period, intended, drying, suspect : (n,) flags; `drying` is `intended` and the time it takes to dry after it.
    """

    point: Point
    time: pd.DatetimeIndex
    temp_c: Array
    temp_max_c: Array
    rh_percent: Array
    lagged_percent: Array
    settled_percent: Array
    tau_h: float
    in_period: Mask
    intended: Mask
    drying: Mask
    suspect: Mask
    sensor: Sensor
    coverage: float  # of the judged period, temperature and humidity both read
    temp_coverage: float
    exposure: Exposure
    start: pd.Timestamp  # of the judged period
    cut_from: Air | None = None  # all rows, where this holds the recent ones alone
    ends: tuple[Array, Array] | None = None  # between which a range is at its widest, where gaps leave it open
    _made: dict[tuple[str, str, int, int, str | None], Array] = field(default_factory=dict, repr=False)

    def window(self, how: str, values: str, hours: int, born: int, mask: str | None) -> Array:
        """A running "mean" or "range" of a series, from row `born` on; hours under `mask` do not go in. (n,)"""
        key = (how, values, hours, born, mask)
        if key not in self._made:
            unseen = np.zeros(len(self.time), bool) if mask is None else np.array(getattr(self, mask))
            unseen[:born] = True
            if how == "mean":
                self._made[key] = _mean(np.where(unseen, np.nan, getattr(self, values)), hours)
            else:
                of = self.ends or (getattr(self, values),) * 2
                low, high = (np.where(unseen, np.nan, end) for end in of)
                self._made[key] = climate.range_between(low, high, hours)
        return self._made[key]

    @property
    def whole(self) -> Air:
        """All rows of the exposure."""
        return self.cut_from or self

    def judged(self, hours: int) -> Mask:
        """True where a window of so many hours ends that the period judges. (n,)"""
        return windows.judged(self.exposure, self.start, self.time, hours)

    def after(self, hours: int) -> Mask:
        """True in the rows after the last window that the period judges. (n,)"""
        rows = windows.judged_rows(self.exposure, self.start, self.time, hours)
        return np.arange(len(self.time)) >= int(rows.stop)

    def recent(self) -> Air:
        """The rows that decide what the period shows: its own, and those that its windows and its lag look back on."""
        asked = windows.judged_rows(self.exposure, self.start, self.time, 1)
        first = max(min(asked.start, len(self.time)) - MONTH_H - int(10 * self.tau_h), 0)
        if not first or self.cut_from is not None:
            return self
        kept: dict[str, Any] = {name: getattr(self, name)[first:] for name in ROWS}
        return replace(self, **kept, cut_from=self, _made={})

    def trusted(self) -> Air:
        """All rows without the hours that bear a mark of doubt."""
        whole = self.whole
        names = ("temp_c", "temp_max_c", "rh_percent", "lagged_percent", "settled_percent")
        kept: dict[str, Any] = {name: np.where(whole.suspect, np.nan, getattr(whole, name)) for name in names}
        return replace(whole, **kept, _made={})

    def warmth_at_worst(self, sign: int) -> Air | None:
        """The same with each gap as hot (`sign` -1: cold) as it ever was in the week about it; None without gaps."""
        asked = windows.judged_rows(self.exposure, self.start, self.time, 1)
        if np.isfinite(self.temp_c[max(asked.start - MONTH_H, 0) : asked.stop]).all():
            return None
        return replace(self.whole, temp_c=climate.worst_in_gaps(self.whole.temp_c, sign), _made={})

    def at_worst(self, sign: int) -> Air | None:
        """The same at the worst that gaps leave open of humidity (`sign` -1: dry) and warmth; None without gaps.

        A range is between the two ends of humidity, but for the first hours of the record, which lean on its begin.
        """
        asked = windows.judged_rows(self.exposure, self.start, self.time, DAY_H)
        recent = slice(max(asked.start - DAY_H - int(10 * self.tau_h), 0), None)
        if np.isfinite([self.rh_percent[recent], self.temp_c[recent]]).all():
            return None
        whole = self.whole
        there = self.exposure.points.get(self.point, self.exposure.room)
        held = held_at(self.exposure, self.point, there, self.tau_h)
        begun = np.arange(len(whole.time)) >= min(3 * self.tau_h, SETTLES_H)
        low, high = (np.where(begun, end, np.nan) for end in (held.lowest, held.highest))
        return replace(
            whole, lagged_percent=held.highest if sign > 0 else held.lowest, ends=(low, high),
            temp_c=climate.worst_in_gaps(whole.temp_c), _made={},
        )  # fmt: skip

    def gap_doubt(self, row: int) -> float:
        """How far gaps before a row leave the lagged humidity open, as a half-width. [% RH]"""
        first = max(row - int(10 * self.tau_h), 0)
        recent = self.rh_percent[first : row + 1]
        if np.isfinite(recent).all():
            return 0.0
        low, held, high = climate.lagged_range(recent, self.tau_h)
        doubt = max(high[-1] - held[-1], held[-1] - low[-1])
        return float(doubt) if np.isfinite(doubt) else 0.0

    def zone(self, at: pd.Timestamp) -> str:
        """The zone of the place the painting stood in at a time."""
        return next((s.zone for s in self.exposure.stints if s.start <= at < s.end), self.exposure.zone)

    def decidable_on(self, values: str, hours: int, mask: str | None = None) -> pd.Timestamp | None:
        """The first time at which a window will have been read enough, if nothing is missed from the end on."""
        series = getattr(self, values)
        read = np.isfinite(series if mask is None else np.where(getattr(self, mask), np.nan, series))
        read = read[: self.time.searchsorted(self.exposure.end)]
        recent = np.concatenate([np.zeros(max(hours - len(read), 0), bool), read[-hours:]])
        held = np.append(np.cumsum(recent[::-1])[::-1], 0) + np.arange(hours + 1)  # k more hours: the last, and k new
        waits = int(np.argmax(held >= WINDOW_NEEDS * hours - 1e-9))
        return self.exposure.end + max(waits, hours - len(read)) * HOUR


# the fields of `Air` that have a value in each hour
ROWS = (
    "time", "temp_c", "temp_max_c", "rh_percent", "lagged_percent", "settled_percent", "in_period", "intended",
    "drying", "suspect",
)  # fmt: skip


def _mean(series: Array, hours: int) -> Array:
    """Running mean, kept between least and largest value of its window, where rounding could carry it out."""
    least, most = climate.running_extremes(series, hours)
    return np.clip(climate.running_mean(series, hours), least, most)


def points(exposure: Exposure, start: pd.Timestamp) -> list[tuple[Point, Climate]]:
    """The points to judge at: first the one that decides what was seen, then others that can only make it worse.

    The back of the canvas decides where it was read as well as any other; else the room, else the paint face. Room air
    does not stand beside the back of the canvas where that decides.
    """
    names = [point for point in (CANVAS_BACK, ROOM, PAINT_FACE) if point in exposure.points]
    if not names:
        return [(ROOM, exposure.room)]
    judged = {point: exposure.points[point].between(start, exposure.end) for point in names}
    seen = {point: max(there.coverage, there.temp_coverage) for point, there in judged.items()}
    decides = next(point for point in names if seen[point] >= max(seen.values()) - 0.01)
    if decides == CANVAS_BACK:
        names = [point for point in names if point != ROOM]
    return [(point, exposure.points[point]) for point in sorted(names, key=lambda point: point != decides)]


def air_at(exposure: Exposure, start: pd.Timestamp, point: Point, there: Climate, tau_h: float) -> Air:
    """The recent rows of the air at a point, made once for as many layers and paintings as ask."""
    return once(exposure, ("air", start, point, tau_h), lambda: _air(exposure, start, point, there, tau_h).recent())


def _air(exposure: Exposure, start: pd.Timestamp, point: Point, there: Climate, tau_h: float) -> Air:
    hours = climate.hourly(there)
    # the lag runs through short gaps, but an hour that was not read stays unread
    lagged = np.where(np.isfinite(hours.rh_percent), held_at(exposure, point, there, tau_h).held, np.nan)
    judged = there.between(start, exposure.end)
    intended, drying = _intended(exposure, hours.time, tau_h)
    return Air(
        point, hours.time, hours.temp_c, hours.temp_max_c, hours.rh_percent, lagged, _settled(lagged, tau_h), tau_h,
        _in_period(exposure, start, hours.time), intended, drying, _suspect(there, hours.time), there.sensor,
        judged.coverage, judged.temp_coverage, exposure, start,
    )  # fmt: skip


def _in_period(exposure: Exposure, start: pd.Timestamp, time: pd.DatetimeIndex) -> Mask:
    return np.asarray((time >= start.floor("h")) & (time < exposure.end))


def _settled(lagged: Array, tau_h: float) -> Array:
    """Without the first three time constants, at most a day, of the record and after a gap of a day or more."""
    read = np.isfinite(lagged)
    rows = np.arange(len(lagged))
    last = np.maximum.accumulate(np.where(read, rows, -SETTLES_H))  # row of the last hour read
    gap = rows - np.concatenate([[-SETTLES_H], last[:-1]]) - 1
    begun = np.maximum.accumulate(np.where(read & (gap >= SETTLES_H - 1), rows, -1))
    return np.where(read & (rows - begun >= min(3 * tau_h, SETTLES_H)), lagged, np.nan)


def _intended(exposure: Exposure, time: pd.DatetimeIndex, tau_h: float) -> tuple[Mask, Mask]:
    """Hours touched by an intended stay; and these with the time a layer takes to come back from it."""
    during, after = np.zeros(len(time), bool), np.zeros(len(time), bool)
    tail = pd.Timedelta(hours=min(3 * tau_h, float(INTENDED_TAIL_H)))
    for stint in exposure.stints:
        if stint.intended:
            begun = np.asarray(time >= stint.start.floor("h"))
            during |= begun & np.asarray(time < stint.end)
            after |= begun & np.asarray(time < stint.end + tail)
    return during, after


def _suspect(there: Climate, time: pd.DatetimeIndex) -> Mask:
    mask = np.zeros(len(time), bool)
    if len(time) and there.suspect.any():
        at = time.searchsorted(there.time[there.suspect].floor("h"))
        mask[at[at < len(time)]] = True
    return mask
