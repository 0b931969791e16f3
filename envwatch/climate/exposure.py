"""The climates at the points that matter for one painting, and where each was."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from hashlib import blake2b
from typing import Any, TypeVar

import numpy as np
import pandas as pd

from envwatch.climate.series import Climate
from envwatch.core.arrays import Mask
from envwatch.core.place import Fact, Placement, Point

ROOM, CANVAS_BACK, PAINT_FACE, WALL_FACE = Point
Made = TypeVar("Made")
POINTS, NEVER_HERE = tuple(point.value for point in Point), tuple(fact.value for fact in Fact)


@dataclass(frozen=True)
class Stint:
    """One stretch of an exposure: where, how, and whether it was meant.

    `own_logger`: the readings were taken at this very position, not for the room in general.
    """

    start: pd.Timestamp
    end: pd.Timestamp
    place_id: str  # "": whereabouts unknown
    place_name: str
    position: Placement = Placement.UNKNOWN
    zone: str = "UTC"
    intended: bool = False
    purpose: str = ""
    own_logger: bool = False


@dataclass(frozen=True)
class Position:
    """Plain facts of where a painting hangs, or may hang, that no climate tells.

    Attributes
    ----------
    light_lux_h_year : dose of light in a year; NaN where not known. [lx h]
    light_times : factor either way by which the dose may be off: it was reckoned, or metered.
    facts : (fact, whether it holds there; None where not known, which is never safe).
    basis : plain words on where these facts come from.
    """

    light_lux_h_year: float = float("nan")
    light_times: float = 1.0
    facts: tuple[tuple[Fact, bool | None], ...] = ()
    basis: str = ""


@dataclass(frozen=True, eq=False)
class Exposure:
    """The climates at the points that matter for one painting (or one place), and where each was.

    `points` maps each `Point` to its climate over the same span. A point that is not known is
    absent, and whoever judges says so. `stints` are in time order and never overlap; time in none of
    them, or in one without a place, is unknown. `position`: light and plain facts of where it hangs; None
    where nobody asked, and then the hazards that need them say nothing.

    `weekly`: what ends at `end` is one of consecutive weeks; points and stints then reach up to a week and a half past
    it, for the windows that lie in it and beside it (`hazards.hourly`). `reviewed`: until when the air had been read
    when the week before was reviewed; None where it was not.
    """

    points: Mapping[Point, Climate]
    start: pd.Timestamp
    end: pd.Timestamp
    stints: tuple[Stint, ...] = ()
    notes: tuple[str, ...] = ()
    position: Position | None = None
    weekly: bool = False
    reviewed: pd.Timestamp | None = None

    @cached_property
    def digest(self) -> bytes:
        """One key for all that it holds, the air at its points included."""
        told = (self.start, self.end, self.stints, self.notes, self.position, self.weekly, self.reviewed)
        points = [(name, air.digest) for name, air in self.points.items()]
        return blake2b(repr((told, points)).encode(), digest_size=16).digest()

    def __eq__(self, other: object) -> bool:
        return self is other or (isinstance(other, Exposure) and self.digest == other.digest)

    def __hash__(self) -> int:
        return hash(self.digest)

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What is made of an exposure and of all its like, once; the key holds all that it depends on besides.

        Two threads may make the same thing; both get it right.

        >>> import pandas as pd
        >>> day = pd.Timestamp("2026-11-02", tz="UTC")
        >>> exposure, made = Exposure({}, day, day), []
        >>> [exposure.once("n", lambda: made.append(1) or len(made)) for _ in range(3)]
        [1, 1, 1]
        """
        held = _made_of(self.digest)
        if key not in held:
            held[key] = make()
        made: Made = held[key]  # a key stands for one kind of thing
        return made

    @property
    def room(self) -> Climate:
        """The room air; without readings where there are none."""
        if ROOM in self.points:
            return self.points[ROOM]
        return Climate.joined([], self.start, self.end)

    def part(self, point: Point, start: pd.Timestamp) -> Climate:
        """The readings at a point in [start, end), cut once."""
        there = self.room if point == ROOM else self.points[point]
        return self.once(("part", point, start), lambda: there.between(start, self.end))

    @property
    def zone(self) -> str:
        """The zone of the last place of the period, for days and daily swings."""
        return self.last_stint.zone if self.last_stint else "UTC"

    @cached_property
    def last_stint(self) -> Stint | None:
        """Where it was at the end of the period."""
        return next((stint for stint in reversed(self.stints) if stint.start < self.end), None)

    def stint_at(self, moment: pd.Timestamp) -> Stint | None:
        """Where it was at a moment; None where that is not known."""
        return next((stint for stint in self.stints if stint.start <= moment < stint.end), None)

    @cached_property
    def read_until(self) -> pd.Timestamp | None:
        """The end of the last whole hour in which the room was read, past `end` too; None where it never was."""
        room = self.room
        read = np.flatnonzero(np.isfinite(room.temp_c) | np.isfinite(room.rh_percent))
        if not len(read):
            return None
        last: pd.Timestamp = room.time[read[-1]] + pd.Timedelta(hours=float(room.hours[read[-1]]))
        return last.floor("h")

    def zone_at(self, moment: pd.Timestamp) -> str:
        """The zone of the place the painting stood in at a moment."""
        stint = self.stint_at(moment)
        return self.zone if stint is None else stint.zone

    def intended_mask(self, time: pd.DatetimeIndex, tail_h: float | None = None) -> Mask:
        """True where a time falls into an intended stint. (n,) -> (n,)

        `tail_h`: the times are whole hours, and those count that one touches, and for so long after it. [h]
        """
        mask = np.zeros(len(time), bool)
        for stint in self.stints:
            if stint.intended:
                span = stint.start, stint.end
                if tail_h is not None:
                    span = stint.start.floor("h"), stint.end + pd.Timedelta(hours=tail_h)
                lo, hi = time.searchsorted(list(span))
                mask[lo:hi] = True
        return mask


@lru_cache(maxsize=2)  # by value; paintings in one air are judged one after the other
def _made_of(_digest: bytes) -> dict[Hashable, Any]:
    return {}


# spots with an air of their own, where a logger hangs right there
AT_A_SURFACE = (Placement.OUTER_WALL, Placement.WINDOW, Placement.RADIATOR, Placement.FIREPLACE)
ENCLOSED = (Placement.CRATE, Placement.CHAMBER)
AT = {
    **{spot: f"in the air at the {spot}" for spot in AT_A_SURFACE},
    **{spot: f"in the air of the {spot}" for spot in ENCLOSED},
}


def where(point: Point, stint: Stint | None) -> str:
    """The point in words; where a logger hangs at the painting's own spot, that spot.

    >>> now = pd.Timestamp("2026-11-02", tz="UTC")
    >>> where(ROOM, Stint(now, now, "h", "House", Placement.RADIATOR, own_logger=True)), where(ROOM, None)
    ('in the air at the radiator', 'in the room air')
    """
    if point != ROOM or stint is None or not stint.own_logger:
        return WHERE[point]
    return AT.get(stint.position, WHERE[point])


WHERE = {
    ROOM: "in the room air",
    CANVAS_BACK: "at the back of the canvas",
    PAINT_FACE: "at the paint face",
    WALL_FACE: "on the wall behind the picture",
}
