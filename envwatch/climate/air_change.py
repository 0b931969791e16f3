"""What the air itself did: how much of a change of humidity came by vapour, how much by temperature, and how fast."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from envwatch import air
from envwatch.climate.hours import Hourly
from envwatch.core.arrays import Array, ArrayLike
from envwatch.core.words import Word
from envwatch.figures import events as fig


class Course(Word):
    """Which way the vapour in the air went: a leak, wet work, people; drying, dry air let in; or neither."""

    IN, OUT, STEADY = "vapour came in", "vapour went out", "the vapour in it stayed"


@dataclass(frozen=True)
class AirChange:
    """From one state of the air to a later one. Pairs are (before, after); NaN is not known.

    `start`, `hours`: when it set in and how long it took. `rh_by_vapour`, `rh_by_temp`: the shares of the change of
    humidity, which add up to it. [% RH]
    """

    start: pd.Timestamp
    hours: float
    temp_c: tuple[float, float]
    rh_percent: tuple[float, float]
    vapour_pa: tuple[float, float]
    rh_by_vapour: float
    rh_by_temp: float
    course: Course | None  # None: not known

    @property
    def rh_change_percent(self) -> float:
        """Later less earlier. [% RH]"""
        return self.rh_percent[1] - self.rh_percent[0]

    @property
    def temp_change_c(self) -> float:
        """Later less earlier. [°C]"""
        return self.temp_c[1] - self.temp_c[0]


def split(
    temp_c: ArrayLike, rh_percent: ArrayLike, later_c: ArrayLike, later_percent: ArrayLike
) -> tuple[Array, Array]:
    """How much of a change of relative humidity came by vapour and how much by temperature; they add up to it.

    Parameters
    ----------
    temp_c, rh_percent, later_c, later_percent : the air before and after; broadcast together. [°C], [% RH]

    Returns
    -------
    (by vapour, by temperature), broadcast shape; NaN for NaN and for air without vapour. [% RH]

    Source: RH is vapour pressure over saturation pressure, so that logarithms add; each logarithm takes its share of
    the difference (the logarithmic mean). Saturation as in `air.saturation_pressure`.

    >>> by_vapour, by_temp = split(16, 60, 22, 41.25)  # heated, nothing added
    >>> abs(round(float(by_vapour), 1)), round(float(by_temp), 1)
    (0.0, -18.7)
    """
    before, after = air.usable_rh(rh_percent), air.usable_rh(later_percent)
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = np.log(after / before)
        mean = np.where(np.abs(whole) < 1e-9, before, (after - before) / whole)
        by_temp = mean * -np.log(air.saturation_pressure(later_c) / air.saturation_pressure(temp_c))
    known = (before > 0) & (after > 0)
    by_temp = np.where(known, by_temp, np.nan)
    return np.where(known, after - before, np.nan) - by_temp, by_temp


def between(start: pd.Timestamp, hours: float, before: tuple[float, float], after: tuple[float, float]) -> AirChange:
    """The change from one state of the air to another, each as (temp_c, rh_percent)."""
    temp_c, rh_percent = zip(before, after, strict=True)
    vapour = tuple(float(one) for one in air.vapour_pressure(temp_c, rh_percent))
    by_vapour, by_temp = (float(share) for share in split(*before, *after))
    return AirChange(start, hours, temp_c, rh_percent, (vapour[0], vapour[1]), by_vapour, by_temp,
                     course_of(by_vapour, by_temp))  # fmt: skip


def course_of(rh_by_vapour: float, rh_by_temp: float) -> Course | None:
    """Which way the vapour went, by its share of a change; steady within noise and a room's breathing. [% RH]

    None: not known.

    >>> course_of(0.5, -18.7).name, course_of(5.0, 0.1).name, course_of(-3.0, -20.0).name
    ('STEADY', 'IN', 'STEADY')
    """
    if not np.isfinite([rh_by_vapour, rh_by_temp]).all():
        return None
    least = max(float(fig.STEADY_RH), (1 - fig.LEAP_MOST) * (abs(rh_by_vapour) + abs(rh_by_temp)))
    return Course.STEADY if abs(rh_by_vapour) < least else Course.IN if rh_by_vapour > 0 else Course.OUT


def steepest(hours: Hourly, quantity: str, sign: int = 0) -> AirChange | None:
    """The largest change within a day, told by the shortest time in which most of it came.

    Parameters
    ----------
    hours : hourly means; one not read begins and ends no change.
    quantity : "rh_percent" or "temp_c".
    sign : 1 a rise, -1 a fall, 0 either.

    Returns
    -------
    The change; None where no two hours within a day of each other were read, or none changed that way.

    Source: our own measure; a day and "most" are our judgement (`figures.events`).
    """
    values = getattr(hours, quantity)
    if sign == 0:
        both = [one for one in (steepest(hours, quantity, 1), steepest(hours, quantity, -1)) if one is not None]
        return max(both, key=lambda one: abs(_moved(one, quantity)), default=None)
    whole = _largest(sign * values, range(1, int(fig.LEAP_WITHIN_H) + 1))
    if whole is None:
        return None
    most, first, steps = whole
    for fewer in range(1, steps + 1):
        found = _largest(sign * values[first : first + steps + 1], [fewer])
        if found is not None and found[0] >= fig.LEAP_MOST * most:
            first, steps = first + found[1], fewer
            break
    ends = [(float(hours.temp_c[at]), float(hours.rh_percent[at])) for at in (first, first + steps)]
    return between(hours.time[first] + pd.Timedelta(hours=1), float(steps), *ends)


def _largest(values: Array, steps: range | list[int]) -> tuple[float, int, int] | None:
    """(rise, first row, steps) of the largest rise from a row to one so many steps later."""
    best: tuple[float, int, int] | None = None
    for step in steps:
        rise = values[step:] - values[:-step]
        if not np.isfinite(rise).any():
            continue
        at = int(np.nanargmax(rise))
        if rise[at] > (best[0] if best else 0.0):
            best = float(rise[at]), at, step
    return best


def _moved(change: AirChange, quantity: str) -> float:
    before, after = getattr(change, quantity)
    return float(after - before)
