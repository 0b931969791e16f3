"""Plain words about numbers and days, the same everywhere."""

from __future__ import annotations

import math
import re

import pandas as pd


def stamp(time: pd.Timestamp | None, zone: str) -> str:
    """A time in a zone: "Mon 26 Oct 14:30"; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone)
    return f"{day(local)} {local:%H:%M}"


AT_LEAST, AT_MOST = "at least", "at most"


class Bound(float):
    """A highest or lowest that rests on readings written as bounds, such as ">95": it may have gone beyond that."""

    word: str

    def __new__(cls, value: float, word: str = AT_LEAST) -> Bound:
        made = super().__new__(cls, value)
        made.word = word
        return made


def number(value: float, digits: int = 1) -> str:
    """A figure, or "not known" for NaN: never blank, never 0. Of a bound, that it is at least or at most so much.

    >>> number(95.04), number(Bound(95.0)), number(float("nan"))
    ('95.0', 'at least 95.0', 'not known')
    """
    if value is None or math.isnan(value):
        return "not known"
    word = f"{value.word} " if isinstance(value, Bound) else ""
    return word + f"{value:.{digits}f}".replace("-", "−")


def span(low: float, high: float, digits: int = 1) -> str:
    """Lowest to highest; "not known" where either is."""
    if math.isnan(low) or math.isnan(high):
        return "not known"
    return f"{number(low, digits)} to {number(high, digits)}"


def lasted(hours: float, unread_h: float) -> str:
    """How long a spell lasted, as far as it was read.

    >>> lasted(184, 8), lasted(20, 0)
    ('at least 184 h, up to 192 h if the 8 h not read in it were over too', '20 h')
    """
    if not unread_h:
        return f"{hours:.0f} h"
    most = f"up to {hours + unread_h:.0f} h if the {unread_h:.0f} h not read in it were over too"
    return f"at least {hours:.0f} h, {most}"


def date(time: pd.Timestamp | None, zone: str, year_only: bool = False) -> str:
    """A day with its year in a zone, or the year alone; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone) if time.tz is not None else time
    return str(local.year) if year_only else f"{day(local)} {local.year}"


def moment(time: pd.Timestamp, zone: str) -> str:
    """A time with its year in a zone: "Tue 3 Nov 2026, 15:00"."""
    return f"{date(time, zone)}, {time.tz_convert(zone):%H:%M}"


def first_sentence(text: str) -> str:
    """The first sentence of a longer telling."""
    head, dot, _ = text.partition(". ")
    return head + dot.strip()


def several(count: int, one: str, many: str = "") -> str:
    """`several(1, "painting")` is "one painting", `several(3, "painting")` "3 paintings"."""
    return f"one {one}" if count == 1 else f"{count} {many or one + 's'}"


def day(stamp: pd.Timestamp) -> str:
    """A day in words that no order of day and month can confuse: "Mon 26 Oct"."""
    return f"{stamp:%a} {stamp.day} {stamp:%b}"


WORD = re.compile(r"[^\W_]+")


def fold(text: str) -> str:
    """A name as it is compared: case, spaces and signs between words do not count.

    >>> fold("Picture_Store  Nr.2") == fold("picture store nr 2")
    True
    """
    return " ".join(WORD.findall(text.casefold()))
