"""The nouns. Frozen dataclasses, read-only arrays, no input and no output.

Times are UTC `pandas.Timestamp`s; a span includes its start and not its end.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, IntEnum

import numpy as np
import pandas as pd

from envwatch import air
from envwatch.figures import Confidence, Figure
from envwatch.figures.coverage import STAMP_TELLS_H
from envwatch.intervals import stand_for_hours

ROOM, CANVAS_BACK, PAINT_FACE, WALL_FACE = "room", "canvas_back", "paint_face", "wall_face"
POINTS = (ROOM, CANVAS_BACK, PAINT_FACE, WALL_FACE)


class Level(IntEnum):
    """How much a finding matters. No data is never clear, so UNKNOWN ranks above CLEAR."""

    CLEAR = 0
    UNKNOWN = 1
    WATCH = 2
    ACT = 3
    URGENT = 4

    @property
    def word(self) -> str:
        """The word shown to a person."""
        return ("nothing against it", "not known", "watch", "act", "urgent")[self]


class Certainty(Enum):
    """Whether the sensor can tell the value from the limit. Never changes the level."""

    CERTAIN = "certain"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True)
class Sensor:
    """What a logger can be trusted to: limits of error (±), bias apart from noise.

    The bias is common to all readings of a logger and does not shrink with averaging; the noise does.
    """

    temp_bias_c: float = 0.5
    rh_bias_percent: float = 3.0
    temp_noise_c: float = 0.1
    rh_noise_percent: float = 0.5
    basis: str = "assumed: the usual statement for a low-cost logger, from memory"
    logger: str = ""  # its id; "" where the air was not read by a logger of the register
    stands_in: bool = False  # it hung in another place

    @property
    def rh_u_percent(self) -> float:
        """Half-width for one reading: bias and noise in quadrature. [% RH]"""
        return float(np.hypot(self.rh_bias_percent, self.rh_noise_percent))

    @property
    def temp_u_c(self) -> float:
        """Half-width for one reading: bias and noise in quadrature. [°C]"""
        return float(np.hypot(self.temp_bias_c, self.temp_noise_c))


def poorest(sensors: Sequence[Sensor]) -> Sensor:
    """Of several loggers the widest of each figure, with the basis of each.

    >>> poorest([Sensor(0.2, 3.0, basis="a"), Sensor(0.5, 1.5, basis="b")]).temp_bias_c
    0.5
    """
    if len(sensors) == 1:
        return sensors[0]
    figures = ("temp_bias_c", "rh_bias_percent", "temp_noise_c", "rh_noise_percent")
    widest = {name: max(getattr(sensor, name) for sensor in sensors) for name in figures}

    def every(name: str, between: str) -> str:
        return between.join(dict.fromkeys(text for sensor in sensors if (text := getattr(sensor, name))))

    stands_in = any(sensor.stands_in for sensor in sensors)
    return Sensor(**widest, basis=every("basis", "; "), logger=every("logger", " and "), stands_in=stands_in)


def _frozen(values, dtype=float) -> np.ndarray:
    array = np.array(values, dtype=dtype)  # a copy: the caller's array stays writable
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
    """

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray
    dew_point_c: np.ndarray
    vapour_pa: np.ndarray
    hours: np.ndarray
    suspect: np.ndarray
    start: pd.Timestamp
    end: pd.Timestamp
    sensor: Sensor = Sensor()
    notes: tuple[str, ...] = ()
    reckoned_u_k: float = 0.0
    sensors: tuple[Sensor, ...] = ()
    read_by: np.ndarray | None = None

    @classmethod
    def of(
        cls,
        time,
        temp_c,
        rh_percent,
        *,
        start: pd.Timestamp | None = None,
        end: pd.Timestamp | None = None,
        hours=None,
        suspect=None,
        sensor: Sensor | None = None,
        notes: Sequence[str] = (),
    ) -> Climate:
        """A climate from readings in time order.

        Parameters
        ----------
        time : (n,) UTC times, strictly increasing.
        temp_c, rh_percent : (n,) readings, NaN where missing. [°C], [% RH]
        start, end : the span; by default the first reading to the end of the last one.
        hours : (n,) time each reading stands for; by default as `intervals.stand_for_hours` has it. [h]
        suspect : (n,) marks; by default none.

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
        time = time.tz_convert("UTC").as_unit("us") if time.tz is not None else time.tz_localize("UTC")
        temp_c, rh_percent = _frozen(temp_c), _frozen(rh_percent)
        suspect = _frozen(np.zeros(len(time)) if suspect is None else suspect, bool)
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
        return cls(
            time, temp_c, rh_percent,
            _frozen(air.dew_point(temp_c, rh_percent)), _frozen(air.vapour_pressure(temp_c, rh_percent)),
            hours, suspect, start, end, sensor or Sensor(), tuple(notes),
        )  # fmt: skip

    def sensors_over(self, start: pd.Timestamp, end: pd.Timestamp) -> tuple[Sensor, ...]:
        """The trust in each logger that read in [start, end); in all of them where nothing was read."""
        if self.read_by is None:
            return (self.sensor,)
        lo, hi = np.searchsorted(self.time.asi8, [-(-start.value // 1000), -(-end.value // 1000)])
        return tuple(self.sensors[n] for n in np.unique(self.read_by[lo:hi]).tolist()) or self.sensors

    def sensor_over(self, start: pd.Timestamp, end: pd.Timestamp) -> Sensor:
        """The trust in what was read in [start, end): the poorest of the loggers that read it."""
        return poorest(self.sensors_over(start, end))

    def trusted_as(self, change: Callable[[Sensor], Sensor]) -> Climate:
        """The same air with the trust in every logger changed."""
        return replace(self, sensor=change(self.sensor), sensors=tuple(map(change, self.sensors)))

    @property
    def span_hours(self) -> float:
        """Length of the span asked for. [h]"""
        return max((self.end - self.start).total_seconds() / 3600, 0.0)

    @property
    def coverage(self) -> float:
        """Share of the span in which temperature and humidity were both read, 0 to 1."""
        return self._share(np.isfinite(self.temp_c) & np.isfinite(self.rh_percent))

    @property
    def temp_coverage(self) -> float:
        """Share of the span in which temperature was read, 0 to 1: heat needs no humidity."""
        return self._share(np.isfinite(self.temp_c))

    def _share(self, read: np.ndarray) -> float:
        return min(float(self.hours[read].sum()) / self.span_hours, 1.0) if self.span_hours else 0.0

    def between(self, start: pd.Timestamp, end: pd.Timestamp) -> Climate:
        """The part of the climate in [start, end), asked for as that span.

        A reading of a slow logger (over `STAMP_TELLS_H`) that still stands at `start` is a row there, for what is left.
        """
        time_us, begin_us = self.time.asi8, -(-start.value // 1000)
        lo, hi = (int(row) for row in np.searchsorted(time_us, [begin_us, -(-end.value // 1000)]))
        until_us = time_us[max(lo - 1, 0) : lo] + np.round(self.hours[max(lo - 1, 0) : lo] * 3.6e9).astype(np.int64)
        if lo and self.hours[lo - 1] > STAMP_TELLS_H and until_us[0] > begin_us:
            time_us = np.append(begin_us, time_us[lo:hi])
            part = self.rows(slice(lo - 1, hi), start, end)
            hours = np.append((until_us[0] - begin_us) / 3.6e9, part.hours[1:])
            part = replace(part, time=pd.DatetimeIndex(time_us.view("M8[us]"), tz="UTC"), hours=hours)
        else:
            part = self.rows(slice(lo, hi), start, end)
        left_h = (end.value / 1000 - part.time.asi8) / 3.6e9
        return replace(part, hours=_frozen(np.minimum(part.hours, left_h)))  # nothing stands for what is beyond the end

    def rows(self, kept, start: pd.Timestamp, end: pd.Timestamp) -> Climate:
        """Some of its readings, by slice or mask, as they stand, over a span."""
        names = ("temp_c", "rh_percent", "dew_point_c", "vapour_pa", "hours", "suspect")
        arrays = {name: getattr(self, name)[kept] for name in names}
        for array in arrays.values():  # a slice is a view of what is read-only, a mask makes a fresh array
            array.flags.writeable = False
        read_by = None if self.read_by is None else self.read_by[kept]
        return replace(self, time=self.time[kept], start=start, end=end, read_by=read_by, **arrays)

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
        return Climate(
            time, **arrays, start=start, end=end, sensor=sensor, notes=notes, reckoned_u_k=reckoned_u_k,
            sensors=sensors, read_by=read_by,
        )  # fmt: skip


def readers(parts: Sequence[Climate]) -> tuple[tuple[Sensor, ...], np.ndarray | None]:
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


class CareStatus(Enum):
    """Where a painting is in its care."""

    IN_STUDIO = "in studio"
    IN_STORE = "in store"
    ON_LOAN = "on loan"
    FIRST_YEAR = "at home in its first year"
    CLOSED = "closed"


PLACE_KINDS = ("studio", "store", "loft", "house", "crate", "vehicle", "chamber", "outdoors", "other")
POSITIONS = (
    "rack", "easel", "inner wall", "outer wall", "floor", "window", "radiator", "fireplace",
    "crate", "chamber", "unknown",
)  # fmt: skip
ROLES = (
    "varnish", "paint", "ground", "consolidant", "size", "canvas", "insert", "tear mend", "patch",
    "old lining", "impregnation", "film", "interleaf", "lining canvas", "strip-lining", "stretcher", "board",
)  # fmt: skip
AREAS = ("whole", "local", "edge")
CORRECTION = "correction"  # kept among the treatments where the record was corrected; nothing was done to the painting


@dataclass(frozen=True)
class Place:
    """A room, a crate, a house, or outdoors."""

    id: str
    name: str
    kind: str = "other"
    volume_m3: float | None = None
    outer_walls: int | None = None
    altitude_m: float = 0.0
    zone: str = "UTC"
    note: str = ""


@dataclass(frozen=True)
class Hanging:
    """Where one channel of a logger hung, from when to when (UTC; `end` None: still there)."""

    place_id: str
    start: pd.Timestamp
    end: pd.Timestamp | None = None
    channel: str = ""  # "": whichever channel the file has
    position: str = "unknown"


@dataclass(frozen=True)
class Logger:
    """A logger, where it has hung, how well it reads and how often it is fetched.

    `labels` are the serial numbers or names by which its files are known.
    """

    id: str
    name: str
    labels: tuple[str, ...] = ()
    zone: str | None = None  # the logger's own clock; None: the studio's
    fetch_days: int = 7
    sensor: Sensor = Sensor()
    calibrated_on: pd.Timestamp | None = None
    hangings: tuple[Hanging, ...] = ()

    def ever_in(self, place_ids: Collection[str]) -> bool:
        """Whether it ever hung in one of these places."""
        return any(hanging.place_id in place_ids for hanging in self.hangings)


@dataclass(frozen=True)
class Layer:
    """One layer of a painting's build-up. `material` is a key of the materials file, or "unknown"."""

    role: str
    material: str
    area: str = "whole"
    applied_on: pd.Timestamp | None = None  # None: old, or date unknown
    assumed: bool = False
    note: str = ""


@dataclass(frozen=True)
class Treatment:
    """What was done, in the trade's own fields; free text where the trade writes free text.

    Empty, and None for a figure, is not known. `temps_interface_c` are the temperatures measured at the interface (or
    the paint surface) at several points; `temp_interface_c` the one figure where only one is known.
    """

    id: str
    kind: str  # lining, consolidation, patch, tear mend, humidity chamber, varnish, ...
    on: pd.Timestamp
    material: str = ""
    intended_end: pd.Timestamp | None = None
    temp_interface_c: float | None = None
    note: str = ""
    layer: str = ""  # which layer it was done to, or made
    family: str = ""  # generic family, where the material alone does not say it
    form: str = ""  # film, solution, dispersion, paste, powder, ...
    batch: str = ""
    carrier: str = ""  # solvent or water
    solids_percent: float | None = None
    bloom: float | None = None
    thickness_um: float | None = None
    coats: int | None = None
    amount_g_m2: float | None = None
    side: str = ""
    cloth: str = ""
    temps_interface_c: tuple[float, ...] = ()
    heating_min: float | None = None
    hold_min: float | None = None
    cooling_min: float | None = None
    pressure_mbar: float | None = None
    weight_g_cm2: float | None = None  # laid on while it set
    drying_h: float | None = None
    peel_trial: str = ""  # N/m, or in a word
    strip_kept: bool | None = None  # the test strip
    studio_temp_c: float | None = None
    studio_rh_percent: float | None = None
    weight_after_kg: float | None = None
    inspection_days: tuple[int, ...] = ()  # after the treatment; none: the usual ones
    limits_told: str = ""  # to the owner
    removal: str = ""


@dataclass(frozen=True)
class Stay:
    """A painting's stay at one place. `end` None: it is still there.

    `start_is_date` (and `end_is_date`): only the day is known; it then belongs to both places.
    An `intended` stay (a humidity chamber, say) counts for the layers but raises no alarm.
    """

    place_id: str
    start: pd.Timestamp
    end: pd.Timestamp | None = None
    position: str = "unknown"
    intended: bool = False
    purpose: str = ""
    start_is_date: bool = True
    end_is_date: bool = True


@dataclass(frozen=True)
class Observation:
    """A sign seen on a painting; it may confirm or deny a finding by its number."""

    on: pd.Timestamp
    sign: str
    where: str = ""
    finding: int | None = None
    confirms: bool | None = None
    note: str = ""
    photo: str = ""  # name of a file


@dataclass(frozen=True)
class Painting:
    """A painting, what it is made of, what was done to it, and where it has stood."""

    id: str
    title: str
    maker: str = ""
    made: str = ""
    height_cm: float | None = None
    width_cm: float | None = None
    weight_kg: float | None = None
    support: str = ""
    glazed: bool | None = None
    backed: bool | None = None
    stretcher: str = ""
    frame_depth_mm: float | None = None
    tacking_margins: str = "unknown"  # intact, trimmed, strip-lined, unknown
    owner: str = field(default="", repr=False)
    care: CareStatus = CareStatus.IN_STORE
    care_until: pd.Timestamp | None = None
    layers: tuple[Layer, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    observations: tuple[Observation, ...] = ()
    stays: tuple[Stay, ...] = ()
    ground: str = ""
    varnish: str = ""
    value_band: str = ""  # a letter or words of the studio's own; a band, never a sum

    @property
    def lined_on(self) -> pd.Timestamp | None:
        """The day of the last lining; its climate history counts as proof from here on."""
        days = [t.on for t in self.treatments if t.kind == "lining"]
        days += [layer.applied_on for layer in self.layers if layer.role == "film" and layer.applied_on is not None]
        return max(days, default=None)

    def as_treated(self, on: pd.Timestamp) -> Painting:
        """This painting as if every layer that is later than `on` had been put on then.

        For climates that are simulated, forecast or older than the treatment: no hour drops out for its date.
        """
        late = [layer.applied_on is not None and layer.applied_on > on for layer in self.layers]
        moved = (
            replace(layer, applied_on=on) if is_late else layer
            for layer, is_late in zip(self.layers, late, strict=True)
        )
        return replace(self, layers=tuple(moved))


@dataclass(frozen=True)
class Stint:
    """One stretch of an exposure: where, how, and whether it was meant.

    `own_logger`: the readings were taken at this very position, not for the room in general.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    place_id: str  # "": whereabouts unknown
    place_name: str
    position: str = "unknown"
    zone: str = "UTC"
    intended: bool = False
    purpose: str = ""
    own_logger: bool = False


NEVER_HERE = (
    "direct sun", "fire or stove in use", "flue behind", "radiator close below", "warm or cold air blows on it",
    "cooking room", "bathing room", "damp wall", "fresh plaster", "unsafe fixing",
)  # fmt: skip


@dataclass(frozen=True)
class Position:
    """Plain facts of where a painting hangs, or may hang, that no climate tells.

    Attributes
    ----------
    light_lux_h_year : dose of light in a year; NaN where not known. [lx h]
    light_times : factor either way by which the dose may be off: it was reckoned, or metered.
    facts : (fact out of `NEVER_HERE`, whether it holds there; None where not known, which is never safe).
    basis : plain words on where these facts come from.
    """

    light_lux_h_year: float = float("nan")
    light_times: float = 1.0
    facts: tuple[tuple[str, bool | None], ...] = ()
    basis: str = ""


@dataclass(frozen=True, eq=False)
class Exposure:
    """The climates at the points that matter for one painting (or one place), and where each was.

    `points` maps names out of `POINTS` to climates over the same span. A point that is not known is
    absent, and whoever judges says so. `stints` are in time order and never overlap; time in none of
    them, or in one without a place, is unknown. `position`: light and plain facts of where it hangs; None
    where nobody asked, and then the hazards that need them say nothing.

    `weekly`: what ends at `end` is one of consecutive weeks; points and stints then reach up to a week and a half past
    it, for the windows that lie in it and beside it (`hazards.windows`). `reviewed`: until when the air had been read
    when the week before was reviewed; None where it was not.
    """

    points: Mapping[str, Climate]
    start: pd.Timestamp
    end: pd.Timestamp
    stints: tuple[Stint, ...] = ()
    notes: tuple[str, ...] = ()
    position: Position | None = None
    weekly: bool = False
    reviewed: pd.Timestamp | None = None

    @property
    def room(self) -> Climate:
        """The room air; without readings where there are none."""
        if ROOM in self.points:
            return self.points[ROOM]
        return Climate.joined([], self.start, self.end)

    @property
    def zone(self) -> str:
        """The zone of the last place of the period, for days and daily swings."""
        return self.last_stint.zone if self.last_stint else "UTC"

    @property
    def last_stint(self) -> Stint | None:
        """Where it was at the end of the period."""
        return next((stint for stint in reversed(self.stints) if stint.start < self.end), None)

    def stint_at(self, moment: pd.Timestamp) -> Stint | None:
        """Where it was at a moment; None where that is not known."""
        return next((stint for stint in self.stints if stint.start <= moment < stint.end), None)

    @property
    def read_until(self) -> pd.Timestamp | None:
        """The end of the last whole hour in which the room was read, past `end` too; None where it never was."""
        room = self.room
        read = np.flatnonzero(np.isfinite(room.temp_c) | np.isfinite(room.rh_percent))
        if not len(read):
            return None
        return (room.time[read[-1]] + pd.Timedelta(hours=float(room.hours[read[-1]]))).floor("h")

    def intended_mask(self, time: pd.DatetimeIndex) -> np.ndarray:
        """True where a time falls into an intended stint. (n,) -> (n,)"""
        mask = np.zeros(len(time), bool)
        for stint in self.stints:
            if stint.intended:
                lo, hi = time.searchsorted([stint.start, stint.end])
                mask[lo:hi] = True
        return mask


@dataclass(frozen=True)
class Finding:
    """One thing the climate did, or may have done, to one layer of one painting.

    A CLEAR finding says what was looked at and found within its limit; an UNKNOWN one says why it
    could not be decided and, where that is a matter of waiting, `decidable_on`.
    """

    hazard: str  # "mould", "fluctuation", "lining", "condensation"
    mechanism: str  # "heat, highest hour", "damp dwell", ...
    layer: str  # in words: "lining film (heat-seal film)", "glue size", "canvas and paint"
    point: str
    level: Level
    sentence: str
    value: float = float("nan")
    uncertainty: float = float("nan")
    limit: float = float("nan")
    unit: str = ""
    hours: float = float("nan")
    since: pd.Timestamp | None = None
    worst_at: pd.Timestamp | None = None
    certainty: Certainty = Certainty.CERTAIN
    confidence: Confidence = Confidence.OUR_JUDGEMENT  # of the limit
    source: str = "our-judgement"  # key into SOURCES, for the limit
    look_for: str = ""
    do: str = ""
    avoid: str = ""
    by: pd.Timestamp | None = None
    clears: str = ""
    decidable_on: pd.Timestamp | None = None
    coverage: float = float("nan")
    material: str = ""  # key of the materials file, where a profile sets the limit
    working: tuple[tuple[str, str], ...] = ()  # for `why`: (what, the equation or figure with numbers put in)
    caution: str = ""  # the safety sentence that must be printed with it
    painting_id: str = ""
    number: int | None = None  # stable; given by the archive when the review is kept
    value_low: float = float("nan")  # with what was not read taken as mildest; NaN where that was not asked
    value_high: float = float("nan")  # and as harshest
    level_high: Level | None = None  # the highest level that what was not read and the sensor leave open

    @property
    def key(self) -> tuple[str, str, str, str, str]:
        """What makes it the same finding from week to week."""
        return self.painting_id, self.hazard, self.mechanism, self.layer, self.point


@dataclass(frozen=True)
class Verdict:
    """What `verdict.judge` found for one painting (or one room) over one span."""

    findings: tuple[Finding, ...]
    start: pd.Timestamp
    end: pd.Timestamp
    painting_id: str = ""
    coverage: float = float("nan")
    notes: tuple[str, ...] = ()

    @property
    def level(self) -> Level:
        """The worst level. A verdict without findings is not known."""
        return max((finding.level for finding in self.findings), default=Level.UNKNOWN)

    @property
    def unseen(self) -> tuple[Finding, ...]:
        """The hazards that were not seen: said beside the level, whatever the level."""
        return tuple(finding for finding in self.findings if finding.level is Level.UNKNOWN)

    @property
    def raised(self) -> tuple[Finding, ...]:
        """Findings that ask for something, worst first."""
        found = [finding for finding in self.findings if finding.level >= Level.WATCH]
        return tuple(sorted(found, key=lambda finding: -finding.level))


__all__ = [
    "AREAS", "CANVAS_BACK", "CORRECTION", "NEVER_HERE", "PAINT_FACE", "PLACE_KINDS", "POINTS", "POSITIONS", "ROLES",
    "ROOM", "WALL_FACE", "CareStatus", "Certainty", "Climate", "Confidence", "Exposure", "Figure", "Finding", "Hanging",
    "Layer", "Level", "Logger", "Observation", "Painting", "Place", "Position", "Sensor", "Stay", "Stint",
    "Treatment", "Verdict", "poorest", "readers", "stand_for_hours",
]  # fmt: skip
