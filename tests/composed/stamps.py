"""The ways in which composed files write times: the cells of a row, what heads them, and whether they tell all."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pandas as pd

from tests.composed.words import HALVES, MONTHS

Cells = list[list[str]]


class Stamp(NamedTuple):
    """One way. `heads` : "stamp", "date", "time", or the header itself. `telling` : False where nobody can read it."""

    name: str
    heads: tuple[str, ...]
    write: Callable[[pd.DatetimeIndex, np.random.Generator], Cells]
    telling: bool = True
    whole_hours: bool = False


def _plain(form: str) -> Callable[[pd.DatetimeIndex, np.random.Generator], Cells]:
    return lambda times, rng: [part.split("|") for part in times.strftime(form)]


def _short(form: str) -> Callable[[pd.DatetimeIndex, np.random.Generator], Cells]:
    """Day and month without leading zeros."""

    def write(times, rng):
        return [[form.format(d=t.day, m=t.month, y=t.year, yy=t.year % 100) + t.strftime(" %H:%M")] for t in times]

    return write


def _halves(form: str, rows: tuple[str, ...] = ("en",), before: bool = False):
    def write(times, rng):
        words = HALVES[rows[int(rng.integers(len(rows)))]]
        out = []
        for t in times:
            date, clock, half = t.strftime(form), t.strftime("%I:%M:%S"), words[t.hour >= 12]
            out.append([f"{date} {half} {clock}" if before else f"{date} {clock} {half}"])
        return out

    return write


def _named(form: str):
    def write(times, rng):
        names = MONTHS[str(rng.choice(list(MONTHS)))].split()
        return [[form.format(d=t.day, b=names[t.month - 1], y=t.year) + t.strftime(" %H:%M")] for t in times]

    return write


def _hours_to_24(times, rng) -> Cells:
    """Hour 1 ends at one o'clock; hour 24 is that of the day that it ends."""
    before = times - pd.Timedelta(hours=1)
    return [[b.strftime("%Y-%m-%d"), str(b.hour + 1)] for b in before]


def _clock_to_24(times, rng) -> Cells:
    before = times - pd.Timedelta(hours=1)
    return [[b.strftime("%d.%m.%Y"), f"{b.hour + 1:02d}:00"] for b in before]


def _epoch(scale: int):
    return lambda times, rng: [[str(int(t.timestamp() * scale))] for t in times]


def _serial(zero: int, places: int = 6):
    return lambda times, rng: [[f"{t.timestamp() / 86400 + zero:.{places}f}"] for t in times]


STAMPS = (
    Stamp("iso", ("stamp",), _plain("%Y-%m-%d %H:%M:%S")),
    Stamp("iso T", ("stamp",), _plain("%Y-%m-%dT%H:%M:%S")),
    Stamp("iso Z", ("stamp",), _plain("%Y-%m-%dT%H:%M:%SZ")),
    Stamp("iso offset", ("stamp",), _plain("%Y-%m-%dT%H:%M:%S+00:00")),
    Stamp("iso minutes", ("stamp",), _plain("%Y-%m-%d %H:%M")),
    Stamp("year first slashes", ("stamp",), _plain("%Y/%m/%d %H:%M")),
    Stamp("dmy dots", ("stamp",), _plain("%d.%m.%Y %H:%M:%S")),
    Stamp("dmy slashes", ("stamp",), _plain("%d/%m/%Y %H:%M")),
    Stamp("dmy dashes", ("stamp",), _plain("%d-%m-%Y %H:%M")),
    Stamp("mdy slashes", ("stamp",), _plain("%m/%d/%Y %H:%M:%S")),
    Stamp("dmy two digits", ("stamp",), _plain("%d.%m.%y %H:%M")),
    Stamp("mdy two digits", ("stamp",), _plain("%m/%d/%y %H:%M:%S")),
    Stamp("ymd two digits", ("stamp",), _plain("%y.%m.%d %H:%M")),
    Stamp("dmy short", ("stamp",), _short("{d}.{m}.{y}")),
    Stamp("mdy short", ("stamp",), _short("{m}/{d}/{y}")),
    Stamp("halves mdy", ("stamp",), _halves("%m/%d/%Y")),
    Stamp("halves dmy", ("stamp",), _halves("%d/%m/%Y", ("en", "es", "el"))),
    Stamp("halves ymd before", ("stamp",), _halves("%Y-%m-%d", ("ko", "ja", "zh"), True)),
    Stamp("month name", ("stamp",), _named("{d} {b} {y}")),
    Stamp("month name dashes", ("stamp",), _named("{d:02d}-{b}-{y}")),
    Stamp("weekday", ("stamp",), _plain("%a %d.%m.%Y %H:%M")),
    Stamp("compact", ("stamp",), _plain("%Y%m%d%H%M%S")),
    Stamp("compact minutes", ("stamp",), _plain("%Y%m%d %H%M")),
    Stamp("compact hours", ("stamp",), _plain("%Y%m%d%H"), whole_hours=True),
    Stamp("utc behind", ("stamp",), _plain("%Y-%m-%d %H%M UTC")),
    Stamp("date, time", ("date", "time"), _plain("%Y-%m-%d|%H:%M:%S")),
    Stamp("dmy, time", ("date", "time"), _plain("%d.%m.%Y|%H:%M")),
    Stamp("mdy, halves", ("date", "time"), _plain("%m/%d/%Y|%I:%M:%S %p")),
    Stamp("time, dmy", ("time", "date"), _plain("%H:%M|%d/%m/%Y")),
    Stamp("parts", ("Year", "Month", "Day", "Hour", "Minute"), _plain("%Y|%m|%d|%H|%M")),
    Stamp("day of the year", ("Year", "DOY", "time"), _plain("%Y|%j|%H:%M")),
    Stamp("day of the year, one cell", ("stamp",), _plain("%Y-%j %H:%M")),
    Stamp("epoch", ("stamp",), _epoch(1)),
    Stamp("epoch ms", ("stamp",), _epoch(1000)),
    Stamp("serial", ("stamp",), _serial(25_569)),
    Stamp("hours to 24", ("date", "Hour"), _hours_to_24, whole_hours=True),
    Stamp("clock to 24", ("date", "time"), _clock_to_24, whole_hours=True),
    Stamp("halves lost", ("stamp",), _plain("%Y-%m-%d %I:%M:%S"), telling=False),
)
