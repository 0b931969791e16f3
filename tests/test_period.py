"""Weeks and days are the studio's civil ones, whatever the clock does."""

import pandas as pd
import pytest

from envwatch.core import period
from envwatch.core.errors import BadInput

BERLIN = "Europe/Berlin"


def at(text):
    return pd.Timestamp(text, tz="UTC")


@pytest.mark.parametrize(("week", "told"), [
    ("2026-W44", "Mon 26 Oct to Sun 1 Nov 2026"), ("2026-W53", "Mon 28 Dec 2026 to Sun 3 Jan 2027"),
])  # fmt: skip
def test_the_year_of_both_days_is_told_where_they_differ(week, told):
    assert period.iso_week(week, BERLIN).days == told


@pytest.mark.parametrize("week, hours", [("2026-W44", 168), ("2026-W43", 169), ("2026-W13", 167)])
def test_a_week_with_a_change_of_clock_has_an_hour_more_or_less(week, hours):
    # EU summer time ends on the last Sunday of October and begins on the last of March (Directive 2000/84/EC)
    span = period.iso_week(week, BERLIN)
    assert (span.end - span.start) / pd.Timedelta(hours=1) == hours


@pytest.mark.parametrize(
    ("day", "zone", "begins"),
    [
        ("2026-12-01", BERLIN, "2026-11-30T23:00"),
        (
            "2026-04-24",
            "Africa/Cairo",
            "2026-04-23T22:00",
        ),  # summer time from midnight (Egypt's law 24 of 2023): no 0:00
        ("2026-11-01", "America/Havana", "2026-11-01T04:00"),  # the clock goes from 1:00 to 0:00: it is midnight twice
    ],
)
def test_a_day_begins_with_its_first_hour_whatever_the_clock_does(day, zone, begins):
    assert period.begin(day, "on", zone) == at(begins)
    assert period.begin(None, "on", zone) is None


def test_week_1_is_the_one_with_the_first_thursday():
    # ISO 8601: 1 January 2027 is a Friday, so it still belongs to 2026-W53
    span = period.iso_week("2026-W53", "UTC")
    assert (span.start, span.end) == (at("2026-12-28"), at("2027-01-04"))


@pytest.mark.parametrize("text", ["2026-44", "W44", "2025-W53", "2026-W00", "last"])
def test_what_is_not_a_week_is_refused_in_one_line(text):
    with pytest.raises(BadInput, match="Write it as 2026-W44"):
        period.iso_week(text, BERLIN)


def test_the_full_week_before_a_monday_midnight_is_the_week_just_ended():
    assert period.full_week_before(at("2026-11-01T23:00"), BERLIN).label == "2026-W44"
    assert period.full_week_before(at("2026-11-01T22:59"), BERLIN).label == "2026-W43"


def test_from_to_includes_both_days():
    span = period.from_to("2026-10-25", "2026-10-25", BERLIN)
    assert (span.end - span.start) / pd.Timedelta(hours=1) == 25


@pytest.mark.parametrize(
    "first, last", [("2026-10-25", "2026-10-24"), ("25.10.2026", "2026-10-26"), ("2026-02-30", "2026-03-01")]
)
def test_a_span_that_is_none_is_refused(first, last):
    with pytest.raises(BadInput):
        period.from_to(first, last, BERLIN)


def test_days_are_written_so_that_no_order_can_confuse_them():
    assert period.iso_week("2026-W44", BERLIN).days == "Mon 26 Oct to Sun 1 Nov 2026"
    assert period.iso_week("2026-W53", BERLIN).days == "Mon 28 Dec 2026 to Sun 3 Jan 2027"
