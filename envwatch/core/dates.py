"""Dates as people write them in the register, and the instants they stand for.

A date is ISO (`2026-03-14`), with or without the clock of the place (`2026-03-14 10:30`); or written otherwise where it
can be only one day: with points the day comes first (common practice, no source), with strokes one of the two must be
over 12. A bare date is a whole local day. Where the clock is put back, a doubled hour is the first of the two.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import pandas as pd

ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:[ T](\d{2}):(\d{2})(?::(\d{2}))?)?")
FIRST_YEAR, LAST_YEAR = 100, 2199  # past these a day more or less, or another clock, is no date any more
OTHER = re.compile(
    r"(?P<a>\d{1,4})(?P<sign>[./-])(?P<b>\d{1,2})(?P=sign)(?P<c>\d{1,4})(?P<clock>[ T]\d{2}:\d{2}(:\d{2})?)?"
)


def clean(text: str) -> str:
    """The date in its one written form.

    Raises
    ------
    ValueError : it is no date; the message says what to write, or that it could be either order.

    >>> clean("2026-03-14T10:30"), clean("1.5.2027"), clean("14/03/2026 10:30")
    ('2026-03-14 10:30', '2027-05-01', '2026-03-14 10:30')
    >>> clean("0506-03-14 10:00:05")
    '0506-03-14 10:00:05'
    """
    given = text.strip()
    text = _as_iso(given)
    try:
        stamp = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{given!r} is not a day or hour of the calendar") from None
    if not FIRST_YEAR <= stamp.year <= LAST_YEAR:
        raise ValueError(f"{given!r} lies outside the years {FIRST_YEAR} to {LAST_YEAR}; leave an open end empty")
    if is_bare(text):
        return text
    # not strftime: it writes the year 506 in three digits
    return stamp.isoformat(" ", "seconds" if stamp.second else "minutes")


def _as_iso(text: str) -> str:
    """A date in the order of ISO, if it can be only one day. ValueError: what to write."""
    if ISO.fullmatch(text):
        return text
    match = OTHER.fullmatch(text)
    if not match:
        raise ValueError(f"{text!r} is not a date; write it as 2026-03-14 or 2026-03-14 10:30")
    a, b, c, clock = match["a"], match["b"], match["c"], match["clock"] or ""
    readings = sorted(set(_readings(int(a), int(b), int(c), match["sign"] == ".")))
    if len(readings) > 1:
        raise ValueError(f"{text!r} could be either order; write it as {' or '.join(readings)}")
    if not readings:
        raise ValueError(f"{text!r} is not a day of the calendar")
    if max(len(a), len(b), len(c)) < 4:  # a year in two digits may be of either century
        raise ValueError(f"{text!r} must be written as {readings[0]}")
    return readings[0] + clock


def _readings(a: int, b: int, c: int, day_first: bool) -> Iterator[str]:
    year = c + 2000 if c < 100 else c
    for parts in ((year, b, a), *(((year, a, b),) if not day_first or b > 12 else ()), (a, b, c)):
        try:
            made = date(*parts)
        except ValueError:
            continue
        if made.year >= 1000:
            yield made.isoformat()


def clean_or_year(text: str) -> str:
    """The date in its one written form; or a year alone, of what is old enough for no first weeks to hang on its day.

    >>> clean_or_year("1974"), clean_or_year("14.3.1974")
    ('1974', '1974-03-14')
    """
    text = text.strip()
    if not is_year(text):
        return clean(text)
    latest = datetime.now(UTC).year - 2
    if not FIRST_YEAR <= int(text) <= latest:
        raise ValueError(
            f"{text!r} is a year alone, which is kept up to {latest}; write the day: weeks are counted from it"
        )
    return text


def is_year(text: str) -> bool:
    """Whether only the year is known."""
    return len(text) == 4 and text.isdecimal()


def is_bare(text: str) -> bool:
    """Whether only the day is known."""
    return len(text.strip()) == 10


@lru_cache(maxsize=100_000)
def instant(text: str, zone: str) -> pd.Timestamp:
    """The instant of a cleaned date in a zone; of a bare date, the start of its local day; of a year, of its first."""
    local = datetime.fromisoformat(f"{text}-01-01" if is_year(text) else text).replace(tzinfo=ZoneInfo(zone))
    return pd.Timestamp(local.astimezone(UTC)).tz_convert("UTC").as_unit("us")


@lru_cache(maxsize=100_000)
def day_of(when: pd.Timestamp, zone: str) -> str:
    """The local day an instant falls on, as ISO."""
    return when.tz_convert(zone).date().isoformat()


@lru_cache(maxsize=100_000)
def day_end(when: pd.Timestamp, zone: str) -> pd.Timestamp:
    """The end of the local day an instant falls on: 23, 24 or 25 hours after its start."""
    return instant((date.fromisoformat(day_of(when, zone)) + timedelta(days=1)).isoformat(), zone)


def written(when: str | pd.Timestamp | datetime | date, zone: str) -> str:
    """A date given by a program, in the form the register keeps: text stays, an instant becomes local.

    >>> written(pd.Timestamp("2026-03-14T09:30Z"), "Europe/Berlin")
    '2026-03-14 10:30'
    """
    if isinstance(when, str):
        return clean(when)
    if isinstance(when, date) and not isinstance(when, datetime):
        return when.isoformat()
    stamp = pd.Timestamp(when)
    stamp = stamp.tz_convert(zone) if stamp.tz is not None else stamp
    return clean(stamp.tz_localize(None).isoformat(" ", "seconds"))


def now_text() -> str:
    """The clock, as ISO UTC to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def utc(stamp: pd.Timestamp | None) -> pd.Timestamp | None:
    """In UTC; a day without a zone is UTC's."""
    if stamp is None:
        return None
    return stamp.tz_localize("UTC") if stamp.tz is None else stamp.tz_convert("UTC")
