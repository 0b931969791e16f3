"""What a person says of a house and of one position in it. None: not said; then the worst plausible value counts."""

from __future__ import annotations

from dataclasses import dataclass, field

import pandas as pd


@dataclass(frozen=True)
class House:
    """The house, or the part of it, in which all positions of a file are.

    Attributes
    ----------
    place_id : of a place in the register, where its loggers hang; "" where there is none.
    outdoors_id : of the place whose logger reads outdoors; "" for the first such place, where `near_outdoors` says so.
    heating : a key of `figures.hanging.HEATING`; warm_c, cool_c : its set-points by day and by night.
    empty_months : months (1 to 12) in which nobody lives there and it is not heated.
    moisture : "dry" habits (airing), "ordinary", or "humidified" (humidifier, laundry, many plants).
    coldest_month_c, warmest_month_c, cold_spell_c : of the climate there, where no logger reads outdoors.
    """

    name: str = "the house"
    place_id: str = ""
    outdoors_id: str = ""
    latitude: float | None = None
    longitude: float | None = None
    heating: str | None = None
    warm_c: float | None = None
    cool_c: float | None = None
    empty_months: tuple[int, ...] | None = None
    moisture: str | None = None
    coldest_month_c: float | None = None
    warmest_month_c: float | None = None
    cold_spell_c: float | None = None
    hang_on: pd.Timestamp | None = None


@dataclass(frozen=True)
class HangingPosition:
    """One position, as described. Lengths are in mm or m, as their names say.

    Attributes
    ----------
    reading : (wall surface, room, outdoors), of the bare wall on a cold morning. [°C]
    fire_reading_c : highest reading at the picture's middle through one whole evening of fire. [°C]
    log : position word of a logger in the house's place ("inner wall" …), "room" for whichever speaks for the room,
        "" for none; log_here : it hangs at this very position.
    lux, lux_hours : a light meter's mean by day, and hours of it a day.
    """

    name: str
    house: House = field(default_factory=House)
    room: str = ""
    use: str | None = None
    wall: str | None = None
    construction: str | None = None
    thickness_mm: float | None = None
    wall_lined: bool | None = None
    corner: bool | None = None
    reading: tuple[float, float, float] | None = None
    damp: bool | None = None
    fresh_plaster: bool | None = None
    radiator: bool | None = None
    radiator_above_m: float | None = None
    radiator_w_per_m: float | None = None
    radiator_aside_m: float | None = None
    fire: str | None = None
    fire_reading_c: float | None = None
    vent: bool | None = None
    sun: bool | None = None
    window: str | None = None
    window_faces: str | None = None
    window_depth_m: float | None = None
    window_aside_m: float | None = None
    window_head_m: float | None = None
    window_sill_m: float | None = None
    window_width_m: float | None = None
    curtain: str | None = None
    lux: float | None = None
    lux_hours: float | None = None
    lamp: str | None = None
    lamp_lux: float | None = None
    lamp_hours: float | None = None
    standoff_mm: float | None = None
    depth_mm: float | None = None
    board: str | None = None
    glazed: bool | None = None
    fixing: bool | None = None
    log: str = ""
    log_here: bool = False
    reckons: bool = False  # a season that the log does not cover has to be reckoned
    notes: tuple[str, ...] = ()

    @property
    def outer(self) -> bool:
        """Whether the wall it is on, as far as said, has a colder side."""
        return self.wall in (None, "outer", "unheated") or (self.wall == "chimney" and self.fire in (None, "disused"))
