"""The rooms: heat and moisture balances driven by the air outdoors.

One zone a room. The moisture balance is the usual one,

    d/dt [(V v_s(T)/100 + C) RH] = n V (v_out - v_in) + G - R,

solved exactly over each step with its inputs held, so that it never oscillates; C is what the hygroscopic
things in the room hold for each % RH. Vapour from outdoors is carried at constant vapour pressure.
"""

from dataclasses import dataclass

import numpy as np
from moist import content_g_m3, saturation_pa
from weather import STEP_H, Weather, local_offset_h, smooth

MACHINE_BAND = 8.0  # % RH from idle to full power


@dataclass(frozen=True)
class Room:
    """What a room is made of: volume m³, air changes /h, buffer g/% RH, moisture g/h, and its heat."""

    volume_m3: float
    changes_h: float
    buffer_g: float
    source_g_h: float = 0.0
    people_g_h: float = 0.0  # by day
    tau_h: float = 60.0  # how slowly it follows the temperature outdoors
    gain_c: float = 2.0  # warmer than outdoors without heating, lamps and neighbours
    sun_c: float = 4.0  # warmer by sun, at full sunshine
    heated_c: tuple[float, float] | None = None  # by day and by night, on the wall clock
    dry_below: float = 0.0  # % RH under which a humidifier works
    wet_above: float = 100.0  # % RH over which a dehumidifier works
    machine_g_h: float = 0.0  # what either moves at most


@dataclass(frozen=True)
class Air:
    """Air at a point on the common grid: °C and Pa."""

    temp_c: np.ndarray
    vapour_pa: np.ndarray

    @property
    def rh_percent(self) -> np.ndarray:
        """Relative humidity, 100 at most. [% RH]"""
        return np.minimum(100 * self.vapour_pa / saturation_pa(self.temp_c), 100.0)


def by_day(time, first_h: float = 7.0, last_h: float = 19.0) -> np.ndarray:
    """True between two hours of the wall clock."""
    hour = wall_hour(time)
    return (hour >= first_h) & (hour < last_h)


def wall_hour(time) -> np.ndarray:
    """Hour of the day on the wall clock, with fraction."""
    minutes = time.astype("int64") + 60 * local_offset_h(time)
    return (minutes % 1440) / 60


def room_temperature(weather: Weather, room: Room) -> np.ndarray:
    """Temperature of a room: a first-order lag behind outdoors, lifted by gains, sun and heating."""
    free = weather.temp_c + room.gain_c + room.sun_c * weather.sun
    if room.heated_c is None:
        return smooth(free, room.tau_h)
    asked = np.where(by_day(weather.time, 6, 20), *room.heated_c).tolist()
    closes, warms = 1 - np.exp(-STEP_H / room.tau_h), 1 - np.exp(-STEP_H / 1.5)
    state, out = asked[0], []
    for outside, want in zip(free.tolist(), asked, strict=True):
        state += closes * (outside - state)
        state += warms * max(want - state, 0.0)
        out.append(state)
    return np.array(out)


def moisture_source(weather: Weather, room: Room) -> np.ndarray:
    """Moisture given off in the room: all day, and by people. [g/h]"""
    return room.source_g_h + room.people_g_h * by_day(weather.time)


def machine(room: Room, rh: float) -> float:
    """Water a humidifier adds (or a dehumidifier takes, below nought) at this humidity. [g/h]"""
    short = max(room.dry_below - rh, 0.0) - max(rh - room.wet_above, 0.0)
    return room.machine_g_h * min(max(short / MACHINE_BAND, -1.0), 1.0)


def balance(room: Room, temp_c, outside_pa, source_g_h, start_rh: float = 60.0) -> np.ndarray:
    """Relative humidity of a room over the grid, by the exact step of the moisture balance."""
    per_percent = content_g_m3(temp_c, saturation_pa(temp_c)) / 100
    carried = content_g_m3(temp_c, outside_pa)
    flow = room.changes_h * room.volume_m3
    rh, out, held = start_rh, [], None
    for s1, come, given in zip(per_percent.tolist(), carried.tolist(), source_g_h.tolist(), strict=True):
        capacity = room.volume_m3 * s1 + room.buffer_g
        rh = rh if held is None else held / capacity  # the water stays when the temperature moves
        ends = (come + (given + machine(room, rh)) / flow) / s1
        rh = min(ends + (rh - ends) * np.exp(-flow * s1 / capacity * STEP_H), 100.0)
        held = capacity * rh
        out.append(rh)
    return np.array(out)


def room_air(weather: Weather, room: Room, around_pa=None, temp_c=None) -> Air:
    """The air of a room; its own temperature and the outdoor vapour unless others are given."""
    temp_c = room_temperature(weather, room) if temp_c is None else temp_c
    around_pa = weather.vapour_pa if around_pa is None else around_pa
    rh = balance(room, temp_c, around_pa, moisture_source(weather, room))
    return Air(temp_c, rh / 100 * saturation_pa(temp_c))


def moved(part: Air, by_c) -> Air:
    """The same air where it is warmer or colder: at a wall, over a radiator."""
    temp_c = part.temp_c + by_c
    return Air(temp_c, np.minimum(part.vapour_pa, saturation_pa(temp_c)))
