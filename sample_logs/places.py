"""The places of the story and the air at each point where a logger hangs."""

import numpy as np
from moist import saturation_pa
from rooms import Air, Room, by_day, moved, room_air
from weather import Weather, smooth

STUDIO = Room(
    180, 0.5, 420, source_g_h=20, people_g_h=110, tau_h=70, gain_c=2.5, sun_c=5, heated_c=(19.6, 18.4),
    dry_below=52.0, wet_above=52.0, machine_g_h=1100,
)  # fmt: skip
OFFICE = Room(55, 0.5, 120, people_g_h=45, tau_h=60, gain_c=2.5, sun_c=4, heated_c=(20.0, 17.5))
STORE = Room(140, 0.12, 1100, source_g_h=16.5, tau_h=280, gain_c=1.2, sun_c=3, heated_c=(14.3, 14.3))
LOFT = Room(130, 0.9, 500, source_g_h=105, tau_h=5, gain_c=5.4, sun_c=15.5)
LIVING_ROOM = Room(95, 0.45, 1400, source_g_h=60, people_g_h=95, tau_h=55, gain_c=3.0, sun_c=4, heated_c=(20.8, 19.0))
CRATE = Room(1.2, 0.08, 9)
CHAMBER = Room(1.5, 0.3, 4, source_g_h=0)

# the crate stands in the studio; these are its journeys, from and to, in UTC
JOURNEYS = (
    ("2026-01-20T08:00", "2026-01-20T17:00"),
    ("2026-04-14T07:00", "2026-04-15T15:00"),
    ("2026-09-12T07:30", "2026-09-12T13:00"),
)
CHAMBER_FROM, CHAMBER_TO = "2026-10-12T07:00", "2026-10-14T09:00"


def outdoors(weather: Weather) -> Air:
    """The air in the garden, in the shade of the shed."""
    return Air(weather.temp_c, weather.vapour_pa)


def studio(weather: Weather) -> Air:
    """The studio: heated, with a small humidifier and a small dehumidifier."""
    return room_air(weather, STUDIO)


def office(weather: Weather) -> Air:
    """The office beside the studio, without either."""
    return room_air(weather, OFFICE)


def store_rack(weather: Weather) -> Air:
    """The picture store in its middle: half below ground, damp from the floor, frost-free heating only."""
    return room_air(weather, STORE)


def store_wall(weather: Weather) -> Air:
    """The same air a hand's breadth from the north wall, which is colder."""
    rack = store_rack(weather)
    return moved(rack, -0.95 - 0.055 * np.clip(rack.temp_c - smooth(weather.temp_c, 30), -4, 16))


def loft(weather: Weather) -> Air:
    """The drying loft under the tiles: oven in summer, cold and airy in autumn."""
    return room_air(weather, LOFT)


def crate(weather: Weather) -> Air:
    """Inside the closed crate: slow in temperature, slower in moisture."""
    around = studio(weather)
    on_the_way = np.zeros(len(weather.time), bool)
    for first, last in JOURNEYS:
        on_the_way |= (weather.time >= np.datetime64(first)) & (weather.time < np.datetime64(last))
    temp_c = smooth(np.where(on_the_way, weather.temp_c + 5, around.temp_c), 4)
    vapour = np.where(on_the_way, weather.vapour_pa, around.vapour_pa)
    return room_air(weather, CRATE, around_pa=vapour, temp_c=temp_c)


def house_inner(weather: Weather) -> Air:
    """The living room of the house, at its inner wall."""
    return room_air(weather, LIVING_ROOM)


def house_outer(weather: Weather) -> Air:
    """The living room, close to the outer wall."""
    room = house_inner(weather)
    return moved(room, -0.6 - 0.14 * np.clip(room.temp_c - smooth(weather.temp_c, 8), 0, 30))


def house_radiator(weather: Weather) -> Air:
    """The living room, in the warm air over the old radiator, which runs from noon to ten; its valve limits it."""
    cold = np.clip((15.5 - smooth(weather.temp_c, 20)) / 6.0, 0, 1)
    heating = np.where(by_day(weather.time, 12.0, 22.0), 27.5, 4.0) * cold
    return moved(house_inner(weather), smooth(smooth(heating, 1.3), 1.3))


def chamber(weather: Weather) -> Air:
    """The humidity chamber in the studio: damp only while it is in use."""
    room = studio(weather)
    used = (weather.time >= np.datetime64(CHAMBER_FROM)) & (weather.time < np.datetime64(CHAMBER_TO))
    share = smooth(used.astype(float), 2.0)
    temp_c = room.temp_c + 1.5 * share
    rh = room.rh_percent * (1 - share) + 84 * share
    return Air(temp_c, rh / 100 * saturation_pa(temp_c))
