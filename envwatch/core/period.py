"""The span a review is about: an ISO week, a from-to, since the last review, or today so far.

Weeks and days are the studio's own civil ones, so a week with a change of clock has 167 or 169 hours.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import pandas as pd

from envwatch.core.dates import FIRST_YEAR, LAST_YEAR
from envwatch.core.errors import BadInput
from envwatch.core.text import day

SEVEN_DAYS = pd.Timedelta(days=7)
WEEK = re.compile(r"(\d{4})-?W(\d{1,2})", re.IGNORECASE)


@dataclass(frozen=True)
class Period:
    """A span with the words it is called by. `start` and `end` are UTC; `zone` is the studio's."""

    start: pd.Timestamp
    end: pd.Timestamp
    label: str
    zone: str

    @property
    def is_week(self) -> bool:
        """Whether it is one ISO week, however it was asked for."""
        week = iso_week(iso_label(self.start, self.zone), self.zone)
        return (week.start, week.end) == (self.start, self.end)

    @property
    def days(self) -> str:
        """First and last day in words, in the studio's zone."""
        first = self.start.tz_convert(self.zone)
        last = (self.end - pd.Timedelta(microseconds=1)).tz_convert(self.zone)
        year = "" if first.year == last.year else f" {first.year}"
        return f"{day(first)}{year} to {day(last)} {last.year}"


def iso_label(start: pd.Timestamp, zone: str) -> str:
    """The ISO week of a time, as `2026-W44`."""
    year, week, _ = start.tz_convert(zone).isocalendar()
    return f"{year}-W{week:02d}"


def midnight(date: pd.Timestamp, zone: str) -> pd.Timestamp:
    """The begin of a civil day, UTC: its first existing hour, where the clock change falls on midnight."""
    return pd.Timestamp(date.date()).tz_localize(zone, nonexistent="shift_forward", ambiguous=True).tz_convert("UTC")


def iso_week(text: str, zone: str) -> Period:
    """The period of an ISO week written as `2026-W44`.

    Raises
    ------
    BadInput : not a week, or a week that the year does not have.
    """
    match = WEEK.fullmatch(text.strip())
    try:
        if not match:
            raise ValueError
        monday = _within(pd.Timestamp.fromisocalendar(int(match[1]), int(match[2]), 1))
    except ValueError:
        raise BadInput("not an ISO week. Write it as 2026-W44", field="week", seen=text) from None
    return Period(
        midnight(monday, zone),
        midnight(monday + pd.Timedelta(days=7), zone),
        f"{match[1]}-W{int(match[2]):02d}",
        zone,
    )


def _within(day: pd.Timestamp) -> pd.Timestamp:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError
    return day


def given(text: str, field: str) -> pd.Timestamp:
    """A date written as `2026-10-26`, without a zone; `field`: the input it stands in.

    Raises
    ------
    BadInput : anything else, such as a date that could be day-first or month-first.
    """
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text.strip()):
        raise BadInput("write a date as year-month-day, such as 2026-10-26", field=field, seen=text)
    try:
        return _within(pd.Timestamp(text.strip()))
    except ValueError:
        raise BadInput(f"no such day of the years {FIRST_YEAR} to {LAST_YEAR}", field=field, seen=text) from None


def begin(text: str | None, field: str, zone: str, later: int = 0) -> pd.Timestamp | None:
    """The begin of a day in a zone, or of so many days after it; UTC. None: none was given. BadInput: as `given`."""
    return None if text is None else midnight(given(text, field) + pd.Timedelta(days=later), zone)


def from_to(first: str, last: str, zone: str) -> Period:
    """From the first day to the last, both included."""
    start, end = given(first, "from"), given(last, "to")
    if end < start:
        raise BadInput("the end lies before the start", field="from", seen=f"{first} ⟦to⟧ {last}")
    return Period(
        midnight(start, zone), midnight(end + pd.Timedelta(days=1), zone), f"{start.date()} to {end.date()}", zone
    )


def full_week_before(moment: pd.Timestamp, zone: str) -> Period:
    """The last ISO week that had ended at a moment."""
    local = moment.tz_convert(zone)
    monday = pd.Timestamp(local.date()) - pd.Timedelta(days=local.weekday() + 7)
    return iso_week(iso_label(monday.tz_localize(zone), zone), zone)


def today(now: pd.Timestamp, zone: str) -> Period:
    """Today so far."""
    local = now.tz_convert(zone)
    return Period(midnight(local, zone), now, f"today so far, {local.date()}", zone)


def since(moment: pd.Timestamp, now: pd.Timestamp, zone: str) -> Period:
    """From the end of the last review until now."""
    return Period(moment, now, f"since the last review, {moment.tz_convert(zone).date()}", zone)
