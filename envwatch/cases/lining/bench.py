"""Where a painting is lined and dried, what that room's last day was, and what the canvas has come to where it lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import climate
from envwatch.archive import Studio
from envwatch.cases.lining.working import DAY_H, LastDay
from envwatch.climate.exposure import Exposure
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.place import Place, PlaceKind


@dataclass(frozen=True)
class Bench:
    """What was said of the work. "" and None: not said.

    `room`: words of the place in which it is lined and dried; `attended_by`: who changes blotters and weights there,
    "nobody" where nobody does; `film_forming_c`: of a dispersion's label. [°C]
    """

    room: str = ""
    attended_by: str = ""
    film_forming_c: float | None = None

    def __post_init__(self) -> None:
        """BadInput: a film-forming temperature that cannot be."""
        value = self.film_forming_c
        if value is not None and not -20 <= value <= 100:
            what = "cannot be; give the label's in °C, from −20 to 100"
            raise BadInput(what, field="film_forming", seen=f"{value:g}")


@dataclass(frozen=True, eq=False)
class BenchRoom:
    """The last 24 whole hours of the room. `basis`: why it is taken; `noise`: of two readings' difference. [% RH]"""

    place_id: str
    name: str
    basis: str
    temp_c: LastDay
    rh_percent: LastDay
    noise: float
    notes: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Lying:
    """A painting where it lies.

    `hours`: the air there; `air`, `canvas`: the last 24 hours of that air and of the canvas's own humidity; `latest`:
    the canvas at the last hour read, `doubt`: what gaps and the record's beginning leave open of it. [% RH], [h]
    """

    place_id: str
    hours: climate.Hourly
    tau_h: float
    air: LastDay
    canvas: LastDay
    latest: float
    doubt: float
    plus_minus: float
    noise: float

    def reads_as(self, room: BenchRoom) -> bool:
        """Whether the room's readings are these very ones: then the logger's bias is in both and cancels."""
        return self.place_id == room.place_id and np.array_equal(self.air.hours, room.rh_percent.hours, equal_nan=True)


def _noise(air: Climate) -> float:
    return float(np.sqrt(2) * air.sensor.rh_noise_percent)


def room_of(studio: Studio, ways: Sequence[Exposure], bench: Bench, now: pd.Timestamp) -> BenchRoom:
    """The room in which it is lined: the one named; else the studio; else where it lies.

    Raises
    ------
    NotThere : no such place in the register.
    """
    place, basis = _taken(studio, ways, bench)
    end = now.floor("h")
    start = end - pd.Timedelta(hours=DAY_H)
    air = Climate.joined([], start, end) if place is None else studio.climate(place.id, start, end)
    hours, doubted = climate.hourly(air), bool(air.suspect.any())
    return BenchRoom(
        *(("", "the room") if place is None else (place.id, place.name)), basis,
        LastDay(hours.temp_c, air.sensor.temp_u_c, doubted),
        LastDay(hours.rh_percent, air.sensor.rh_u_percent, doubted),
        _noise(air), air.notes,
    )  # fmt: skip


def _taken(studio: Studio, ways: Sequence[Exposure], bench: Bench) -> tuple[Place | None, str]:
    if bench.room:
        return studio.find_place(bench.room), "as said"
    places = studio.places()
    lies = ways[-1].stints[-1].place_id if ways[-1].stints else ""
    studios = [place for place in places.values() if place.kind == PlaceKind.STUDIO]
    here = [place for place in studios if place.id == lies]
    if len(studios) == 1 or here:
        return (here or studios)[0], "assumed; name another if it is lined or dried elsewhere (⟦room⟧)"
    if studios:
        return None, "not known: the register holds several studios; name one (⟦room⟧)"
    if lies in places:
        return places[lies], "assumed, where it lies: the register holds no studio; name the room (⟦room⟧)"
    return None, "not known: name the room in which it is lined and dried (⟦room⟧)"


def lying(way: Exposure, tau_h: float) -> Lying:
    """A painting along one way it may have come, up to the end of it; the canvas by first-order response."""
    hours = climate.hourly(way.room)
    held = climate.canvas_humidity_range(hours.rh_percent, tau_h)
    state = held.held.copy()
    state[~np.isfinite(hours.rh_percent)] = np.nan
    read = np.flatnonzero(np.isfinite(state))
    latest, doubt = (state[read[-1]], held.doubt[read[-1]]) if len(read) else (np.nan, np.nan)
    sensor = way.room.sensor
    last = way.room.between(max(way.end - pd.Timedelta(hours=DAY_H), way.start), way.end)
    doubted = bool(last.suspect.any())
    open_ = sensor.rh_u_percent + float(np.nan_to_num(doubt))
    return Lying(
        way.stints[-1].place_id if way.stints else "", hours, tau_h,
        LastDay(hours.rh_percent[-DAY_H:], sensor.rh_u_percent, doubted),
        LastDay(state[-DAY_H:], open_, doubted), float(latest), float(doubt), sensor.rh_u_percent, _noise(way.room),
    )  # fmt: skip


__all__ = ["Bench", "Lying", "BenchRoom", "lying", "room_of"]
