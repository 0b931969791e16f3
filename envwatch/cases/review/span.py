"""Which week a review is about, and what must be said of that first."""

from __future__ import annotations

import pandas as pd

from envwatch.archive import Studio
from envwatch.archive.climates.deployments import has_readings
from envwatch.core import period
from envwatch.core.errors import NotThere
from envwatch.core.period import Period, given, iso_label, iso_week


def default_period(studio: Studio, now: pd.Timestamp) -> tuple[Period, tuple[str, ...]]:
    """The last full week for which there are readings, and what must be said first about it.

    A logger fetched on the last day of a week has seen that week; hence the day of grace.
    """
    last = max((seen.last for seen in studio.seen(now=now).values() if seen.last is not None), default=None)
    if last is None:
        return period.full_week_before(now, studio.zone), ("No readings yet: nothing is known of any painting.",)
    week = period.full_week_before(min(now, last + pd.Timedelta(days=1)), studio.zone)
    return week, clock_notes(week, now, studio.zone)


def clock_notes(span: Period, now: pd.Timestamp, zone: str) -> tuple[str, ...]:
    """What must be said where a review's week is not the last full one by the clock."""
    by_clock = period.full_week_before(now, zone)
    if span.end >= by_clock.end:
        return ()
    behind = round((by_clock.end - span.end) / pd.Timedelta(days=7))
    return (
        f"This review is of {span.label}, {behind} week{'s' if behind > 1 else ''} before the last full week by the "
        f"clock ({by_clock.label}). How the paintings are now is not known.",
    )


def refuse_empty(studio: Studio, span: Period, now: pd.Timestamp) -> None:
    seen = list(studio.seen(now=now).values())
    firsts = [logger.first for logger in seen if logger.first is not None]
    lasts = [logger.last for logger in seen if logger.last is not None]
    if not firsts or not lasts:
        return  # an empty studio is told so in words, not refused
    if not has_readings(studio, span.start, span.end):
        first, last = (moment.tz_convert(studio.zone).date() for moment in (min(firsts), max(lasts)))
        waiting = len(studio.tray())
        more = f"; {waiting} file{'s wait' if waiting > 1 else ' waits'} in the tray for an answer" if waiting else ""
        raise NotThere(
            f"no logger read anything then. There are readings from {first} to {last}{more}", place=span.label
        )


def period_of(studio: Studio, now: pd.Timestamp, week: str | None) -> tuple[Period | None, Period]:
    """The period asked for (None: the default one), and the period that is then shown."""
    asked = iso_week(week, studio.zone) if week else None
    return asked, asked or default_period(studio, now)[0]


def weeks_beside(span: Period) -> tuple[str, str]:
    """The ISO weeks before and after a period."""
    before, after = span.start - pd.Timedelta(days=3), span.end + pd.Timedelta(days=3)
    return iso_label(before, span.zone), iso_label(after, span.zone)


def week_of(day: str, zone: str) -> str:
    """The ISO week a date falls into. BadInput: not a date.

    >>> week_of("2026-10-26", "Europe/Berlin")
    '2026-W44'
    """
    return iso_label(given(day or "", "").replace(hour=12).tz_localize(zone), zone)
