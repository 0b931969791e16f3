"""The outdoor air of the invented town: season, day, weather that lasts, and a few spells that the story needs.

Everything stands on one grid of 15 minutes in UTC. The random numbers come from numpy's frozen legacy
generator, so the same seed gives the same air with every later numpy.
"""

from dataclasses import dataclass

import numpy as np
from moist import saturation_pa

STEP_H = 0.25
BEGIN = np.datetime64("2025-07-01T00:00", "m")  # two months before the first logger, so that the rooms have settled
END = np.datetime64("2026-11-03T00:00", "m")

# from, to, °C on the air, °C on the dew point: the spells of the story
SPELLS = (
    ("2026-01-04", "2026-01-17", -6.0, -6.0),
    ("2026-02-10", "2026-02-16", -4.0, -4.5),
    ("2026-05-22", "2026-05-28", 5.0, 2.0),
    ("2026-07-03", "2026-07-14", 7.5, 4.0),
    ("2026-08-08", "2026-08-17", 5.0, 3.0),
    ("2026-08-20", "2026-09-20", 0.0, 1.2),
    ("2026-10-18", "2026-11-05", 0.0, 1.0),
)


@dataclass(frozen=True)
class Weather:
    """Outdoor air and sun on the common grid: UTC minutes, °C, Pa, and sunshine from 0 to 1."""

    time: np.ndarray
    temp_c: np.ndarray
    vapour_pa: np.ndarray
    sun: np.ndarray


def days_since(time, origin: str) -> np.ndarray:
    """Days, with fraction, from an origin."""
    return (time - np.datetime64(origin, "m")) / np.timedelta64(1, "D")


def wandering(random, count: int, tau_h: float) -> np.ndarray:
    """First-order noise of unit spread that forgets itself with `tau_h`."""
    keep = np.exp(-STEP_H / tau_h)
    kicks = (random.standard_normal(count) * np.sqrt(1 - keep**2)).tolist()
    state, out = 0.0, []
    for kick in kicks:
        state = keep * state + kick
        out.append(state)
    return np.array(out)


def smooth(values, tau_h: float) -> np.ndarray:
    """First-order lag behind a series, started at its first value."""
    closes = 1 - np.exp(-STEP_H / tau_h)
    state, out = float(values[0]), []
    for value in values.tolist():
        state += closes * (value - state)
        out.append(state)
    return np.array(out)


def spell(time, first: str, last: str) -> np.ndarray:
    """1 within a spell, rising and falling over a day and a half at its ends."""
    inside = np.minimum(days_since(time, first), -days_since(time, last))
    return np.clip(inside / 1.5 + 0.5, 0, 1)


def sunshine(time, cloud) -> np.ndarray:
    """Sun on a roof, 0 to 1: the height of the sun at 54° north, less what the clouds take."""
    declination = np.radians(-23.4) * np.cos(2 * np.pi * days_since(time, "2025-12-21") / 365.25)
    hour_angle = 2 * np.pi * (days_since(time, "2025-01-01") % 1.0 - 0.46)
    lat = np.radians(54.0)
    height = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour_angle)
    return np.clip(height, 0, 1) * (1 - 0.75 * cloud)


def make_weather(seed: int) -> Weather:
    """The air outdoors over the whole story."""
    random = np.random.RandomState(seed)
    time = np.arange(BEGIN, END, np.timedelta64(15, "m"))
    year = np.cos(2 * np.pi * days_since(time, "2026-01-22") / 365.25)
    lasting = wandering(random, len(time), 70)
    cloud = 1 / (1 + np.exp(-1.6 * wandering(random, len(time), 30) - 0.5 - 0.5 * year))
    sun = sunshine(time, cloud)
    warm, moist = np.zeros(len(time)), np.zeros(len(time))
    for first, last, on_air, on_dew in SPELLS:
        part = spell(time, first, last)
        warm, moist = warm + on_air * part, moist + on_dew * part
    base = 9.8 - 8.4 * year + 2.2 * lasting + warm
    temp_c = base - 2.2 + smooth(12.5 * sun, 2.5) + 0.25 * wandering(random, len(time), 1.5)
    dew = 5.4 - 7.0 * year + 1.9 * lasting + moist + 0.8 * wandering(random, len(time), 18)
    limit = 0.985 * saturation_pa(temp_c)  # over that it is fog, and the fog settles
    return Weather(time, temp_c, np.minimum(saturation_pa(dew), limit), sun)


def local_offset_h(time) -> np.ndarray:
    """Hours by which the wall clock is ahead of UTC: 1, or 2 from the last Sunday of March to that of October."""
    out = np.ones(len(time), int)
    for year in (2025, 2026):
        first, last = (last_sunday(year, month) + np.timedelta64(60, "m") for month in (3, 10))
        out[(time >= first) & (time < last)] = 2
    return out


def last_sunday(year: int, month: int) -> np.datetime64:
    """Midnight of the last Sunday of a month, in minutes."""
    day = np.datetime64(f"{year}-{month + 1:02d}-01", "D") - 1
    while (day - np.datetime64("2026-01-04", "D")).astype(int) % 7:  # a Sunday
        day -= 1
    return day.astype("datetime64[m]")
