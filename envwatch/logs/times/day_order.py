"""The order of day, month and year: every order is tried on all rows, and evidence decides, never a default.

Readings come by a schedule. Read in the wrong order of day and month, the dates of a daily record step by months and
those of a monthly one by days, so each reading of the dates is as likely as some schedule makes it. All schedules are
weighed together: a schedule that fits better by chance has to outdo the weight it starts with. Weights and rates are
our judgement; only the ratio of two likelihoods is used, and what it must reach is a figure of its own.
"""

from __future__ import annotations

from functools import lru_cache
from math import lgamma
from typing import NamedTuple

import numpy as np

from envwatch.figures.logs import FIRST_YEAR, ORDER_MARGIN
from envwatch.logs.text.stamps import DAY_US, SINCE_US, DateText

A_YEAR, FEW = 366, 0.01  # days; share of dates
# how seldom, our judgement: a spreadsheet turns dates round; a computer's clock is years back; within the record then
TURNED, CLOCK_BACK, STRADDLES = 1e-3, 1e-3, 1e-2

MIXED = (
    "day and month stand in two orders: those dates that fit both run on only the other way round, so a spreadsheet "
    "has probably swapped them"
)
WORDS = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}
LONGEST_DAYS, MOST_VISITS, MOST_ROWS = 7_300, 20_000, 200_000
WRONG_DATE, STEP_BACK, NO_ORDER, NEWEST_FIRST = 1e-8, 1e-3, 1e-4, 0.1
STEADY_STEPS = 6  # so many equal steps within days are of a machine that logs on
RARE_GAPS, OFTEN = (0.2, 20.0), (1.0, 1.0)  # beta distributions of the share of steps that are missing
MISSED = (0.02, 0.1, 0.2, 0.3, 0.5)  # chances of each reading to be missing
OFF_SCHEDULE = 0.1  # of the steps that miss a schedule, those to any day at all
FIXED_DAYS = {7: 0.1, 14: 0.02} | dict.fromkeys((2, 3, 4, 5, 6, 10, 28), 0.004)
MONTHS = {1: 0.1, 2: 0.01, 3: 0.04, 6: 0.003, 12: 1e-7}  # no logger reads on one day of the year
MONTHLY_ABOUT = 0.03  # within three days of one day of the month
DAILY, ODD, ANY_INTERVAL = 0.35, 0.25, 0.01
ODD_MEANS_DAYS, ODD_SPREADS = (1, 2, 4, 7, 14, 30, 61, 91, 182, 365), (0.1, 0.25, 0.5, 1.0, 1.5, 2.5)


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
    """Days since 1970 of civil dates, and which are real. (n,) ints -> (n,), (n,)

    Two figures of a year are of 1980 to 2079, whatever this computer's clock says.
    """
    year = np.where(year < int(FIRST_YEAR) % 100, year + 2000, np.where(year < 100, year + 1900, year))
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
    found = []
    for name in names:
        any_, doy = (kind == "any2") | (kind == "any3"), kind == "yd"
        year = np.where((any_ & (name != "ymd")) | (kind == "dmy"), c, a)
        month = np.where(any_ & (name == "mdy"), a, b)
        day = np.where(any_ & (name != "ymd"), b if name == "mdy" else a, np.where(kind == "dmy", a, c))
        days, valid = days_of(year, month, np.where(doy, 1, day))
        days = np.where(doy, days + c - 1, days)
        valid &= (kind != "") & ~(doy & ((c < 1) | (c > 366))) & ~((kind == "any2") & (name == "ymd"))
        found.append(DayOrder(name, days, valid))
    return found


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
    days = visits(index, time_us)
    odds = {o.name: log_likelihood(o.days[days.which], o.valid[days.which], days) for o in left}
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
    likely = [log_likelihood(some, taken.valid[seen.which], seen) for some in days]
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
    since = SINCE_US // DAY_US
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


# ------------------------------------------------------------------------------- how likely the dates are


class Visits(NamedTuple):
    """Rows of one date after another, as one visit each, in file order.

    which : (m,) distinct date. first_us, last_us : (m,) times of day of the first and the last row. [µs]
    cadence_us : the usual step within a day, 0 where none is known. steady, unsteady : steps within days that keep it.
    """

    which: np.ndarray
    first_us: np.ndarray
    last_us: np.ndarray
    cadence_us: int
    steady: int
    unsteady: int


def visits(index: np.ndarray, time_us: np.ndarray) -> Visits:
    """Dates one after another. index : (n,) distinct date of each row. time_us : (n,) time of day. [µs]"""
    starts = np.append(0, np.flatnonzero(index[1:] != index[:-1]) + 1)
    ends = np.append(starts[1:], len(index)) - 1
    steps = np.abs(np.diff(time_us[:MOST_ROWS]))
    steps = steps[(index[1 : len(steps) + 1] == index[: len(steps)]) & (steps > 0)]
    cadence = int(np.partition(steps, len(steps) // 2)[len(steps) // 2]) if len(steps) > 1 else 0
    steady = int((np.abs(steps - cadence) <= cadence // 10).sum()) if cadence else 0
    some = slice(0, MOST_VISITS)
    return Visits(index[starts[some]], time_us[starts[some]], time_us[ends[some]], cadence, steady, len(steps) - steady)


def log_likelihood(days: np.ndarray, valid: np.ndarray, seen: Visits) -> float:
    """The logarithm of how likely some schedule gives these dates, up to a constant that all orders share.

    days : (m,) days since 1970 of each visit. valid : (m,) false where there is no such date.
    """
    wrong = len(np.unique(seen.which[~valid])) * np.log(WRONG_DATE)
    day, first, last = days[valid], seen.first_us[valid], seen.last_us[valid]
    if len(day) < 2:
        return wrong
    falls = np.diff(day).mean() < 0
    if falls:
        day, first, last = day[::-1], last[::-1], first[::-1]
    step = np.diff(day)
    ahead = step > 0
    back = int((step < 0).sum()) * np.log(STEP_BACK / LONGEST_DAYS)
    goes_on = _goes_on(first, last, seen.cadence_us)
    lone = np.where(goes_on & (step != 1), np.log(max(seen.cadence_us, 1) / DAY_US), 0.0)[ahead].sum()
    weighed = _ordered(day, step, ahead, first, seen) + back + lone
    no_order = np.log(NO_ORDER) - (len(day) - 1) * np.log(LONGEST_DAYS / 2)
    return wrong + np.logaddexp(weighed + np.log(NEWEST_FIRST if falls else 1), no_order)


def _goes_on(first: np.ndarray, last: np.ndarray, cadence_us: int) -> np.ndarray:
    """(m - 1,) whether the time of day runs on over midnight by the usual step; where days are missing, by chance."""
    late = (first[1:] - last[:-1] - cadence_us) % DAY_US
    near = np.minimum(late, DAY_US - late) <= cadence_us // 10
    return near & bool(cadence_us)


def _ordered(day, step, ahead, first, seen: Visits) -> float:
    """The schedules together, of dates in time order."""
    machine = seen.steady >= STEADY_STEPS and seen.steady > 4 * seen.unsteady
    other = 1e-3 if machine else 0.1 if seen.cadence_us else 1.0
    step, at = step[ahead], np.flatnonzero(ahead)
    ran = np.log(0.9 if seen.cadence_us else DAILY) + _kept(step, step, seen.steady, seen.unsteady)
    rest = [np.log(weight) + _kept(np.where(step % k == 0, step // k, 0), step) for k, weight in FIXED_DAYS.items()]
    rest.append(_any_interval(day, first, ahead))
    rest += _monthly(day, at)
    rest.append(np.log(ODD) + _odd(step))
    return float(np.logaddexp.reduce([ran, *(np.log(other) + np.array(rest))]))


def _any_step(step: np.ndarray) -> np.ndarray:
    """Log probability of a gap of so many days: half the days, twice as likely."""
    return -np.log(step * 9.5)


def _kept(times: np.ndarray, step: np.ndarray, steady: int = 0, unsteady: int = 0) -> float:
    """Steps of once, twice, ... an interval, 0 where of none: missed now and then, or each with the same chance.

    step : days. steady, unsteady : steps known besides that keep or miss the interval.
    """
    on, more, off = times == 1, times[times > 1], step[times == 0]
    k, g = int(on.sum()) + steady, int((~on).sum()) + unsteady
    now_and_then = [np.log(share) + _beta(a + g, b + k) - _beta(a + unsteady, b + steady) + _any_step(more).sum()
                    for share, (a, b) in ((0.8, RARE_GAPS), (0.1, OFTEN))]  # fmt: skip
    by_chance = [np.log(0.1 / len(MISSED)) + np.log(p) * (more - 1).sum() + np.log(1 - p) * (len(more) + on.sum())
                 + np.log(p) * len(off) for p in MISSED]  # fmt: skip
    return float(np.logaddexp.reduce([*now_and_then, *by_chance]) + (np.log(OFF_SCHEDULE) + _any_step(off)).sum())


def _beta(a: float, b: float) -> float:
    return lgamma(a) + lgamma(b) - lgamma(a + b)


def _any_interval(day: np.ndarray, first: np.ndarray, ahead: np.ndarray) -> float:
    """An interval of no round number of days, such as 36 hours: the usual one of this record, of a month at most."""
    us = (np.diff(day) * DAY_US + np.diff(first))[ahead]
    usual = max(int(np.sort(us)[(len(us) - 1) // 2]), 1) if len(us) else 1
    if usual > 31 * DAY_US:
        return -np.inf
    times = np.rint(us / usual).astype(np.int64)
    times[np.abs(us - times * usual) > usual // 50] = 0
    return float(np.log(ANY_INTERVAL / LONGEST_DAYS)) + _kept(times, np.maximum(us // DAY_US, 1))


def _monthly(day: np.ndarray, at: np.ndarray) -> list[float]:
    """On one day of the month every one, two, three, six or twelve months; on its weekday; about that day."""
    dates = day.astype("M8[D]")
    month = dates.astype("M8[M]")
    of_month = (dates - month).astype(int) + 1
    last = ((month + 1).astype("M8[D]") - month.astype("M8[D]")).astype(int)
    month = month.astype(int)
    on = of_month == np.minimum(of_month[0], last)
    weekday = ((day + 3) % 7 == (day[0] + 3) % 7) & ((of_month - 1) // 7 == (of_month[0] - 1) // 7)
    near = np.abs(day - day[0] - np.rint((month - month[0]) * 30.4375)) <= 3
    months, step = (month[1:] - month[:-1])[at], np.diff(day)[at]
    found = [np.log(weight) + _kept(np.where(on[1:][at] & (months % k == 0), months // k, 0), step)
             for k, weight in MONTHS.items()]  # fmt: skip
    found.append(np.log(MONTHS[2]) + _kept(np.where(weekday[1:][at], months, 0), step))
    about = np.where(near[1:][at], months, 0)
    return [*found, np.log(MONTHLY_ABOUT) + _kept(about, step) - np.log(7) * int((about > 0).sum())]


@lru_cache(maxsize=1)
def _odd_steps() -> np.ndarray:
    """Log probability of each step in whole days under each odd schedule. (schedules, days)"""
    days = np.arange(1, LONGEST_DAYS + 1)
    shapes = [-0.5 * (np.log(days / mean) / spread) ** 2 - np.log(days)
              for mean in ODD_MEANS_DAYS for spread in ODD_SPREADS]  # fmt: skip
    shapes += [-days / mean for mean in ODD_MEANS_DAYS]
    return np.array([shape - np.logaddexp.reduce(shape) for shape in shapes])


def _odd(step: np.ndarray) -> float:
    """Steps at random about some mean, little or widely spread."""
    steps, counts = np.unique(np.minimum(step, LONGEST_DAYS), return_counts=True)
    each = _odd_steps()[:, steps - 1] @ counts
    return float(np.logaddexp.reduce(each) - np.log(len(each)))
