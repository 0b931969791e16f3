"""One exposure hour by hour at one point: what every hazard looks at, and which windows of it a period judges.

Of consecutive weekly reviews each window is judged in exactly one. A window up to seven days long belongs to the week
that holds most of it (a tie: the later week), so it may end up to half its length after the week; a longer one belongs
to the week in which it ends. An hour is the shortest window. What ends after the week is judged as far as it had been
read when the review was made; what had not, the review of the next week judges besides its own (`Exposure.reviewed`),
and nobody else. So no window is lost between a Monday's fetch and the next, and none is judged twice. Two limits, both
on the side of care: a window that ends within its week is judged there although up to a quarter of it is missing, as
everywhere, and once more with the next week when its last hours have come; and where the week before was not reviewed
nothing is taken over from it, for its review can still be made.

Windows beside each other share hours: a day far over a limit brings windows over it in which it is the lesser part. So
`told`: windows over one limit in a row, no more than twice their length and a week (two weeks of changes, which are
over once made), tell of one spell, and those that overlap the worst of them leave it to that one's week. What goes on
for longer is told in each week that holds a window of it: a review is never silent on what lasts.

Any other period (from one day to another, today so far, since the last review, the part of a week until a painting
left) asks how things stand: it judges the windows of every length that end in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Self

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import CANVAS_BACK, PAINT_FACE, ROOM, WALL_FACE, Exposure
from envwatch.climate.hours import HOUR_US
from envwatch.climate.series import Climate
from envwatch.core import text
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.period import SEVEN_DAYS
from envwatch.core.place import Point, Sensor
from envwatch.figures.canvas import INTENDED_TAIL_H
from envwatch.figures.coverage import WINDOW_NEEDS
from envwatch.figures.walls import CANVAS_BACK_U_K, WALL_FACE_U_K
from envwatch.hazards.grading import LEANS_ON

HOUR = pd.Timedelta(hours=1)
WEEK_US = SEVEN_DAYS.value // 1000
RECKONED = {WALL_FACE: WALL_FACE_U_K, CANVAS_BACK: CANVAS_BACK_U_K}


@dataclass(frozen=True, eq=False)
class HourlyExposure:
    """The air at one point of an exposure hour by hour, history and the hours after its period included.

    A hazard adds to it what it makes of that air (a canvas, a layer, a surface on which mould may grow).

    Attributes
    ----------
    start, end : of the judged period, which ends where the exposure does.
    there : the air as it was read.
    period : the readings of the judged period.
    tau_h : time constant with which what is judged follows it; 0: what is judged is the air itself. [h]
    time : (n,) whole UTC hours without a gap.
    temp_c, rh_percent : (n,) hourly means, NaN where not read. [°C], [% RH]
    left_out : (n,) hours of which nothing is told; None: of all.
    """

    exposure: Exposure
    start: pd.Timestamp
    end: pd.Timestamp
    point: Point
    there: Climate
    period: Climate
    tau_h: float
    time: pd.DatetimeIndex
    temp_c: Array
    rh_percent: Array
    left_out: Mask | None = field(default=None, kw_only=True)
    known_rows: dict[float, slice] = field(default_factory=dict, init=False, repr=False)  # of `judged_rows`

    @classmethod
    def at(
        cls, exposure: Exposure, start: pd.Timestamp, point: Point, there: Climate, tau_h: float = 0.0, **made: Any
    ) -> Self:
        """The air at a point as hourly means, with what a hazard makes of it."""
        hours = climate.hourly(there)
        return cls(
            exposure, start, exposure.end, point, there, exposure.part(point, start), tau_h,
            hours.time, hours.temp_c, hours.rh_percent, **made,
        )  # fmt: skip

    @cached_property
    def in_period(self) -> Mask:
        """The hours that the judged period touches. (n,)"""
        mask = np.zeros(len(self.time), bool)
        mask[self._ended_by(self.start.value // 1000) : self._ended_by(self.exposure.end.value // 1000 - 1) + 1] = True
        return mask

    @cached_property
    def intended(self) -> Mask:
        """The hours that an intended stay touches, which raise no alarm. (n,)"""
        return self.exposure.intended_mask(self.time, tail_h=0.0)

    @cached_property
    def drying(self) -> Mask:
        """These, and the hours in which what follows the air comes back from such a stay. (n,)"""
        return self.exposure.intended_mask(self.time, tail_h=min(3 * self.tau_h, float(INTENDED_TAIL_H)))

    @cached_property
    def suspect(self) -> Mask:
        """The hours in which a reading bears a mark of doubt. (n,)"""
        mask = np.zeros(len(self.time), bool)
        if len(self.time) and self.there.suspect.any():
            hours = self.there.time[self.there.suspect].floor("h")
            at = self.time.searchsorted(hours)
            mask[at[(at < len(mask)) & (hours >= self.time[0])]] = True
        return mask

    @cached_property
    def held(self) -> climate.LaggedRange:
        """The humidity that what follows the air had come to, once for all that do so as fast. All (n,) [% RH]"""
        key = ("held", self.point, self.tau_h)
        return self.exposure.once(key, lambda: climate.canvas_humidity_range(self.rh_percent, self.tau_h))

    def judged_rows(self, hours: float) -> slice:
        """The rows that end a window of so many hours which the period judges; a row's window ends with its hour.

        Source: our rule, see the module.
        """
        if hours in self.known_rows:
            return self.known_rows[hours]
        exposure, start_us, end_us = self.exposure, self.start.value // 1000, self.exposure.end.value // 1000
        if not exposure.weekly:
            return slice(self._ended_by(start_us), self._ended_by(end_us + HOUR_US - 1))
        first, stop = self._first_of(start_us, hours), self._first_of(end_us, hours)
        if exposure.reviewed is not None:
            before = self._first_of(start_us - WEEK_US, hours)
            first = min(first, max(before, self._ended_by(exposure.reviewed.value // 1000)))
        stop = max(min(stop, self._ended_by(max(end_us, self._read_until_us))), first)
        return self.known_rows.setdefault(hours, slice(first, stop))

    def judged(self, hours: float = 1) -> Mask:
        """`judged_rows` as flags, but of hours that are left out. (n,)"""
        mask = np.zeros(len(self.time), bool)
        mask[self.judged_rows(hours)] = True
        return mask if self.left_out is None else mask & ~self.left_out

    def worst(
        self, values: Array | Whole, hours: float, limits: Sequence[float] = (), sign: int = 1, longest_h: float = 168.0
    ) -> tuple[float, int]:
        """The worst value formed over so many hours of which the period tells (`told_rows`), and its row.

        NaN and -1 where there is none. (n,) `values`; `limits` from mild to severe; `sign` -1: worse the lower.
        """
        rows, value = self.judged_rows(hours), sign * np.asarray(values, np.float64)
        value = value if self.left_out is None else np.where(self.left_out, np.nan, value)
        told = value[rows]
        if limits and (told >= sign * float(limits[0])).any():  # what is within all limits is told by its own week
            level = np.zeros(len(value), int)
            for limit in limits:
                level += value >= sign * float(limit)
            told = np.where(self.told_rows(hours, value, level, longest_h)[rows], told, np.nan)
        told = np.where(np.isnan(told), -np.inf, told)
        at = int(told.argmax()) if len(told) else -1
        return (sign * float(told[at]), rows.start + at) if at >= 0 and told[at] > -np.inf else (np.nan, -1)

    def told_rows(self, hours: float, value: Array | Whole, level: Whole, longest_h: float = SEVEN_DAYS / HOUR) -> Mask:
        """The judged rows of windows of so many hours without those of a spell that another week tells. (n,)

        Parameters
        ----------
        value : (n,) what the windows came to, the higher the worse.
        level : (n,) `Level` as integers, CLEAR or less within all limits. NaN values have none.
        longest_h : rows of windows that tell of one spell, at most. [h]

        In a weekly review windows over one limit that follow each other without a break, over no more than twice their
        length and `longest_h`, tell of one spell: those that overlap the worst of them (of equal ones the middle) leave
        it to the week of that one. They do not where that week had not been read when this review was made; then the
        spell is told here, and by the next review only what goes on for a window more, or worse.
        """
        mask, rows = self.judged(hours), self.judged_rows(hours)
        over = level[rows] > 0
        if not self.exposure.weekly or hours < 2 or not over.any():
            return mask
        known = self._ended_by(max(self.exposure.end.value // 1000, self._read_until_us))
        for reached in np.unique(level[rows][over]):
            worse = np.where(level >= reached, value, -np.inf)
            for first, last in zip(*climate.rows_of_spells(level[:known] >= reached)[:2], strict=True):
                over_an_edge = first < rows.start <= last or first < rows.stop <= last
                if not over_an_edge or last - first >= min(2 * hours, longest_h):
                    continue
                at = self._teller(hours, worse, first, last)
                if at is not None and not rows.start <= at < rows.stop:
                    near = slice(max(int(at - hours) + 1, rows.start), min(int(at + hours), rows.stop))
                    mask[near] &= level[near] != reached
        return mask if mask.any() else self.judged(hours)

    def _teller(self, hours: float, value: Array, first: int, last: int) -> int | None:
        """The row that tells of a run: its worst, or the worst that the review of the week before told of it."""
        end, reviewed = self.exposure.end, self.exposure.reviewed
        if reviewed is not None and reviewed < end:
            before = min(self._first_of(self.start.value // 1000, hours), self._ended_by(reviewed.value // 1000))
            if first < before:
                return _worst(value, first, before - 1)
        at, end_us = _worst(value, first, last), end.value // 1000
        return None if at >= self._first_of(end_us, hours) and self._read_until_us < end_us + WEEK_US else at

    def _first_of(self, week_us: int, hours: float) -> int:
        """The first row whose window belongs to the week that begins then, or to a later one. [µs since 1970]"""
        return self._ended_by(week_us if hours > WEEK_US / HOUR_US else week_us + round(hours * HOUR_US / 2) - 1)

    def _ended_by(self, moment_us: int) -> int:
        """How many rows have ended by a moment, and so the first that ends after it. [µs since 1970]"""
        time_us = self.time.asi8
        return min(max((moment_us - int(time_us[0])) // HOUR_US, 0), len(time_us)) if len(time_us) else 0

    @cached_property
    def _read_until_us(self) -> int:
        return (self.exposure.read_until or self.exposure.start).value // 1000

    def sensor_at(self, row: int, hours: float = 1, tau_h: float = 0.0) -> Sensor:
        """The trust in the loggers that read a value formed over so many hours, and what its lag leans on."""
        until = self.time[row] + HOUR
        return self.there.sensor_over(until - (hours + LEANS_ON * tau_h) * HOUR, until)

    def date(self, at: pd.Timestamp) -> str:
        """A day with its year in words, by the clock of the place."""
        return text.date(at, self.exposure.zone)

    def moment(self, at: pd.Timestamp) -> str:
        """A time in words, by the clock of the place: "Tue 3 Nov 2026, 15:00"."""
        return text.moment(at, self.exposure.zone)

    def decidable_on(self, read: Mask, hours: int, need: float = WINDOW_NEEDS, begun: int = 0) -> pd.Timestamp:
        """The first time at which a window will have been read enough, if nothing is missed from the end on.

        read : (n,) the hours that go in. need : share of them. begun : row from which on a whole window is asked for.
        """
        stop = int(self.time.searchsorted(self.end))
        recent = read[max(stop - hours, 0) : stop]
        recent = np.concatenate([np.zeros(hours - len(recent), bool), recent])
        held = np.append(np.cumsum(recent[::-1])[::-1], 0) + np.arange(hours + 1)  # k more hours: the last, and k new
        waits = int(np.argmax(held >= need * hours - 1e-9))
        return self.end + max(waits, hours - (stop - begun)) * HOUR


def judged_from(exposure: Exposure, start: pd.Timestamp) -> pd.Timestamp:
    """From when on single readings are judged: the start, or where the review of the week before had read to."""
    if not exposure.weekly or exposure.reviewed is None:
        return start
    return min(start, max(exposure.reviewed, start - SEVEN_DAYS))


def _worst(value: Array, first: int, last: int) -> int:
    """The row of the highest value of a run; of equal ones the middle, and of two in the middle the later."""
    part = value[first : last + 1]
    top = np.flatnonzero(part >= part.max() - 1e-9)
    return first + int(top[len(top) // 2])


def points(exposure: Exposure, start: pd.Timestamp) -> list[tuple[Point, Climate]]:
    """The points to judge at: first the one that decides what was seen, then others that can only make it worse.

    The back of the canvas decides where it was read as well as any other; else the room, else the paint face. Room air
    does not stand beside the back of the canvas where that decides.
    """
    names = [point for point in (CANVAS_BACK, ROOM, PAINT_FACE) if point in exposure.points]
    if not names:
        return [(ROOM, exposure.room)]
    judged = {point: exposure.part(point, start) for point in names}
    seen = {point: max(there.coverage, there.temp_coverage) for point, there in judged.items()}
    decides = next(point for point in names if seen[point] >= max(seen.values()) - 0.01)
    if decides == CANVAS_BACK:
        names = [point for point in names if point != ROOM]
    return [(point, exposure.points[point]) for point in sorted(names, key=lambda point: point != decides)]


def reckoned_u_k(point: Point, there: Climate) -> float:
    """What a face that no sensor touches may be off by, and no less than the two ends of its wall where run. [K]"""
    return max(float(RECKONED.get(point, 0.0)), there.reckoned_u_k)


__all__ = ["HOUR", "RECKONED", "HourlyExposure", "judged_from", "points", "reckoned_u_k"]
