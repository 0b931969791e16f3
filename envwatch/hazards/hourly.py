"""One exposure hour by hour at one point: what every hazard looks at, and which of its hours a period judges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Self

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.climate.exposure import CANVAS_BACK, PAINT_FACE, ROOM, WALL_FACE, Exposure
from envwatch.climate.series import Climate
from envwatch.core import text
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.place import Point, Sensor
from envwatch.figures.canvas import INTENDED_TAIL_H
from envwatch.figures.coverage import WINDOW_NEEDS
from envwatch.figures.walls import CANVAS_BACK_U_K, WALL_FACE_U_K
from envwatch.hazards import windows
from envwatch.hazards.working import LEANS_ON

HOUR = pd.Timedelta(hours=1)
RECKONED = {WALL_FACE: WALL_FACE_U_K, CANVAS_BACK: CANVAS_BACK_U_K}


@dataclass(frozen=True, eq=False)
class HourlyExposure:
    """The air at one point of an exposure hour by hour, history and the hours after its period included.

    A hazard adds to it what it makes of that air (a canvas, a layer, a surface on which mould may grow).

    Attributes
    ----------
    start, end : of the judged period, which ends where the exposure does.
    there : the air as it was read.
    tau_h : time constant with which what is judged follows it; 0: what is judged is the air itself. [h]
    time : (n,) whole UTC hours without a gap.
    temp_c, rh_percent : (n,) hourly means, NaN where not read. [°C], [% RH]
    """

    exposure: Exposure
    start: pd.Timestamp
    end: pd.Timestamp
    point: Point
    there: Climate
    tau_h: float
    time: pd.DatetimeIndex
    temp_c: Array
    rh_percent: Array

    @classmethod
    def at(
        cls, exposure: Exposure, start: pd.Timestamp, point: Point, there: Climate, tau_h: float = 0.0, **made: Any
    ) -> Self:
        """The air at a point as hourly means, with what a hazard makes of it."""
        hours = climate.hourly(there)
        return cls(
            exposure, start, exposure.end, point, there, tau_h, hours.time, hours.temp_c, hours.rh_percent, **made
        )

    @cached_property
    def period(self) -> Climate:
        """The readings of the judged period."""
        return self.there.between(self.start, self.exposure.end)

    @cached_property
    def in_period(self) -> Mask:
        """The hours that the judged period touches. (n,)"""
        return np.asarray((self.time >= self.start.floor("h")) & (self.time < self.exposure.end))

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
        """The rows that end a window of so many hours which the period judges."""
        first = (self.time.unit, int(self.time.asi8[0])) if len(self.time) else ()  # without a gap: it says all
        key = ("judged rows", self.start, hours, len(self.time), first)
        return self.exposure.once(key, lambda: windows.judged_rows(self.exposure, self.start, self.time, hours))

    def judged(self, hours: float) -> Mask:
        """`judged_rows` as flags. (n,)"""
        mask = np.zeros(len(self.time), bool)
        mask[self.judged_rows(hours)] = True
        return mask

    def later(self, hours: float) -> Mask:
        """True after the last window of so many hours that the period judges. (n,)"""
        return np.arange(len(self.time)) >= int(self.judged_rows(hours).stop)

    def told(
        self, values: Array | Whole, hours: float, limits: Sequence[float], sign: int = 1, longest_h: float = 168.0
    ) -> Array:
        """Values formed over so many hours where the period tells of them (`windows.told`), NaN elsewhere. (n,)

        `limits` from mild to severe; `sign` -1: worse the lower.
        """
        level = np.zeros(len(values), int)
        with np.errstate(invalid="ignore"):
            for limit in limits:
                level += sign * values >= sign * float(limit)
        rows = self.judged_rows(hours)
        mask = windows.told(self.exposure, self.start, self.time, rows, hours, sign * values, level, longest_h)
        return np.where(mask, values, np.nan)

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


def reckoned_u_k(point: Point, there: Climate) -> float:
    """What a face that no sensor touches may be off by, and no less than the two ends of its wall where run. [K]"""
    return max(float(RECKONED.get(point, 0.0)), there.reckoned_u_k)


__all__ = ["HOUR", "RECKONED", "HourlyExposure", "points", "reckoned_u_k"]
