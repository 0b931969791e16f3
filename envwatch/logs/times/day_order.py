"""The order of day, month and year: every order is tried on all rows, and evidence decides, never a default."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.figures.logs import FIRST_YEAR, ORDER_MARGIN
from envwatch.logs.text.stamps import DAY_US, DateText
from envwatch.logs.times import schedule
from envwatch.logs.times.schedule import Visits

A_YEAR, FEW = 366, 0.01  # days; share of dates
# how seldom, our judgement: a spreadsheet turns dates round; a computer's clock is years back; within the record then
TURNED, CLOCK_BACK, STRADDLES = 1e-3, 1e-3, 1e-2

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


def full_year(year: np.ndarray) -> np.ndarray:
    """Two figures of a year are of 1980 to 2079, whatever this computer's clock says."""
    since = int(FIRST_YEAR) % 100
    return np.where(year < since, year + 2000, np.where(year < 100, year + 1900, year))


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
    days, valid = days_of(full_year(year), month, np.where(kind == "yd", 1, day))
    doy = kind == "yd"
    days = np.where(doy, days + c - 1, days)
    valid &= (kind != "") & ~(doy & ((c < 1) | (c > 366))) & ~((kind == "any2") & (name == "ymd"))
    return DayOrder(name, days, valid)


def choose(found: list[DayOrder], index: np.ndarray, time_us: np.ndarray, told: str | None, now_us: int) -> Choice:
    """The order that the evidence leaves: each is weighed by how likely a schedule of readings gives its dates.

    Parameters
    ----------
    found : the orders, per distinct date; all equally likely beforehand.
    index : (n,) which distinct date each row has, in file order.
    time_us : (n,) time of day. [µs]
    told : the order a person or the logger's earlier files gave.
    now_us : no reading comes from later than a day after this. [µs since 1970]
    """
    used = np.bincount(index, minlength=len(found[0].days)) > 0
    wrong = {order.name: int((used & ~order.valid).sum()) for order in found}
    least = min(wrong.values())
    if least == used.sum():
        return Choice(None, "no row holds a real date")
    if told:
        possible = [order for order in found if wrong[order.name] == least]
        fits = [order for order in possible if order.name == told]
        if not fits and len(found) > 1:
            return Choice(None, "told order impossible", tuple(order.name for order in possible))
        if fits:
            return Choice(fits[0], "as told")
    left = _distinct(found, used)
    if len(left) == 1:
        return Choice(left[0], "")
    days = schedule.visits(index, time_us)
    odds = {o.name: schedule.log_likelihood(o.days[days.which], o.valid[days.which], days) for o in left}
    clock = _by_clock(left, used, now_us)
    best = max(left, key=lambda order: odds[order.name] + clock[order.name])
    fewest = min(left, key=lambda order: wrong[order.name])
    if any(wrong.values()) and _turned(left, fewest, days) > odds[best.name]:
        return Choice(None, MIXED)
    least = odds[best.name] + clock[best.name] - float(ORDER_MARGIN)
    near = [o for o in left if odds[o.name] + clock[o.name] > least]
    if len(near) > 1:
        return Choice(None, "both orders fit", tuple(o.name for o in near))
    if all(wrong[o.name] > wrong[best.name] for o in left if o is not best):
        return Choice(best, "the other order gives impossible dates")
    if any(odds[o.name] > odds[best.name] - float(ORDER_MARGIN) for o in left if o is not best):
        return Choice(best, "the other order lies in the future or before the year 2000")
    return Choice(best, "only so do the readings follow a schedule")


def by_dates_above(choice: Choice, found: list[DayOrder], index: np.ndarray, above: set[int]) -> Choice:
    """The one order in which the first or the last reading is of a day that stands above the table, if only one is."""
    ends = index[[0, -1]]
    fits = [o for o in found if o.name in choice.left and o.valid[ends].all() and above & set(o.days[ends].tolist())]
    return Choice(fits[0], "a date above the table is that of a reading") if len(fits) == 1 else choice


def _turned(left: list[DayOrder], taken: DayOrder, seen: Visits) -> float:
    """How likely the dates are, in the order taken, if a spreadsheet turned round those that fit another as well."""
    days = [np.where(o.valid & taken.valid, o.days, taken.days)[seen.which] for o in left
            if o is not taken and o.name != "ymd"]  # fmt: skip
    likely = [schedule.log_likelihood(some, taken.valid[seen.which], seen) for some in days]
    return max(likely, default=-np.inf) + float(np.log(TURNED))


def _distinct(possible: list[DayOrder], used: np.ndarray) -> list[DayOrder]:
    """Orders that say different things; 05/05/2024 reads the same either way."""
    kept: list[DayOrder] = []
    for order in possible:
        if not any(
            np.array_equal(order.days[used], other.days[used]) and (order.valid == other.valid)[used].all()
            for other in kept
        ):
            kept.append(order)
    return kept


def _by_clock(left: list[DayOrder], used: np.ndarray, now_us: int) -> dict[str, float]:
    """What dates before loggers were, or to come, take from each order, as a logarithm.

    It decides by itself only between orders that put the record in the same year: else this computer's clock may be
    years back, and "10.11.26" would become a day of 2010.
    """
    since = int(np.datetime64(f"{int(FIRST_YEAR)}-01-01").astype(int))
    days = {o.name: o.days[used & o.valid] for o in left if (used & o.valid).any()}
    late = {name: float((of > now_us // DAY_US + 1).mean()) for name, of in days.items()}
    timely = [of.max() for name, of in days.items() if late[name] <= FEW and (of < since).mean() <= FEW]

    def one(name: str) -> float:
        if name not in days or late[name] <= FEW and (days[name] < since).mean() <= FEW:
            return 0.0
        if late[name] <= FEW or any(abs(int(end) - int(days[name].max())) <= A_YEAR for end in timely):
            return -2 * float(ORDER_MARGIN)
        return float(np.log(CLOCK_BACK * (1 if late[name] == 1 else STRADDLES)))

    return {o.name: one(o.name) for o in left}
