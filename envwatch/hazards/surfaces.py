"""The surfaces that matter for one painting, hour by hour: what mould and water see."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
import pandas as pd

from envwatch import air, climate
from envwatch.climate.exposure import CANVAS_BACK, WALL_FACE, WHERE, Exposure
from envwatch.climate.series import Climate
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.findings import Certainty, Finding, Level
from envwatch.core.place import Point, Sensor
from envwatch.core.text import day
from envwatch.figures.coverage import CLEAR_NEEDS
from envwatch.figures.mould import DAMP_CLOCK
from envwatch.figures.walls import CANVAS_BACK_U_K, WALL_FACE_U_K
from envwatch.hazards import windows

LOOKS_BACK = pd.Timedelta(hours=int(max(rung.within or rung.hours for rung in DAMP_CLOCK)))  # the longest window
RECKONED = {WALL_FACE: WALL_FACE_U_K, CANVAS_BACK: CANVAS_BACK_U_K}


def reckoned_u_k(point: Point, there: Climate) -> float:
    """What a face that no sensor touches may be off by, and no less than the two ends of its wall where run. [K]"""
    return max(float(RECKONED.get(point, 0.0)), there.reckoned_u_k)


@dataclass(frozen=True, eq=False)
class Surface:
    """Hourly air at one point up to the end of the period, history included; the judged hours begin at row `first`.

    `whole` holds the hours after it too, where there are some, for the windows that end there.
    """

    point: Point
    time: pd.DatetimeIndex
    temp_c: Array
    rh_percent: Array
    first: int
    intended: Mask  # true in hours of an intended stay, which raise no alarm
    sensor: Sensor
    coverage: float  # of the judged period, temperature and humidity both read
    doubtful: bool  # most readings of the judged period bear a quality mark
    zone: str
    reckoned_u_k: float = 0.0  # half-width of the temperature of a face that was reckoned. [K]
    rows_of: Callable[[pd.DatetimeIndex, float], slice] | None = None  # `judged_rows` of the period
    values_of: Callable[..., Array] | None = None  # `told_values` of the period
    with_later: Surface | None = None
    recent_sensor: Sensor | None = None  # of the loggers that read what a window of the period looks back on

    @property
    def whole(self) -> Surface:
        """The same with the hours after the period."""
        return self.with_later or self

    def judged_rows(self, hours: float) -> slice:
        """The rows that end a window of so many hours which the period judges."""
        return self.rows_of(self.time, hours) if self.rows_of else slice(self.first, len(self.time))

    def told(self, values: Array | Whole, hours: float, limit: float) -> Array:
        """Values formed over so many hours where the period tells of them, NaN elsewhere. (n,)"""
        if self.values_of is None:
            return np.where(np.arange(len(values)) >= self.first, values, np.nan)
        return self.values_of(self.time, hours, values, (limit,))

    @property
    def where(self) -> str:
        """The point in words."""
        return WHERE[self.point]

    @cached_property
    def bias_percent(self) -> float:
        """What all readings may be off by together: the sensor, and the reckoning of a face that no sensor touches."""
        return self._off_by(self.sensor)

    @cached_property
    def recent_bias_percent(self) -> float:
        """The same of the readings that a window of the period looks back on, no further."""
        return self._off_by(self.recent_sensor or self.sensor)

    def _off_by(self, sensor: Sensor) -> float:
        unsure_k = self.reckoned_u_k
        off = air.rh_at(self.temp_c, self.rh_percent, self.temp_c - unsure_k) - self.rh_percent
        reckoned = float(np.median(off[np.isfinite(off)])) if unsure_k and np.isfinite(off).any() else 0.0
        return float(np.hypot(sensor.rh_bias_percent, reckoned))

    @property
    def read(self) -> Mask:
        """True where both were read."""
        return np.isfinite(self.temp_c) & np.isfinite(self.rh_percent)

    @property
    def end(self) -> pd.Timestamp:
        """End of the last hour."""
        return self.time[-1] + pd.Timedelta(hours=1)

    def day(self, stamp: pd.Timestamp) -> str:
        """A day in words, in the zone of the place, with its year."""
        local = stamp.tz_convert(self.zone)
        return f"{day(local)} {local.year}"


def surfaces(exposure: Exposure, start: pd.Timestamp) -> list[Surface]:
    """The surfaces of which anything was read in the judged period or before it, room first."""
    found = []
    for point, air_there in exposure.points.items():
        hours = climate.hourly(air_there)
        judged = air_there.between(start, exposure.end)
        doubtful = len(judged.suspect) > 0 and bool(judged.suspect.mean() > 0.5)
        rows = windows.judged_rows(exposure, start, hours.time, 1)
        whole = Surface(
            point, hours.time, hours.temp_c, hours.rh_percent, rows.start,
            exposure.intended_mask(hours.time), air_there.sensor, judged.coverage, doubtful, exposure.zone,
            reckoned_u_k(point, air_there), partial(windows.judged_rows, exposure, start),
            partial(windows.told_values, exposure, start),
            recent_sensor=air_there.sensor_over(start - LOOKS_BACK, air_there.end),
        )  # fmt: skip
        surface = _cut(whole, rows.stop) if rows.stop < len(hours.time) else whole
        if surface.read.any():
            found.append(surface)
    return found


def _cut(whole: Surface, stop: int) -> Surface:
    """A surface without the rows from `stop` on."""
    kept = {name: getattr(whole, name)[:stop] for name in ("time", "temp_c", "rh_percent", "intended")}
    return replace(whole, **kept, with_later=whole)


def worst_of(seen: list[Surface], judge: Callable[[Surface], Finding]) -> Finding:
    """The worst finding over the surfaces; the others go under `why`.

    By level; at the same level the painting's own surfaces before the wall behind it, those seen in the period before
    those known from their history alone, then the nearest to its limit.
    """
    found = [judge(surface) for surface in seen]
    worst = max(found, key=_rank)
    if seen[found.index(worst)].doubtful:
        worst = replace(
            worst, certainty=Certainty.CANNOT_TELL, sentence=f"{worst.sentence} Most readings are doubtful."
        )
    other = max((f for f in found if f.level_high is not None), key=lambda f: int(f.level_high or 0), default=worst)
    if (other.level_high or worst.level) > max(worst.level, worst.level_high or worst.level):
        word = (other.level_high or worst.level).word
        worst = replace(
            worst, certainty=Certainty.CANNOT_TELL, level_high=other.level_high,
            sentence=f"{worst.sentence.removesuffix('.')}; {WHERE[other.point]} it may be {word}.",
        )  # fmt: skip
    looked = "; ".join(f"{f.point.replace('_', ' ')} {f.value:.2f} {f.unit}: {f.level.word}" for f in found)
    return replace(worst, working=(*worst.working, ("looked at", looked)))


def _rank(found: Finding) -> tuple[Level, bool, bool, float]:
    nearness = found.value / found.limit if found.limit else found.value
    seen = found.coverage >= CLEAR_NEEDS
    return found.level, found.point != WALL_FACE, seen, float(np.nan_to_num(nearness))


def run_start(passed: Mask, at: int) -> int:
    """First row of the unbroken run of true values that ends at row `at` or later."""
    broken = np.flatnonzero(~passed[: at + 1])
    return int(broken[-1]) + 1 if len(broken) else 0


def decidable_on(surface: Surface, window_h: float, need: float) -> pd.Timestamp:
    """The first hour at which enough of a trailing window will have been read, if nothing is missed from now on."""
    window = int(window_h)
    read = surface.read[-window:]
    read = np.concatenate([np.zeros(window - len(read), bool), read])
    # after k more hours the window holds the last (window - k) of these and k new ones
    still = np.append(np.cumsum(read[::-1])[::-1], 0) + np.arange(window + 1)
    waits = int(np.argmax(still >= need * window - 1e-9))
    whole = pd.Timedelta(hours=window) - (surface.end - surface.time[surface.read][0])
    return surface.end + max(pd.Timedelta(hours=waits), whole)
