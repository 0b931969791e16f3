"""Records of known schedules, their dates written in a known order: is that order taken, asked about, or another taken?

    python -m tests.long.day_order --seed 7 [--sets 30000] [--processes 2]

A set: a schedule, begun on any day of 2005 to 2025, with none, few or many readings missing one by one or a stretch of
them, at times of day that are kept or not, the newest last or seldom first, its dates written day first, month first or
with two figures of the year in any of three orders. Prints per schedule how many orders were right, asked or wrong, and
of the daily sets of 14 days or more without a gap how many were asked. Exit code 1 where any is wrong or one of these
is asked. The schedules drawn here share no line with those that the reader weighs.
"""

from __future__ import annotations

import argparse
import calendar
import multiprocessing
import sys
from collections import Counter
from collections.abc import Callable
from datetime import date, datetime, timedelta

import numpy as np

from envwatch.logs.text.stamps import date_only
from envwatch.logs.times import day_order

ORDERS = {"dmy": ("%d.%m.%Y", "%d/%m/%y"), "mdy": ("%m/%d/%Y", "%m.%d.%y"), "ymd": ("%y.%m.%d", "%y/%m/%d")}
NOW = datetime(2026, 11, 1)
Draw = Callable[[np.random.Generator, datetime, int], list[datetime]]


def _begin(rng: np.random.Generator) -> datetime:
    return datetime(2005, 1, 1) + timedelta(days=int(rng.integers(7_600)))


def hourly(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """Every 5 to 180 minutes."""
    minutes = int(rng.choice([5, 10, 15, 30, 60, 60, 60, 120, 180]))
    begin += timedelta(minutes=int(rng.integers(24)) * 60)
    return [begin + timedelta(minutes=minutes * n) for n in range(rows)]


def _at_some_time(rng: np.random.Generator, days: list[date]) -> list[datetime]:
    """At midnight, at one hour, or within two hours of it."""
    kind, hour = rng.integers(3), int(rng.integers(7, 18))
    loose = rng.integers(-120, 120, len(days)).tolist() if kind == 2 else [0] * len(days)
    clock = 0 if kind == 0 else hour * 60
    return [datetime(d.year, d.month, d.day) + timedelta(minutes=max(clock + m, 0) if kind else 0)
            for d, m in zip(days, loose, strict=True)]  # fmt: skip


def daily(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """Every day."""
    return _at_some_time(rng, [begin.date() + timedelta(days=n) for n in range(rows)])


def weekly(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """Every week or fortnight, sometimes a day early or late."""
    every, loose = int(rng.choice([7, 7, 7, 14])), int(rng.integers(2))
    return _at_some_time(rng, [begin.date() + timedelta(days=every * n + int(rng.integers(-loose, loose + 1)))
                               for n in range(rows)])  # fmt: skip


def _by_month(rng: np.random.Generator, begin: datetime, rows: int, every: int) -> list[datetime]:
    """On one day of the month, on its weekday, or some days about it."""
    kind, days = rng.choice(3, p=(0.6, 0.15, 0.25)), []
    of_month = int(rng.integers(1, 13)) if rng.random() < 0.7 else begin.day
    loose = int(rng.integers(1, 6))
    for n in range(rows):
        year, month = divmod(begin.year * 12 + begin.month - 1 + every * n, 12)
        first, last = calendar.monthrange(year, month + 1)
        if kind == 1:
            days.append(date(year, month + 1, 1 + (of_month - first) % 7 + 7 * (of_month % 2)))
        else:
            off = int(rng.integers(-loose, loose + 1)) if kind == 2 else 0
            days.append(date(year, month + 1, min(of_month, last)) + timedelta(days=off))
    return _at_some_time(rng, days)


def monthly(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """Every month."""
    return _by_month(rng, begin, rows, 1)


def quarterly(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """Every three months."""
    return _by_month(rng, begin, rows, 3)


def irregular(rng: np.random.Generator, begin: datetime, rows: int) -> list[datetime]:
    """By chance: from some a day to some a year, evenly, by visits or in bursts."""
    mean_h = float(np.exp(rng.uniform(np.log(2), np.log(24 * 120))))
    kind = rng.integers(3)
    step = (rng.exponential(mean_h, rows) if kind == 0 else rng.uniform(0.3, 1.7, rows) * mean_h if kind == 1
            else rng.lognormal(0, 1.5, rows) * mean_h)  # fmt: skip
    return [begin + timedelta(minutes=round(h * 60)) for h in np.cumsum(step).tolist()]


SCHEDULES: dict[str, Draw] = {f.__name__: f for f in (hourly, daily, weekly, monthly, quarterly, irregular)}


def drawn(rng: np.random.Generator, schedule: str) -> tuple[list[datetime], bool]:
    """Times of one set, before now, and whether no reading is missing."""
    most = 700 if schedule == "hourly" else 60
    rows = int(np.exp(rng.uniform(np.log(2), np.log(most))))
    times = [t for t in SCHEDULES[schedule](rng, _begin(rng), rows) if t < NOW]
    how = rng.integers(4)
    if how == 1:
        kept = rng.random(len(times)) > rng.choice([0.02, 0.1, 0.3])
        times = [t for t, keep in zip(times, kept.tolist(), strict=True) if keep]
    if how == 2:
        lo, hi = sorted(rng.integers(0, len(times) + 1, 2).tolist())
        times = times[:lo] + times[hi:]
    return times, how not in (1, 2)


def outcome(times: list[datetime], style: str, newest_first: bool = False) -> str:
    """right, asked or wrong: the dates of these times, written so."""
    times = times[::-1] if newest_first else times
    distinct, index = np.unique([t.strftime(style) for t in times], return_inverse=True)
    clock = np.array([(t - t.replace(hour=0, minute=0)) // timedelta(microseconds=1) for t in times], np.int64)
    now_us = (NOW - datetime(1970, 1, 1)) // timedelta(microseconds=1)
    choice = day_order.choose(day_order.orders([date_only(str(t)) for t in distinct]), index, clock, None, now_us)
    if choice.order is None:
        return "asked"
    return (
        "right" if (choice.order.days[index] == [(t.date() - date(1970, 1, 1)).days for t in times]).all() else "wrong"
    )


def tried(seed: int, schedule: str, sets: int) -> Counter:
    """What came of some sets of a schedule; "whole" counts the daily ones of 14 days or more without a gap."""
    rng = np.random.default_rng([seed, list(SCHEDULES).index(schedule)])
    found: Counter = Counter()
    while found["sets"] < sets:
        times, whole = drawn(rng, schedule)
        if not times:
            continue
        order = str(rng.choice(list(ORDERS), p=(0.45, 0.45, 0.1)))
        came = outcome(times, ORDERS[order][int(rng.integers(2))], rng.random() < 0.1)
        found.update(["sets", came])
        if schedule == "daily" and whole and len(times) >= 14:
            found.update(["whole", f"whole {came}"])
    return found


def main() -> int:
    """Try all schedules and print what came of each."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seed", type=int, required=True)
    asked.add_argument("--sets", type=int, default=30_000)
    asked.add_argument("--processes", type=int, default=1)
    said = asked.parse_args()
    parts = 10
    work = [(said.seed * 1000 + part, name, -(-said.sets // parts)) for name in SCHEDULES for part in range(parts)]
    with multiprocessing.get_context("spawn").Pool(said.processes) as pool:
        results = pool.starmap(tried, work)
    total: dict[str, Counter] = {name: Counter() for name in SCHEDULES}
    for (_, name, _), one in zip(work, results, strict=True):
        total[name] += one
    print(f"{'schedule':<12}{'sets':>8}{'right':>8}{'asked':>8}{'wrong':>8}")
    for name, one in total.items():
        print(f"{name:<12}{one['sets']:>8}{one['right']:>8}{one['asked']:>8}{one['wrong']:>8}")
    whole = total["daily"]
    print(f"daily, 14 days or more without a gap: {whole['whole']} sets, {whole['whole asked']} asked")
    return int(any(one["wrong"] for one in total.values()) or whole["whole asked"] > 0)


if __name__ == "__main__":
    sys.exit(main())
