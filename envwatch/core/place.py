"""Places, the loggers that hang in them, and how far each can be trusted."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch.core.words import Word


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


class PlaceKind(Word):
    """What kind of place it is."""

    STUDIO, STORE, LOFT, HOUSE, CRATE = "studio", "store", "loft", "house", "crate"
    VEHICLE, CHAMBER, OUTDOORS, OTHER = "vehicle", "chamber", "outdoors", "other"


class Placement(Word):
    """Where in a place a painting stands or a logger hangs: its position."""

    RACK, EASEL, INNER_WALL, OUTER_WALL, FLOOR = "rack", "easel", "inner wall", "outer wall", "floor"
    WINDOW, RADIATOR, FIREPLACE, CRATE, CHAMBER = "window", "radiator", "fireplace", "crate", "chamber"
    UNKNOWN = "unknown"


class Point(Word):
    """Where about a painting the air is told."""

    ROOM, CANVAS_BACK, PAINT_FACE, WALL_FACE = "room", "canvas_back", "paint_face", "wall_face"


class Fact(Word):
    """What no climate makes good: where it holds, no painting hangs."""

    SUN, FIRE, FLUE = "direct sun", "fire or stove in use", "flue behind"
    RADIATOR, DRAUGHT = "radiator close below", "warm or cold air blows on it"
    COOKING, BATHING = "cooking room", "bathing room"
    DAMP_WALL, FRESH_PLASTER, FIXING = "damp wall", "fresh plaster", "unsafe fixing"


PLACE_KINDS, POSITIONS = tuple(kind.value for kind in PlaceKind), tuple(at.value for at in Placement)


@dataclass(frozen=True)
class Place:
    """A room, a crate, a house, or outdoors."""

    id: str
    name: str
    kind: PlaceKind = PlaceKind.OTHER
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
    position: Placement = Placement.UNKNOWN


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
class StandIn:
    """A neighbour whose air counts while a place's own loggers read nothing, with half-widths of what it may be off."""

    neighbour: str
    start: pd.Timestamp
    end: pd.Timestamp | None
    temp_u_c: float
    rh_u_percent: float
    note: str = ""


class AirEvent(Word):
    """What the air of a place did to several paintings at once, by what it harms."""

    DAMP, HEAT, DRY, COLD, SWING = "damp", "heat", "dry", "cold", "swing"


@dataclass(frozen=True)
class Cause:
    """What a person says made the air of a place harm paintings in a span. It answers no look."""

    kind: AirEvent
    start: pd.Timestamp
    end: pd.Timestamp
    words: str
    by: str
    on: pd.Timestamp

    def of(self, kind: AirEvent, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether it speaks of an event of that kind in [start, end]: the two have an hour in common."""
        return kind == self.kind and self.start <= end and start <= self.end


class Answer(Word):
    """What a person says of marked readings: taken out, they count as missing; good, they are no longer doubted."""

    OUT, GOOD = "out", "good"


@dataclass(frozen=True)
class MarkDecision:
    """What a person says of the readings of a logger that bear a mark (any, if `mark` is empty) in a span."""

    number: int
    channel: str
    mark: str
    start: pd.Timestamp
    end: pd.Timestamp | None
    answer: Answer
    by: str
    on: str
    because: str

    @property
    def sentence(self) -> str:
        """What was done, by whom, when and why: "taken out by A. Ember on 2026-11-02: battery flat"."""
        done = "taken out" if self.answer == Answer.OUT else "found good"
        return f"{done} by {self.by} on {self.on}: {self.because}"
