"""Whole exposures, drawn at random: what a room, a logger and a painting may go through in 60 to 500 days.

A `Whole` is a plain description that prints as what makes it again; `Whole.exposure` and `Whole.painting` build from
it. One drawing (`whole`) serves both hypothesis (`wholes()`) and a seeded numpy generator (`Numbers`). The air is
constant over blocks of one to three hours, so that it can be read at several steps and be the same air. Hours count
back from the end of the record, so that a shorter record keeps its last days. No file is written here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from hypothesis import strategies as st

from envwatch import air
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.painting import Layer, Observation, Painting
from envwatch.core.place import Sensor

HOUR = pd.Timedelta(hours=1)
EPOCH = pd.Timestamp("2024-01-01", tz="UTC")  # a Monday, and past: readings from the future are set aside
STEPS_MIN = (5, 10, 15, 30, 60, 120)
AFTER_H = 252  # of a week's air, past its end: see `hazards.hourly`
FILMS = ("eva_film", "eva_soln", "eva_film_wax", "acr_disp", "acr_solv", "pvac_disp", "polyamide", "unknown")
OLD = (("old lining", "glue_paste"), ("old lining", "starch"), ("old lining", "unknown"),
       ("impregnation", "wax_resin"), ("impregnation", "unknown"))  # fmt: skip
LOCAL = (("patch", "pvac_disp"), ("patch", "epoxy"), ("patch", "unknown"), ("tear mend", "fish_glue"),
         ("tear mend", "mc"), ("consolidant", "animal_glue"), ("consolidant", "fish_glue"))  # fmt: skip
# about how long and how far rules ask for: hours, temperature, humidity. No limit is kept here: spells begin near them
NEAR_RULES = (
    (720, None, 72), (168, None, 77), (504, None, 77), (168, None, 82), (48, None, 92), (720, None, 82), (48, None, 77),
    (2, None, 92), (24, None, 33), (2, None, 23), (4, None, 100), (2, 42, None), (24, 37, None), (720, 31, None),
    (2, -3, None),
)  # fmt: skip
SUPPORT = ("linen", "cotton", "polyester_cloth")


@dataclass(frozen=True)
class Spell:
    """A stretch in which a room departs from its course: begun so many hours before the end, so many hours long."""

    ago_h: int
    hours: int
    temp_k: float = 0.0
    rh_percent: float = 0.0


@dataclass(frozen=True)
class Air:
    """A room's course: means, seasons, days, slow weather and spells. [°C], [K], [% RH]"""

    temp_c: float = 18.0
    rh_percent: float = 52.0
    season_k: float = 0.0
    season_rh: float = 0.0
    day_k: float = 0.0
    day_rh: float = 0.0
    weather_k: float = 0.0
    weather_rh: float = 0.0
    spells: tuple[Spell, ...] = ()


@dataclass(frozen=True)
class Move:
    """A painting comes into a room so many hours before the end."""

    ago_h: int
    room: int
    intended: bool = False
    position: str = "rack"


@dataclass(frozen=True)
class Coat:
    """A layer and how many days before the end it was put on; None: old, or date unknown; negative: after it."""

    role: str
    material: str
    ago_days: float | None = None


@dataclass(frozen=True)
class Whole:
    """A room record with its logger, and a painting with its stays."""

    seed: int = 0
    days: int = 60
    end_h: int = 0  # of the record, after the epoch, a multiple of six
    step_min: int = 60
    block_h: int = 2
    rooms: tuple[Air, ...] = (Air(),)
    moves: tuple[Move, ...] = ()  # after the first room
    gaps: tuple[tuple[int, int], ...] = ()  # (ago, length) [h]
    missing: float = 0.0  # share of the blocks, at random
    points: tuple[str, ...] = (ROOM,)
    temp_u_c: float = 0.5
    rh_u_percent: float = 3.0
    judged_h: int = 168
    zone: str = "Europe/Berlin"
    coats: tuple[Coat, ...] = field(default=(Coat("canvas", "linen"),))
    glazed: bool | None = False
    backed: bool | None = False
    margins: str = "intact"
    mould_ago_days: float | None = None

    @property
    def end(self) -> pd.Timestamp:
        """End of the record."""
        return EPOCH + self.end_h * HOUR

    @property
    def begin(self) -> pd.Timestamp:
        """Begin of the record."""
        return self.end - self.days * 24 * HOUR

    def start(self, weekly: bool = False) -> pd.Timestamp:
        """Begin of the judged period: the week before the air past it, or the last hours of the record."""
        hours = AFTER_H + 168 if weekly else min(self.judged_h, self.days * 24)
        return self.end - hours * HOUR

    def blocks(self, room: int) -> tuple[np.ndarray, np.ndarray]:
        """A room's air block by block: temperature and humidity, to a tenth as loggers write. [°C], [% RH]"""
        its = self.rooms[room]
        ago = np.arange(self.days * 24, 0, -self.block_h, dtype=float)  # hours from the block's begin to the end
        at = self.end_h - ago
        year, day = np.cos(2 * np.pi * (at / 8766 - 0.54)), np.cos(2 * np.pi * (at - 15) / 24)
        temp = its.temp_c + its.season_k * year + its.day_k * day + its.weather_k * _weather(ago, self.seed, room, 0)
        rh = (
            its.rh_percent
            + its.season_rh * year
            - its.day_rh * day
            + its.weather_rh * _weather(ago, self.seed, room, 1)
        )
        for spell in its.spells:
            inside = (ago <= spell.ago_h) & (ago > spell.ago_h - spell.hours)
            temp, rh = temp + inside * spell.temp_k, rh + inside * spell.rh_percent
        return np.clip(temp, -25, 60).round(1), np.clip(rh, 3, 100).round(1)

    def read(self) -> np.ndarray:
        """True where a block was read: neither in a gap nor missing at random."""
        ago = np.arange(self.days * 24, 0, -self.block_h)
        dice = np.random.default_rng([self.seed, 99])
        read = dice.random(int(self.days * 24 / self.block_h))[::-1][: len(ago)] >= self.missing
        for begun, hours in self.gaps:
            read &= ~((ago <= begun) & (ago > begun - hours))
        return read

    def record(self, room: int, step_min: int | None = None) -> tuple[pd.DatetimeIndex, np.ndarray, np.ndarray]:
        """A room's readings: times, temperature, humidity. [°C], [% RH]"""
        step = self.step_min if step_min is None else step_min
        temp, rh = self.blocks(room)
        each = self.block_h * 60 // step
        time = pd.date_range(self.begin, periods=len(temp) * each, freq=pd.Timedelta(minutes=step))
        read = np.repeat(self.read(), each)
        return time[read], np.repeat(temp, each)[read], np.repeat(rh, each)[read]

    def stints(self) -> tuple[Stint, ...]:
        """Where the painting was, over the whole record."""
        moves = [Move(self.days * 24, 0), *sorted(self.moves, key=lambda move: -move.ago_h)]
        moves = [move for move in moves if move.ago_h <= self.days * 24 and move.room < len(self.rooms)]
        ends = [self.end - move.ago_h * HOUR for move in moves[1:]] + [self.end]
        return tuple(
            Stint(self.end - m.ago_h * HOUR, end, f"r{m.room}", f"Room {m.room}", m.position, self.zone, m.intended)
            for m, end in zip(moves, ends, strict=True)
            if self.end - m.ago_h * HOUR < end
        )

    def exposure(self, weekly: bool = False, step_min: int | None = None) -> Exposure:
        """The exposure; of a week, with the air past its end."""
        sensor = Sensor(temp_bias_c=self.temp_u_c, rh_bias_percent=self.rh_u_percent)
        stints = self.stints()
        there = {
            stint.place_id: Climate.of(
                *self.record(int(stint.place_id[1:]), step_min), start=self.begin, end=self.end, sensor=sensor
            )
            for stint in stints
        }
        parts = [there[stint.place_id].between(stint.start, stint.end) for stint in stints]
        room = Climate.joined(parts, self.begin, self.end)
        points = {point: AT[point](room) for point in self.points}
        end = self.end - (AFTER_H * HOUR if weekly else 0 * HOUR)
        return Exposure(points, self.begin, end, stints, weekly=weekly)

    @property
    def painting(self) -> Painting:
        """The painting as treated."""
        layers = tuple(Layer(coat.role, coat.material, applied_on=self._on(coat.ago_days)) for coat in self.coats)
        seen = self._on(self.mould_ago_days)
        looks = () if seen is None else (Observation(seen, "mould"),)
        return Painting(
            "p", "Harbour", made="1880", glazed=self.glazed, backed=self.backed, tacking_margins=self.margins,
            layers=layers, observations=looks,
        )  # fmt: skip

    def _on(self, ago_days: float | None) -> pd.Timestamp | None:
        return None if ago_days is None else (self.end - pd.Timedelta(days=ago_days)).floor("D")


def _weather(ago_h: np.ndarray, *seed: int) -> np.ndarray:
    """A slow wander of about ±1 with a little noise, the same near the end however far the record reaches back."""
    dice = np.random.default_rng(seed)
    periods, phases = dice.uniform(30, 700, 5), dice.uniform(0, 2 * np.pi, 5)
    noise = dice.normal(0, 0.1, len(ago_h))[::-1]
    return np.sin(2 * np.pi * ago_h[:, None] / periods + phases).sum(axis=1) / 2.5 + noise


def _face(room: Climate, colder_k: float) -> Climate:
    temp = np.round(room.temp_c - colder_k, 1)
    rh = np.clip(air.rh_at(room.temp_c, room.rh_percent, temp), 0, 100)
    made = Climate.of(room.time, temp, rh, start=room.start, end=room.end, hours=room.hours, sensor=room.sensor)
    return replace(made, reckoned_u_k=0.5)


AT: dict[str, Callable[[Climate], Climate]] = {
    ROOM: lambda room: room,
    CANVAS_BACK: lambda room: _face(room, 1.0),
    WALL_FACE: lambda room: _face(room, 3.0),
}

# ---------------------------------------------------------------------------------------------- drawing


class Numbers:
    """What `whole` draws from, by a seeded numpy generator."""

    def __init__(self, *seed: int) -> None:
        self.dice = np.random.default_rng(seed)

    def whole(self, low: int, high: int) -> int:
        """An integer, both ends included."""
        return int(self.dice.integers(low, high + 1))

    def pick(self, among: Sequence[Any]) -> Any:
        """One of several."""
        return among[self.whole(0, len(among) - 1)]


class Drawn(Numbers):
    """The same by hypothesis, which can shrink it: the first of several, and the number nearest 0, are the simplest."""

    def __init__(self, draw: Callable) -> None:
        self.draw = draw

    def whole(self, low: int, high: int) -> int:
        """An integer, both ends included."""
        return self.draw(st.integers(low, high))


@st.composite
def wholes(draw, most_days: int = 500) -> Whole:
    """Strategy of whole exposures: half of them drawn evenly, for hypothesis leans towards what is small."""
    if draw(st.booleans()):
        return whole(Numbers(draw(st.integers(0, 2**32 - 1))), most_days)
    return whole(Drawn(draw), most_days)


def whole(dice: Numbers, most_days: int = 500) -> Whole:
    """One whole exposure."""
    days = dice.pick((60, dice.whole(60, 130), dice.whole(60, most_days)))
    kind = dice.pick(("house", "steady", "store"))
    rooms = tuple(_air(dice, days, kind) for _ in range(dice.pick((1, 1, 2))))
    drawn = Whole(
        seed=dice.whole(0, 9999), days=days, end_h=6 * dice.whole(0, 1460), step_min=dice.pick((60, *STEPS_MIN, 180)),
        rooms=rooms, moves=_moves(dice, days, len(rooms)), gaps=_gaps(dice, days),
        missing=dice.pick((0.0, 0.0, 0.02, 0.1)),
        points=dice.pick(((ROOM,), (ROOM,), (ROOM, CANVAS_BACK), (ROOM, CANVAS_BACK, WALL_FACE))),
        temp_u_c=dice.pick((0.5, 0.2, 1.0)), rh_u_percent=dice.pick((3.0, 1.5, 5.0)),
        judged_h=dice.pick((168, 168, 24, 720, 24 * days)), zone=dice.pick(("Europe/Berlin", "UTC", "Asia/Kolkata")),
        coats=_coats(dice, days), glazed=dice.pick((False, True, None)), backed=dice.pick((False, True, None)),
        margins=dice.pick(("intact", "trimmed", "unknown")),
        mould_ago_days=dice.pick((None, None, None, None, dice.whole(1, 700))),
    )  # fmt: skip
    return on_grid(replace(drawn, block_h=3) if drawn.step_min == 180 else drawn)


def on_grid(drawn: Whole) -> Whole:
    """With moves and gaps where a block of air begins: a reading in the middle of which one moves is of no room."""
    grid = drawn.block_h
    moves = tuple(replace(move, ago_h=max(move.ago_h // grid, 1) * grid) for move in drawn.moves)
    gaps = tuple((-(-begun // grid) * grid, -(-hours // grid) * grid) for begun, hours in drawn.gaps)
    return replace(drawn, moves=moves, gaps=gaps)


def _air(dice: Numbers, days: int, kind: str) -> Air:
    temp, rh = dice.whole(4, 25), dice.whole(30, 85)
    spells = tuple(_spell(dice, days) for _ in range(dice.whole(0, 4)))
    if dice.pick((True, True, False)):
        spells = (*_near_a_rule(dice, days, temp, rh), *(spells if dice.pick((False, False, True)) else ()))
    if kind == "steady":
        return Air(temp, rh, weather_rh=0.3, weather_k=0.1, spells=spells)
    less = 1 if kind == "house" else 0.4
    return Air(
        temp, rh, season_k=dice.whole(0, 9), season_rh=dice.whole(0, 15), day_k=less * dice.whole(0, 6),
        day_rh=less * dice.whole(0, 20), weather_k=less * dice.whole(0, 4), weather_rh=less * dice.whole(0, 10),
        spells=spells,
    )  # fmt: skip


def _near_a_rule(dice: Numbers, days: int, temp_c: float, rh_percent: float) -> tuple[Spell, ...]:
    """A spell about as long as some rule asks, which ends where most periods are judged; some with a break in it."""
    hours, to_c, to_percent = dice.pick(NEAR_RULES)
    hours = min(hours + dice.whole(0, max(hours // 8, 2)), 24 * days)
    ago = hours + dice.pick((dice.whole(0, 20), dice.whole(0, 140)))
    more = dice.pick((dice.whole(0, 3), dice.whole(3, 8)))  # beyond what a logger may be off by, or not
    warmer = 0.0 if to_c is None else to_c + more * (1 if to_c > temp_c else -1) - temp_c
    damper = 0.0 if to_percent is None else to_percent + more * (1 if to_percent > rh_percent else -1) - rh_percent
    spell = Spell(ago, hours, warmer, damper)
    if hours < 12 or dice.pick((True, False)):
        return (spell,)
    after = dice.whole(2, hours - 8)
    return spell, Spell(ago - after, dice.whole(1, 6), -warmer, -damper)


def _spell(dice: Numbers, days: int) -> Spell:
    hours = dice.pick((dice.whole(1, 12), dice.whole(12, 250), dice.whole(100, 1500)))
    ago = dice.pick((dice.whole(1, 200), dice.whole(1, 24 * days), hours))
    temp, rh = dice.pick(((0, 1), (0, -1), (1, 0), (-1, 0), (1, -1), (-1, 1)))
    return Spell(ago, hours, temp * dice.whole(2, 30), rh * dice.whole(3, 45))


def _moves(dice: Numbers, days: int, rooms: int) -> tuple[Move, ...]:
    if dice.pick((True, True, False)):
        return ()
    first = dice.pick((dice.whole(1, 240), dice.whole(240, 24 * days - 24)))
    intended = dice.pick((False, True))
    position = dice.pick(("rack", "outer wall", "crate"))
    there = Move(first, rooms - 1, intended, position)
    back = Move(max(first - dice.whole(2, 300), 0), 0)
    return (there, back) if back.ago_h and (intended or dice.pick((True, False))) else (there,)


def _gaps(dice: Numbers, days: int) -> tuple[tuple[int, int], ...]:
    def one() -> tuple[int, int]:
        ago = dice.pick((dice.whole(1, 168), dice.whole(1, 24 * days)))
        return ago, dice.pick((dice.whole(1, 12), dice.whole(12, 60), dice.whole(24, 600)))

    return tuple(one() for _ in range(dice.pick((0, 0, 1, 2))))


def _coats(dice: Numbers, days: int) -> tuple[Coat, ...]:
    def on() -> float | None:
        return dice.pick((None, dice.whole(days, days + 900), dice.whole(0, days), -dice.whole(1, 30)))

    coats = [Coat("paint", dice.pick(("oil_paint", "acrylic_paint", "unknown")))]
    coats += dice.pick(((), (Coat("size", "animal_glue"),), (Coat("size", "unknown"),)))
    coats += [Coat("canvas", dice.pick(SUPPORT))]
    lining = dice.pick(("film", "old", "old and film", "none"))
    if lining in ("old", "old and film"):
        coats.append(Coat(*dice.pick(OLD), ago_days=dice.pick((None, on()))))
    if lining in ("film", "old and film"):
        coats += [Coat("film", dice.pick(FILMS), on()), Coat("lining canvas", dice.pick(SUPPORT))]
    coats += [Coat(*dice.pick(LOCAL), ago_days=on()) for _ in range(dice.pick((0, 0, 1, 2)))]
    if dice.pick((False, False, True)):
        coats.append(Coat("varnish", "natural_resin_varnish", on()))
    return tuple(coats)
