"""Day or month first: decided by how likely a schedule gives the dates, asked where two orders are about as likely.

What each set must give is the schedule it was drawn from (`tests/long/day_order.py`), and the calendar.
"""

from datetime import datetime, timedelta

import pytest

from tests.long.day_order import ORDERS, SCHEDULES, outcome, tried

BOTH = pytest.mark.parametrize("style", ["%d.%m.%Y", "%m/%d/%Y"])


@pytest.mark.parametrize("schedule", SCHEDULES)
def test_no_drawn_record_is_read_in_another_order_and_most_are_decided(schedule):
    found = tried(11, schedule, 150)  # the long run tries 30,000
    assert found["wrong"] == 0
    assert found["right"] > found["asked"]
    assert found["whole asked"] == 0


@BOTH
def test_fourteen_days_one_after_another_are_never_asked_about(style):
    first = datetime(2024, 1, 1)
    for start in range(366):
        times = [first + timedelta(days=start + n, hours=9) for n in range(14)]
        assert any(t.day > 12 for t in times)  # no such span is open
        assert outcome(times, style) == "right", times[0]


@BOTH
@pytest.mark.parametrize("rows", range(2, 13))
def test_monthly_readings_on_one_day_of_the_month_are_asked_about_and_so_are_the_days_they_could_be(style, rows):
    monthly = [datetime(2023, month, 7) for month in range(1, rows + 1)]
    daily = [datetime(2023, 7, day) for day in range(1, rows + 1)]
    assert outcome(monthly, style) == outcome(daily, style) == "asked"


@BOTH
@pytest.mark.parametrize("years", [2, 3, 5])
def test_monthly_readings_over_years_are_decided(style, years):
    assert outcome([datetime(2019 + n // 12, n % 12 + 1, 4) for n in range(12 * years)], style) == "right"


@pytest.mark.parametrize("style", [style for styles in ORDERS.values() for style in styles])
@pytest.mark.parametrize(("minutes", "rows"), [(10, 300), (60, 50), (60, 280), (180, 60)])
def test_a_machine_that_logs_over_midnight_within_the_first_twelve_days_is_decided(style, minutes, rows):
    times = [datetime(2022, 3, 2, 15) + timedelta(minutes=minutes * n) for n in range(rows)]
    assert max(t.day for t in times) <= 14
    assert outcome(times, style) == "right"


def test_quarterly_readings_on_one_day_are_asked_about_and_not_taken_for_every_third_day():
    assert outcome([datetime(2022, month, 8) for month in (1, 4, 7, 10)], "%d.%m.%Y") == "asked"


def test_one_date_that_two_orders_read_alike_is_right():
    assert outcome([datetime(2022, 5, 5, 8), datetime(2022, 5, 5, 9)], "%d/%m/%Y") == "right"
