"""Invented air for composed files: temperature and vapour wander apart, humidity follows; schedules of any kind."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

NOW = pd.Timestamp("2026-06-01", tz="UTC")
MINUTES = {"minute": 1, "5 min": 5, "10 min": 10, "15 min": 15, "half-hour": 30, "hourly": 60, "2 h": 120, "3 h": 180,
           "daily": 1440, "weekly": 10080}  # fmt: skip
SCHEDULES = (*MINUTES, "monthly", "irregular", "with gaps")
OFTEN = {"10 min": 5, "15 min": 5, "hourly": 6, "half-hour": 3, "weekly": 0.5, "monthly": 0.5}  # weights; else 1
PLACES = {
    "store": (19, 2, 1.0),
    "church": (13, 8, 2.0),
    "attic": (14, 11, 6.0),
    "cellar": (11, 3, 0.5),
    "frost": (-1, 3, 2),
}


class Air(NamedTuple):
    """(n,) of one probe: °C, % RH and dew point as the logger shows them. `time` in UTC."""

    time: pd.DatetimeIndex
    temp_c: np.ndarray
    rh_percent: np.ndarray
    dew_c: np.ndarray


def vapour_pa(temp_c):
    """Magnus, WMO no. 8: 611.2 exp(17.62 t / (243.12 + t)). [Pa]"""
    return 611.2 * np.exp(17.62 * temp_c / (243.12 + temp_c))


def times(rng: np.random.Generator, whole_hours: bool) -> tuple[str, pd.DatetimeIndex]:
    """A schedule and its moments, all of them in the past."""
    weights = np.array([OFTEN.get(name, 1) for name in SCHEDULES], float)
    schedule = str(rng.choice(SCHEDULES, p=weights / weights.sum()))
    if whole_hours and MINUTES.get(schedule, 0) < 60:
        schedule = "hourly"
    start = pd.Timestamp("2009-01-01", tz="UTC") + pd.Timedelta(hours=int(rng.integers(0, 24 * 365 * 14)))
    start += pd.Timedelta(minutes=0 if whole_hours or rng.random() < 0.6 else int(rng.integers(0, 60)))
    many = int(np.exp(rng.uniform(np.log(24), np.log(700))))
    if schedule == "monthly":
        months = pd.date_range(start.normalize(), periods=min(many, 36), freq="MS") + pd.Timedelta(hours=10)
        return schedule, months
    if schedule == "irregular":
        steps = np.cumsum(rng.integers(1, 600, many))
        return schedule, start + pd.to_timedelta(steps, unit="min")
    minutes = MINUTES.get(schedule, 60)
    many = min(many, 500 if minutes <= 60 else 300 if minutes < 1440 else 150)
    found = start + pd.to_timedelta(np.arange(many) * minutes, unit="min")
    if schedule == "with gaps":
        keep = np.ones(many, bool)
        for _ in range(3):
            at = int(rng.integers(1, many))
            keep[at : at + int(rng.integers(1, max(many // 6, 2)))] = False
        found = found[keep]
    return schedule, found


def _wander(rng, n: int, pull: float, size: float) -> np.ndarray:
    steps, out, now = rng.normal(0, size, n), np.zeros(n), 0.0
    for i in range(n):
        now = now * pull + steps[i]
        out[i] = now
    return out


def air(rng: np.random.Generator, when: pd.DatetimeIndex, places: tuple[int, int]) -> Air:
    """One probe's air; `places` : decimals shown of temperature and humidity."""
    middle, season, day = PLACES[str(rng.choice(list(PLACES)))]
    hours = (when - pd.Timestamp("2000-01-01", tz="UTC")) / pd.Timedelta(hours=1)
    phase = rng.uniform(0, 3)
    temp = (
        middle
        - season * np.cos((hours / 8766 - 0.05) * 2 * np.pi)
        + day * np.sin((hours / 24 + phase / 24) * 2 * np.pi)
    )
    temp = np.round(np.asarray(temp) + _wander(rng, len(when), 0.95, 0.15), places[0])
    below = 6.5 + 1.5 * np.sin(np.asarray(hours) / 190 + phase) + _wander(rng, len(when), 0.97, 0.2)
    dew = temp - np.clip(below, 0.3, 16) - rng.uniform(0, 3)
    rh = np.clip(100 * vapour_pa(dew) / vapour_pa(temp), 3, 99)
    return Air(when, temp, np.round(rh, places[1]), np.round(dew, places[0]))
