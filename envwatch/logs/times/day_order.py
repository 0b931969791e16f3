"""The order of day, month and year: every order is tried on all rows, and evidence decides, never a default."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.figures.logs import FIRST_YEAR
from envwatch.logs.text.stamps import DAY_US, DateText

MIXED = (
    "day and month stand in two orders: those dates that fit both run on only the other way round, so a spreadsheet "
    "has probably swapped them"
)
WORDS = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}


class DayOrder(NamedTuple):
    """The day of each distinct date text under one order; `valid` where it is a real date."""

    name: str
    days: np.ndarray  # days since 1970, int64
    valid: np.ndarray


class Choice(NamedTuple):
    """The order taken and why; or, where nothing decides, the orders left over."""

    order: DayOrder | None
    why: str
    left: tuple[str, ...] = ()


def days_of(year: np.ndarray, month: np.ndarray, day: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Days since 1970 of civil dates, and which are real. (n,) ints -> (n,), (n,)"""
    valid = (month >= 1) & (month <= 12) & (day >= 1) & (year >= 1900) & (year <= 2299)
    month0 = np.where(valid, (year - 1970) * 12 + month - 1, 0)
    first = month0.astype("M8[M]").astype("M8[D]").astype(np.int64)
    after = (month0 + 1).astype("M8[M]").astype("M8[D]").astype(np.int64)
    valid &= day <= after - first
    return first + np.where(valid, day, 1) - 1, valid


def orders(dates: list[DateText | None]) -> list[DayOrder]:
    """Every order that the texts allow, each with its days."""
    rows = [d or DateText(0, 0, 0, "", "") for d in dates]
    a, b, c = (np.array([row[i] for row in rows] or [0], np.int64) for i in range(3))
    kind = np.array([row.order for row in rows] or [""])
    free = {row.order for row in rows} & {"any2", "any3"}
    names = ("dmy", "mdy", "ymd") if "any3" in free else ("dmy", "mdy") if free else ("ymd",)
    return [_under(name, a, b, c, kind) for name in names]


def _under(name: str, a, b, c, kind) -> DayOrder:
    any_ = (kind == "any2") | (kind == "any3")
    by_name = kind == "dmy"
    year = np.where((any_ & (name != "ymd")) | by_name, c, a)
    month = np.where(any_ & (name == "mdy"), a, b)
    day = np.where(any_ & (name != "ymd"), b if name == "mdy" else a, np.where(by_name, a, c))
    year = np.where(year < 100, year + 2000, year)
    days, valid = days_of(year, month, np.where(kind == "yd", 1, day))
    doy = kind == "yd"
    days = np.where(doy, days + c - 1, days)
    valid &= (kind != "") & ~(doy & ((c < 1) | (c > 366))) & ~((kind == "any2") & (name == "ymd"))
    return DayOrder(name, days, valid)


def choose(found: list[DayOrder], index: np.ndarray, time_us: np.ndarray, told: str | None, now_us: int) -> Choice:
    """The order that the evidence leaves.

    Parameters
    ----------
    found : the orders, per distinct date.
    index : (n,) which distinct date each row has, in file order.
    time_us : (n,) time of day. [µs]
    told : the order a person or the logger's earlier files gave.
    now_us : no reading comes from later than a day after this. [µs since 1970]
    """
    used = np.bincount(index, minlength=len(found[0].days))
    wrong = {order.name: int(used[~order.valid].sum()) for order in found}
    least = min(wrong.values())
    if least == len(index):
        return Choice(None, "no row holds a real date")
    possible = [order for order in found if wrong[order.name] == least]
    why = "the other order gives impossible dates" if len(possible) < len(found) else ""
    if told:
        fits = [order for order in possible if order.name == told]
        if not fits and len(found) > 1:
            return Choice(None, "told order impossible", tuple(order.name for order in possible))
        if fits:
            return Choice(fits[0], "as told")
    possible = _distinct(possible, used)
    if len(possible) == 1 and why and _turned(found, possible[0], index):
        return Choice(None, MIXED)
    if len(possible) == 1:
        return Choice(possible[0], why)
    return _by_history(possible, index, time_us, now_us)


def _turned(found: list[DayOrder], taken: DayOrder, index: np.ndarray) -> bool:
    """Whether the record runs on only if the dates that fit two orders are read the other way round."""
    run = index[np.append(0, np.flatnonzero(index[1:] != index[:-1]) + 1)]
    for other in found:
        if other.name == taken.name or other.name == "ymd":
            continue
        turned = np.where(other.valid & taken.valid, other.days, taken.days)
        mixed, plain = _jumps(turned[run]), _jumps(taken.days[run])
        if plain >= 3 and 2 * mixed < plain:
            return True
    return False


def _jumps(days: np.ndarray) -> int:
    """Steps from one date to the next that are not one day in the record's own direction."""
    steps = np.diff(days)
    ahead = np.median(np.sign(steps)) if len(steps) else 1
    return int((np.abs(steps * (ahead or 1) - 1) > 1).sum())


def _distinct(possible: list[DayOrder], used: np.ndarray) -> list[DayOrder]:
    """Orders that say different things; 05/05/2024 reads the same either way."""
    kept: list[DayOrder] = []
    for order in possible:
        seen = (used > 0) & order.valid
        if not any(np.array_equal(order.days[seen], other.days[seen]) for other in kept):
            kept.append(order)
    return kept


def _by_history(possible: list[DayOrder], index: np.ndarray, time_us: np.ndarray, now_us: int) -> Choice:
    walls = {}
    for order in possible:
        keep = order.valid[index]
        walls[order.name] = order.days[index][keep] * DAY_US + time_us[keep]
    early = (np.datetime64(f"{int(FIRST_YEAR)}-01-01", "us")).astype(np.int64)
    timely = [o for o in possible if ((walls[o.name] <= now_us + DAY_US) & (walls[o.name] >= early)).mean() > 0.99]
    if len(timely) == 1:
        return Choice(timely[0], "the other order lies in the future or before the year 2000")
    timely = timely or possible
    broken = {o.name: _breaks(walls[o.name]) for o in timely}
    ranked = sorted(timely, key=lambda o: broken[o.name])
    best, second = ranked[0], ranked[1]
    if _clearly(broken[best.name], broken[second.name]):
        return Choice(best, "only so does the record run on steadily from day to day")
    return Choice(None, "both orders fit", tuple(o.name for o in timely))


def _breaks(wall: np.ndarray) -> tuple[int, float]:
    """Steps at which the record does not run on, and how irregular its steps are (0 to 1)."""
    steps = np.diff(wall)
    steps = steps[steps != 0]
    if not len(steps):
        return 0, 0.0
    if (steps < 0).sum() > len(steps) / 2:
        steps = -steps
    ordinary = np.median(steps[steps > 0]) if (steps > 0).any() else 1
    values, counts = np.unique(steps, return_counts=True)
    return int(((steps < 0) | (steps > 3 * ordinary)).sum()), 1 - counts.max() / counts.sum()


def _clearly(best: tuple[int, float], second: tuple[int, float]) -> bool:
    """Fewer than half the breaks; or as many, but steady steps against unsteady ones."""
    if best[0] * 2 < second[0]:
        return True
    return best[0] == second[0] and best[1] + 0.2 < second[1]
