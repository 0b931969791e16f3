"""How likely the dates of a file are: logged throughout, at a fixed interval, monthly, at odd times, or in no order.

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

from envwatch.logs.text.stamps import DAY_US

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
