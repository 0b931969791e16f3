"""Air at one point over a span, and what time a reading stands for: decided where it stands, and nowhere but here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import blake2b
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from envwatch import air
from envwatch.core.arrays import Array, ArrayLike, Mask, Whole
from envwatch.core.place import Sensor, poorest
from envwatch.core.text import AT_LEAST, AT_MOST, Bound
from envwatch.figures.coverage import STAMP_TELLS_H, STANDS_MOST_H

NEIGHBOURS = 25  # steps of a neighbourhood: readings so far away have no say
GAP_FROM = 1.5  # times the ordinary step
REPEATED, ALIKE = 6, 1.2  # steps in a row, and the longest over the shortest of them, that are an interval
OF_TEMP, OF_RH = 1, 2  # what of a reading is a bound


def _frozen(values: ArrayLike, dtype: type[np.generic] = np.float64) -> NDArray[Any]:
    array = np.array(values, dtype)  # a copy: the caller's array stays writable
    array.flags.writeable = False
    return array


@dataclass(frozen=True, eq=False)
class Climate:
    """Air at one point over a span. Make one with `Climate.of`, so that it cannot be inconsistent.

    Attributes
    ----------
    time : (n,) UTC index, strictly increasing; there is no row where nothing was read.
    temp_c, rh_percent : (n,) readings; NaN where that quantity was not read. [°C], [% RH]
    dew_point_c, vapour_pa : (n,) computed once from the two. [°C], [Pa]
    hours : (n,) time each reading stands for, capped so that a gap counts for nobody. [h]
    suspect : (n,) true where a reading bears a quality mark but stays in.
    start, end : the span asked for, which the readings may not fill.
    sensor : the trust in the logger; the poorer one where several took turns.
    sensors, read_by : where several took turns, the trust in each, and which of them each reading is of, (n,).
    notes : plain sentences a reader of any result must see.
    reckoned_u_k : half-width of a surface's temperature where it was reckoned and not read. [K]
    bounded : (n,) readings that the file gives as a bound (">95"), `OF_TEMP` or `OF_RH` or both; None where none is.
    """

    time: pd.DatetimeIndex
    temp_c: Array
    rh_percent: Array
    dew_point_c: Array
    vapour_pa: Array
    hours: Array
    suspect: Mask
    start: pd.Timestamp
    end: pd.Timestamp
    sensor: Sensor = Sensor()
    notes: tuple[str, ...] = ()
    reckoned_u_k: float = 0.0
    sensors: tuple[Sensor, ...] = ()
    read_by: NDArray[np.uint8] | None = None
    bounded: NDArray[np.uint8] | None = None

    @cached_property
    def digest(self) -> bytes:
        """One key for all that it holds: equal airs have the same, what was corrected has another."""
        told = (self.start, self.end, self.sensor, self.notes, self.reckoned_u_k, self.sensors)
        made = blake2b(repr(told).encode(), digest_size=16)
        readings = (self.temp_c, self.rh_percent, self.dew_point_c, self.vapour_pa)
        for column in (self.time.asi8, *readings, self.hours, self.suspect, self.read_by, self.bounded):
            if column is not None:
                made.update(np.ascontiguousarray(column).data)
        return made.digest()

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, Climate) and self.digest == other.digest)

    def __hash__(self) -> int:
        return hash(self.digest)

    @classmethod
    def of(
        cls, time: pd.DatetimeIndex, temp_c: ArrayLike, rh_percent: ArrayLike, *,
        start: pd.Timestamp | None = None, end: pd.Timestamp | None = None, hours: ArrayLike | None = None,
        suspect: ArrayLike | None = None, sensor: Sensor | None = None, notes: Sequence[str] = (),
        bounded: NDArray[np.uint8] | None = None,
    ) -> Climate:  # fmt: skip
        """A climate from readings in time order.

        Parameters
        ----------
        time : (n,) UTC times, strictly increasing.
        temp_c, rh_percent : (n,) readings, NaN where missing. [°C], [% RH]
        start, end : the span; by default the first reading to the end of the last one.
        hours, suspect : (n,) what each stands for, by default as `stand_for_hours` has it [h]; marks, by default none.

        Raises
        ------
        ValueError : times without a zone or out of order, or arrays of different lengths.

        >>> c = Climate.of(pd.date_range("2026-01-05", periods=3, freq="h", tz="UTC"), [18, 18, 19], [50, 51, 52])
        >>> c.hours.tolist(), round(c.coverage, 3)
        ([1.0, 1.0, 1.0], 1.0)
        """
        time = pd.DatetimeIndex(time)
        if len(time) and time.tz is None:
            raise ValueError("times carry no zone: pass UTC")
        time = time.tz_localize("UTC") if time.tz is None else time.tz_convert("UTC").as_unit("us")
        temp_c, rh_percent = _frozen(temp_c), _frozen(rh_percent)
        suspect = _frozen(np.zeros(len(time)) if suspect is None else suspect, np.bool_)
        if not len(time) == len(temp_c) == len(rh_percent) == len(suspect):
            raise ValueError(f"{len(time)} times, {len(temp_c)} temperatures, {len(rh_percent)} humidities")
        if not time.is_monotonic_increasing or time.has_duplicates:
            raise ValueError("times are not strictly increasing")
        hours = _frozen(stand_for_hours(time) if hours is None else hours)
        if len(time):
            start = time[0] if start is None else start
            end = time[-1] + pd.Timedelta(hours=float(hours[-1])) if end is None else end
        elif start is None or end is None:
            raise ValueError("a climate without readings needs a start and an end")
        vapour_pa = air.vapour_pressure(temp_c, rh_percent)
        return cls(
            time, temp_c, rh_percent, _frozen(air.dew_point_from_vapour(vapour_pa)), _frozen(vapour_pa),
            hours, suspect, start, end, sensor or Sensor(), tuple(notes),
            bounded=None if bounded is None or not bounded.any() else _frozen(bounded, np.uint8),
        )  # fmt: skip

    def sensor_over(self, start: pd.Timestamp, end: pd.Timestamp) -> Sensor:
        """The trust in what was read in [start, end): the poorest of its loggers; of all where nothing was read."""
        if self.read_by is None:
            return self.sensor
        lo, hi = np.searchsorted(self.time.asi8, [-(-start.value // 1000), -(-end.value // 1000)])
        return poorest([self.sensors[n] for n in np.unique(self.read_by[lo:hi]).tolist()] or self.sensors)

    def trusted_as(self, change: Callable[[Sensor], Sensor]) -> Climate:
        """The same air with the trust in every logger changed."""
        return replace(self, sensor=change(self.sensor), sensors=tuple(map(change, self.sensors)))

    @property
    def span_hours(self) -> float:
        """Length of the span asked for. [h]"""
        return max((self.end - self.start).total_seconds() / 3600, 0.0)

    @cached_property
    def coverage(self) -> float:
        """Share of the span in which temperature and humidity were both read, 0 to 1."""
        return self._share(np.isfinite(self.temp_c) & np.isfinite(self.rh_percent))

    @cached_property
    def temp_coverage(self) -> float:
        """Share of the span in which temperature was read, 0 to 1: heat needs no humidity."""
        return self._share(np.isfinite(self.temp_c))

    def _share(self, read: Mask) -> float:
        return min(float(self.hours[read].sum()) / self.span_hours, 1.0) if self.span_hours else 0.0

    def between(self, start: pd.Timestamp, end: pd.Timestamp) -> Climate:
        """The part of the climate in [start, end), asked for as that span.

        A reading of a slow logger (over `STAMP_TELLS_H`) that still stands at `start` is a row there, for what is left.
        """
        time_us, begin_us = self.time.asi8, -(-start.value // 1000)
        lo, hi = np.searchsorted(time_us, [begin_us, -(-end.value // 1000)]).tolist()
        stands_us = 0
        if lo and self.hours[lo - 1] > STAMP_TELLS_H:
            stands_us = int(time_us[lo - 1]) + round(float(self.hours[lo - 1]) * 3.6e9) - begin_us
        kept = slice(lo - 1 if stands_us > 0 else lo, hi)
        time, time_us, hours = self.time[kept], time_us[kept], self.hours[kept]
        if stands_us > 0:
            time_us, hours = np.append(begin_us, time_us[1:]), np.append(stands_us / 3.6e9, hours[1:])
            time = pd.DatetimeIndex(time_us.view("M8[us]"), tz="UTC")
        hours = _frozen(np.minimum(hours, (end.value / 1000 - time_us) / 3.6e9))  # nothing stands for what is beyond
        return self.rows(kept, start, end, time=time, hours=hours)

    def rows(self, kept: slice | Mask, start: pd.Timestamp, end: pd.Timestamp, **changed: Any) -> Climate:
        """Some of its readings, by slice or mask, as they stand but for what is changed, over a span."""
        names = ("temp_c", "rh_percent", "dew_point_c", "vapour_pa", "hours", "suspect")
        arrays: dict[str, Any] = {name: getattr(self, name)[kept] for name in names}
        for array in arrays.values():  # a slice is a view of what is read-only, a mask makes a fresh array
            array.flags.writeable = False
        for name in ("read_by", "bounded"):
            arrays[name] = None if getattr(self, name) is None else getattr(self, name)[kept]
        arrays["time"] = changed["time"] if "time" in changed else self.time[kept]
        return replace(self, start=start, end=end, **(arrays | changed))

    def edges(self, quantity: str, values: Array | None = None) -> tuple[float, float]:
        """The lowest and the highest reading of a quantity, or of such values of it, as `beyond`; NaN: not read."""
        values = getattr(self, quantity) if values is None else values
        if not np.isfinite(values).any():
            return np.nan, np.nan
        return (self.beyond(float(np.nanmin(values)), quantity, self.start, self.end, over=False),
                self.beyond(float(np.nanmax(values)), quantity, self.start, self.end))  # fmt: skip

    def beyond(self, value: float, quantity: str, start: pd.Timestamp, end: pd.Timestamp, over: bool = True) -> float:
        """The highest of a quantity in a span (else the lowest): a `Bound` where readings that are bounds, such as
        ">95", lie on that side of its middle, so that it may have gone farther.
        """
        rows = slice(*self.time.searchsorted([start, end]))
        of = {"temp_c": OF_TEMP, "rh_percent": OF_RH}.get(quantity, OF_TEMP | OF_RH)
        read = getattr(self, quantity)[rows]
        bounds = np.empty(0) if self.bounded is None else read[((self.bounded[rows] & of) > 0) & np.isfinite(read)]
        if not len(bounds):
            return value
        middle = (np.nanmin(read) + np.nanmax(read)) / 2
        past = bounds.max() >= middle if over else bounds.min() <= middle
        return Bound(value, AT_LEAST if over else AT_MOST) if past else value

    @staticmethod
    def joined(parts: Sequence[Climate], start: pd.Timestamp, end: pd.Timestamp) -> Climate:
        """Climates that follow one another, as one; the poorer sensor and all notes are kept."""
        notes = tuple(dict.fromkeys(note for part in parts for note in part.notes))
        parts = [part for part in parts if len(part.time)]
        if not parts:
            return Climate.of(pd.DatetimeIndex([], tz="UTC"), [], [], start=start, end=end, notes=notes)
        time_us = np.concatenate([part.time.asi8 for part in parts])
        if not (time_us[1:] > time_us[:-1]).all():
            raise ValueError("times are not strictly increasing")
        columns = ("temp_c", "rh_percent", "dew_point_c", "vapour_pa", "hours", "suspect")
        arrays = {name: np.concatenate([getattr(part, name) for part in parts]) for name in columns}
        for array in arrays.values():  # fresh, so that they need no copy to be made read-only
            array.flags.writeable = False
        sensor = max((part.sensor for part in parts), key=lambda s: (s.rh_u_percent, s.temp_u_c))
        time = pd.DatetimeIndex(time_us.view("M8[us]"), tz="UTC")
        reckoned_u_k = max(part.reckoned_u_k for part in parts)
        sensors, read_by = readers(parts)
        bounded = bounds_of(parts) if any(part.bounded is not None for part in parts) else None
        return Climate(
            time, **arrays, start=start, end=end, sensor=sensor, notes=notes, reckoned_u_k=reckoned_u_k,
            sensors=sensors, read_by=read_by, bounded=bounded,
        )  # fmt: skip


def bounds_of(parts: Sequence[Climate]) -> NDArray[np.uint8] | None:
    """Which readings of several climates are bounds, one climate after the other; None where none is."""
    if all(part.bounded is None for part in parts):
        return None
    some = [np.zeros(len(part.time), np.uint8) if part.bounded is None else part.bounded for part in parts]
    return _frozen(np.concatenate(some), np.uint8)


def readers(parts: Sequence[Climate]) -> tuple[tuple[Sensor, ...], NDArray[np.uint8] | None]:
    """The loggers of several climates, and which of them each of their readings is of, one climate after the other.

    Nothing where it is one and the same: `sensor` says it.
    """
    every = [part.sensors or (part.sensor,) for part in parts]
    sensors = tuple(dict.fromkeys(sensor for some in every for sensor in some))
    if len(sensors) < 2:
        return (), None
    rows = [
        np.array([sensors.index(sensor) for sensor in some], np.uint8)[
            np.zeros(len(part.time), np.uint8) if part.read_by is None else part.read_by
        ]
        for part, some in zip(parts, every, strict=True)
    ]
    return sensors, _frozen(np.concatenate(rows), np.uint8)


def stand_for_hours(time: pd.DatetimeIndex) -> Array:
    """Time each reading stands for: the step to the next one, but one step that is ordinary there before a gap.

    A logger may be set to another interval at any time, so what is ordinary is decided where the reading stands. Of
    the `NEIGHBOURS` steps in a row that a step begins, and of those that it ends, the median (of an even number, the
    lower) is ordinary. A step is a gap where it is over `GAP_FROM` times both, unless it is one of `REPEATED` in a row
    that are alike within a fifth. So a gap stays one at any interval, and so do several as long as most steps
    around are none; the first step of a new interval is no gap. An interval kept for fewer than `REPEATED` steps
    cannot be told from gaps and counts as gaps: what may not have been read is not called read. (Where one
    reading in ten is lost at random, every second is lost four times in a row in one record of four months in
    fourteen at two hours, six times in fewer than one of two thousand.)

    The reading before a gap, and the last one, stands for the step before it; where that is a gap too, for what was
    ordinary in the row that ends there; where nothing is before it, for what is ordinary after it. None stands for
    more than `STANDS_MOST_H`: of a slower logger, part of the time is unread.

    Parameters
    ----------
    time : (n,) increasing UTC times. A reading depends on the `NEIGHBOURS` before and after it alone.

    Returns
    -------
    (n,) hours; a single reading stands for one.

    Source: our judgement.

    >>> hours = [0, 1, 2, 3, 4, 12, 13, 14, 17, 20, 23, 26, 29, 32]
    >>> stand_for_hours(pd.Timestamp("2026-01-01", tz="UTC") + pd.to_timedelta(hours, "h")).tolist()
    [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0, 3.0]
    """
    if len(time) < 2:
        return np.ones(len(time))
    step = np.diff(time.as_unit("us").asi8) / 3.6e9
    stands = np.append(step[0], step)  # the step before; of the first reading the one after
    long = np.flatnonzero(step > GAP_FROM * step.min())
    if len(long) and len(step) >= REPEATED:
        rows = np.lib.stride_tricks.sliding_window_view(step, REPEATED)
        holds = np.clip(long[:, None] - np.arange(REPEATED), 0, len(rows) - 1)  # the rows that a step lies in
        alike = (rows[holds].max(axis=2) <= ALIKE * rows[holds].min(axis=2)) & (long[:, None] - holds < REPEATED)
        long = long[~alike.any(axis=1)]
    ordinary = np.maximum(_medians(step, long - NEIGHBOURS + 1), _medians(step, long))
    gaps = long[step[long] > GAP_FROM * ordinary]
    stands[gaps + 1] = _medians(step, gaps - NEIGHBOURS + 1)
    if len(gaps) and gaps[0] == 0:
        stands[0] = _medians(step, gaps[:1])[0]
    hours: Array = np.append(step, stands[-1])
    hours[gaps] = stands[gaps]
    return hours.clip(max=float(STANDS_MOST_H))


def _medians(step: Array, begins: Whole) -> Array:
    """The lower median of the `NEIGHBOURS` steps in a row from each of these on; of the nearest row there is."""
    width = min(NEIGHBOURS, len(step))
    rows = np.lib.stride_tricks.sliding_window_view(step, width)
    middle = (width - 1) // 2
    return np.partition(rows[np.clip(begins, 0, len(rows) - 1)], middle, axis=1)[:, middle]
