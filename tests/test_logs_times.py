"""Times as the world writes them: run together, counted, in parts, flagged; and times that no reading can have.

Every file is of an invented room; what it must give is the wall clock it was written from, put on UTC here by Python's
own calendar and zones. The origins of day numbers are checked against published pairs (Julian day 2451545.0 is
2000-01-01 12:00 and modified Julian day 51544.5, IAU; day 45292 of a spreadsheet is 2024-01-01).
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from logs_layouts import read, write

from envwatch import logs
from envwatch.core.errors import BadInput, EnvwatchError, Question

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
BERLIN = ZoneInfo("Europe/Berlin")
DAYS_EN, DAYS_DE = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), ("Mo", "Di", "Mi", "Do", "Fr", "Sa", "So")


def hourly(begin: str = "2024-10-09 19:00", rows: int = 130, step: timedelta = HOUR) -> list[datetime]:
    return [datetime.fromisoformat(begin) + step * n for n in range(rows)]


def readings(rows: int) -> tuple[np.ndarray, np.ndarray]:
    rng, n = np.random.default_rng(8), np.arange(rows)
    return (np.round(18.2 + 1.7 * np.sin(n / 5) + rng.normal(0, 0.15, rows), 1),
            np.round(55 + 3 * np.cos(n / 6) + rng.normal(0, 0.4, rows), 1))  # fmt: skip


def table(tmp_path, header: str, lead, mark: str = ","):
    """A file with these time cells before the readings."""
    decimal = "," if mark == ";" else "."
    lead = [cells if isinstance(cells, (tuple, list)) else (cells,) for cells in lead]
    rows = [mark.join([*map(str, cells), f"{t}".replace(".", decimal), f"{h}".replace(".", decimal)])
            for cells, t, h in zip(lead, *readings(len(lead)), strict=True)]  # fmt: skip
    names = [*header.split("|"), "Temperature (°C)", "RH (%)"]
    return write(tmp_path / "room.csv", "\n".join([mark.join(names) if header else "", *rows, ""]).lstrip("\n"))


def assert_times(log, utc: list[datetime], rows=None, within_us: int = 0) -> None:
    """One probe, at these instants, with the readings of these rows."""
    (channel,) = log.channels
    temp_c, rh_percent = (some if rows is None else some[rows] for some in readings(len(utc) if rows is None else 999))
    expected = np.array([(t.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)
                         for t in utc])  # fmt: skip
    order = np.argsort(expected, kind="stable")
    np.testing.assert_allclose(channel.time, expected[order], rtol=0, atol=within_us)
    np.testing.assert_allclose(channel.temp_c, temp_c[order])
    np.testing.assert_allclose(channel.rh_percent, rh_percent[order])


def of_day(t: datetime) -> float:
    return (t - t.replace(hour=0, minute=0, second=0)) / DAY


def of_year(t: datetime) -> int:
    return t.timetuple().tm_yday


def since(t: datetime, begin: str) -> float:
    return (t - datetime.fromisoformat(begin)) / DAY


def ending(t: datetime) -> tuple[datetime, int]:
    """The day and the hour from 1 to 24 that ends then."""
    return (t, t.hour) if t.hour else (t - DAY, 24)


Write = Callable[[datetime], object]
HALF_HOURS = hourly(rows=150, step=timedelta(minutes=30))
WRITTEN: dict[str, tuple[str, Write]] = {
    "yyyymmddhh": ("Date", lambda t: f"{t:%Y%m%d%H}"),
    "yyyymmddhh to 24": ("Date", lambda t: f"{ending(t)[0]:%Y%m%d}{ending(t)[1]:02d}"),
    "yyyymmddhhmm": ("Zeit", lambda t: f"{t:%Y%m%d%H%M}"),
    "yyyymmddhhmm without header": ("", lambda t: f"{t:%Y%m%d%H%M}"),
    "yyyymmddhhmmss": ("Timestamp", lambda t: f"{t:%Y%m%d%H%M%S}"),
    "yymmddhhmm": ("Date", lambda t: f"{t:%y%m%d%H%M}"),
    "yymmddhhmmss": ("Date", lambda t: f"{t:%y%m%d%H%M%S}"),
    "ddmmyyyyhhmm": ("Datum", lambda t: f"{t:%d%m%Y%H%M}"),
    "ddmmyyyy, hhmm": ("Datum|Zeit", lambda t: (f"{t:%d%m%Y}", f"{t:%H%M}")),
    "yyyymmdd:hhmm": ("time", lambda t: f"{t:%Y%m%d:%H%M}"),
    "yyyymmdd, hmm": ("Date|HHMM", lambda t: (f"{t:%Y%m%d}", int(f"{t:%H%M}"))),
    "date, hour 1 to 24": ("Date|Hour Ending", lambda t: (f"{ending(t)[0]:%Y-%m-%d}", ending(t)[1])),
    "date, HE": ("Date|HE", lambda t: (f"{ending(t)[0]:%Y-%m-%d}", f"{ending(t)[1]:02d}")),
    "date, 0100 to 2400": ("Date|Hour", lambda t: (f"{ending(t)[0]:%Y-%m-%d}", f"{ending(t)[1]:02d}00")),
    "hhmm UTC": ("Date|Hora UTC", lambda t: (f"{t:%Y/%m/%d}", f"{t:%H%M} UTC")),
    "stamp hhmm UTC": ("Date", lambda t: f"{t:%Y-%m-%d %H%M} UTC"),
    "hhmm UTC first": ("Date", lambda t: f"{t:%H%M} UTC {t:%d %b %Y}"),
    "date hhZ": ("Date", lambda t: f"{t:%Y-%m-%d %H}Z"),
    "date hh": ("Date", lambda t: f"{t:%Y-%m-%d %H}"),
    "day, month and year in words": ("fecha|hora", lambda t: (f"{t.day} de octubre del {t.year}", f"{t:%H:%M}")),
    "a and p": ("Date|Time", lambda t: (f"{t:%d/%m/%y}", f"{t:%I:%M}".lstrip("0") + ("p" if t.hour > 11 else "a"))),
    "year, day of year, hhmm": ("Year|DOY|HHMM", lambda t: (t.year, of_year(t), int(f"{t:%H%M}"))),
    "year, day of year, clock": ("Year|Julian Day|Time", lambda t: (t.year, of_year(t), f"{t:%H:%M}")),
    "year, day, hour": ("Year|Day|Hour", lambda t: (t.year, of_year(t), t.hour)),
    "year, month, day, hour": ("YEAR|MO|DY|HR", lambda t: (t.year, t.month, t.day, t.hour)),
    "year, m, d, clock": ("Year|m|d|Time", lambda t: (t.year, t.month, t.day, f"{t:%H:%M}")),
    "yyyy/ddd clock": ("Time", lambda t: f"{t.year}/{of_year(t):03d} {t:%H:%M}"),
    "yyyy ddd clock": ("Time", lambda t: f"{t.year} {of_year(t):03d} {t:%H:%M:%S}"),
    "yyyy:ddd:clock": ("Time", lambda t: f"{t.year}:{of_year(t):03d}:{t:%H:%M:%S}"),
    "yyyydddhhmm": ("Time", lambda t: f"{t.year}{of_year(t):03d}{t:%H%M}"),
    "yyyyddd, hhmm": ("Date|Time", lambda t: (f"{t.year}{of_year(t):03d}", f"{t:%H%M}")),
    "year, day of year with fraction": ("Year|DOY", lambda t: (t.year, f"{of_year(t) + of_day(t):.5f}")),
    "year, day, fraction": ("Year|Day of year|Fraction of day", lambda t: (t.year, of_year(t), f"{of_day(t):.5f}")),
    "date, fraction": ("Date|Day fraction", lambda t: (f"{t:%Y-%m-%d}", f"{of_day(t):.6f}")),
    "date, fraction called time": ("Datum|Zeit", lambda t: (f"{t:%d.%m.%Y}", f"{of_day(t):.6f}")),
    "fraction of the year": ("Decimal year", lambda t: f"{t.year + (of_year(t) - 1 + of_day(t)) / 366:.9f}"),
    "spreadsheet's days": ("Time", lambda t: f"{since(t, '2024-01-01') + 45292:.6f}"),
    "day number, clock": ("Date|Time", lambda t: (int(since(t, "2024-01-01")) + 45292, f"{t:%H:%M}")),
    "modified Julian days": ("MJD", lambda t: f"{since(t, '2000-01-01 12:00') + 51544.5:.6f}"),
    "Julian days": ("Julian date", lambda t: f"{since(t, '2000-01-01 12:00') + 2451545:.6f}"),
    "days since the year 0": ("Time", lambda t: f"{since(t, '2000-01-01') + 730486:.6f}"),
    "days since": ("days since 1990-01-01", lambda t: f"{since(t, '1990-01-01'):.6f}"),
    "hours since": ("hours since 1900-01-01 00:00", lambda t: f"{since(t, '1900-01-01') * 24:.0f}"),
    "seconds since 1970": ("Time", lambda t: f"{since(t, '1970-01-01') * 86_400:.0f}"),
    "seconds with decimals": ("Time", lambda t: f"{since(t, '1970-01-01') * 86_400:.3f}"),
    "milliseconds since 1970": ("Time", lambda t: f"{since(t, '1970-01-01') * 86_400_000:.0f}"),
    "microseconds since 1970": ("Time", lambda t: f"{round(since(t, '1970-01-01') * 86_400)}000000"),
    "weekday in brackets": ("Zeit", lambda t: f"{t:%d.%m.%Y} ({DAYS_DE[t.weekday()]}) {t:%H:%M}"),
    "weekday in square brackets first": ("Time", lambda t: f"[{DAYS_EN[t.weekday()]}] {t:%Y-%m-%d %H:%M}"),
    "weekday between": ("Time", lambda t: f"{t:%d/%m/%Y} {DAYS_EN[t.weekday()]} {t:%H:%M}"),
    "weekday in brackets last": ("Time", lambda t: f"{t:%d/%m/%Y %H:%M} ({DAYS_EN[t.weekday()]})"),
    "offset and abbreviation": ("Time", lambda t: f"{t:%Y-%m-%d %H:%M:%S} +0000 UTC"),
}  # fmt: skip


@pytest.mark.parametrize("form", WRITTEN)
def test_a_form_is_read_to_the_instant(tmp_path, form):
    header, written = WRITTEN[form]
    times = hourly()
    log = read(table(tmp_path, header, map(written, times)))
    assert_times(log, times, within_us=30_000_000 if form == "fraction of the year" else 0)


@pytest.mark.parametrize(
    ("header", "written"),
    [("Date|Hour (decimal)", lambda t: (f"{t:%Y-%m-%d}", f"{of_day(t) * 24:.2f}")),
     ("Date|Hour", lambda t: (f"{t:%Y-%m-%d}", f"{t:%H.%M}")),
     ("Date|Minute of day", lambda t: (f"{t:%Y-%m-%d}", round(of_day(t) * 1440)))],
)  # fmt: skip
def test_half_hours_are_decimal_or_dotted_as_the_header_or_the_even_steps_say(tmp_path, header, written):
    assert_times(read(table(tmp_path, header, map(written, HALF_HOURS))), HALF_HOURS)


@pytest.mark.parametrize("form", [
    lambda t: f"{DAYS_EN[t.weekday()]} {t:%b %d %Y %H:%M:%S} GMT+0100 (Central European Standard Time)",
    lambda t: f'"{DAYS_EN[t.weekday()]}, {t:%d %b %Y %H:%M:%S} +0100 (CET)"',
    lambda t: f"{t:%Y-%m-%d %H:%M:%S} +0100 CET",
    lambda t: f"{t:%Y-%m-%d %H:%M} (UTC+1)",
    lambda t: f"{t:%d.%m.%Y %H:%M} (MEZ)",
    lambda t: f"{t:%Y-%m-%d %H:%M:%S} (Europe/Berlin)",
    lambda t: f"{t:%Y-%m-%dT%H:%M:%S}+01:00[Europe/Berlin]",
])  # fmt: skip
def test_a_zone_in_brackets_or_behind_the_offset_is_taken(tmp_path, form):
    times = hourly("2024-11-20 18:00")
    log = read(table(tmp_path, "Time", map(form, times)), None)
    assert_times(log, [t - HOUR for t in times])


FLAGS = {"DST": ("1", "0"), "Daylight saving": ("true", "false"), "Sommerzeit": ("ja", "nein"), "S/W": ("S", "W"),
         "Summer time": ("*", "")}  # fmt: skip


@pytest.mark.parametrize("header", FLAGS)
def test_a_flag_of_summer_time_decides_where_the_steps_cannot(tmp_path, header):
    utc = [t for t in hourly("2024-10-25 21:00", 60) if t.replace(tzinfo=UTC) != datetime(2024, 10, 27, 0, tzinfo=UTC)]
    local = [t.replace(tzinfo=UTC).astimezone(BERLIN) for t in utc]  # the first pass through the doubled hour is lost
    lead = [(f"{t:%Y-%m-%d %H:%M}", FLAGS[header][0 if t.utcoffset() == 2 * HOUR else 1]) for t in local]
    assert_times(read(table(tmp_path, f"Time|{header}", lead), "Europe/Berlin"), utc)


def test_a_fixed_offset_told_for_rows_flagged_as_summer_time_is_asked_about(tmp_path):
    path = table(tmp_path, "Time|DST", [(f"{t:%Y-%m-%d %H:%M}", 1) for t in hourly("2024-07-20 10:00")])
    with pytest.raises(Question, match="name of its zone") as asked:
        read(path, "+01:00")
    assert asked.value.field == "zone"
    assert_times(read(path, "Europe/Berlin"), [t - 2 * HOUR for t in hourly("2024-07-20 10:00")])


@pytest.mark.parametrize("step", [timedelta(minutes=10), HOUR, 3 * HOUR])
@pytest.mark.parametrize(("header", "form"), [
    ("Date|Time", lambda t: (f"{t:%Y-%m-%d}", f"{t:%I:%M}".lstrip("0"))),
    ("Time", lambda t: f"{t:%d.%m.%Y %I:%M:%S}"),
])  # fmt: skip
@pytest.mark.parametrize("turn", [1, -1])
def test_twelve_hours_that_lost_their_half_are_refused_and_read_with_it(tmp_path, step, header, form, turn):
    times = hourly("2024-10-13 08:00", 80, step)[::turn]
    with pytest.raises(BadInput, match="AM and PM are lost"):
        read(table(tmp_path, header, map(form, times)))
    whole = [f"{t:%Y-%m-%d %I:%M %p}" for t in times]
    log = read(table(tmp_path, "Time", whole))
    assert_times(log, times)


def test_times_of_a_morning_alone_are_not_taken_for_lost_halves(tmp_path):
    times = [t for t in hourly("2024-10-13 00:00", 200) if 7 <= t.hour <= 12]
    assert_times(read(table(tmp_path, "Time", [f"{t:%Y-%m-%d %H:%M}" for t in times])), times)


@pytest.mark.parametrize("written", [
    [f"{t:%Y-%m-%d %H:%M}" for t in hourly("2061-03-14 10:00")],
    [f"{t:%Y-%m-%d %H:%M}" for t in hourly("2026-09-14 10:00")],
    [f"{t:%Y-%m-%d %H:%M}" for t in hourly("1973-03-14 10:00")],
    [f"{t:%d.%m.%y %H:%M}" for t in hourly("2061-03-14 10:00")],
    [f"{t:%Y-%m-%d %H:%M}" for t in hourly("1980-01-01 00:00")],
    [f"{t:%Y-%m-%d %H:%M}" for t in hourly("2000-01-01 00:00")],
    [f"{since(t, '1904-01-01') * 86_400:.0f}" for t in hourly()],
])  # fmt: skip
def test_times_before_loggers_or_to_come_are_asked_about_and_the_start_told_sets_them_right(tmp_path, written):
    path = table(tmp_path, "Time", written)
    with pytest.raises(Question) as asked:
        read(path)
    assert asked.value.field == "start"
    log = read(path, start="2024-10-09 19:00")
    assert_times(log, hourly())
    assert any("as told" in note for note in log.notes)


@pytest.mark.parametrize(("begin", "style"), [
    ("1996-02-14 07:00", "%Y-%m-%d %H:%M"), ("1998-07-21 07:00", "%d.%m.%y %H:%M"),
    ("2000-01-02 00:00", "%Y-%m-%d %H:%M"),
])  # fmt: skip
def test_years_since_1980_are_read_also_in_two_figures(tmp_path, begin, style):
    times = hourly(begin)
    assert_times(read(table(tmp_path, "Time", [t.strftime(style) for t in times])), times)


def test_rows_before_a_clock_was_set_are_set_aside(tmp_path):
    times = hourly("2000-01-01 00:00", 20) + hourly(rows=110)
    log = read(table(tmp_path, "Time", [f"{t:%Y-%m-%d %H:%M}" for t in times]))
    assert (log.counts.used, sum(log.counts.set_aside.values())) == (110, 20)


@pytest.mark.parametrize(("header", "form"), [
    ("Time", lambda t: "2025-03-01 10:00"), ("Time", lambda t: f"{t:%Y-%m-%d} 00:00"),
    ("Date|Time", lambda t: (f"{t:%Y-%m-%d}", "00:00")), ("Date|Hour", lambda t: (f"{t:%Y-%m-%d}", "")),
])  # fmt: skip
def test_whole_days_at_one_instant_are_refused(tmp_path, header, form):
    with pytest.raises(BadInput, match="no time of day"):
        read(table(tmp_path, header, map(form, hourly())))


def test_one_whole_day_at_one_instant_is_set_aside(tmp_path):
    times = hourly()
    lead = [f"{t:%Y-%m-%d} 00:00" if t.day == 12 else f"{t:%Y-%m-%d %H:%M}" for t in times]
    log = read(table(tmp_path, "Time", lead))
    assert log.counts.set_aside == {"a whole day at one instant": 24}
    assert log.counts.used == len(times) - 24


def test_several_readings_a_minute_are_not_a_lost_time_of_day(tmp_path):
    times = hourly(rows=300, step=timedelta(seconds=10))
    log = read(table(tmp_path, "Time", [f"{t:%Y-%m-%d %H:%M}" for t in times]))
    assert log.counts.used + log.counts.duplicate == 300


CLOCKS_BACK = ["2020-03-01", "2010-12-31", "2011-06-01", "2025-12-31"]


@pytest.mark.parametrize("now", CLOCKS_BACK)
@pytest.mark.parametrize(("begin", "rows", "step", "style"), [
    ("2026-11-10 08:00", 15, HOUR, "%d.%m.%y %H:%M"), ("2026-11-07 09:00", 5, DAY, "%d.%m.%y %H:%M"),
    ("2026-11-10 08:00", 100, HOUR, "%d.%m.%y %H:%M"), ("2026-09-08 10:00", 90, HOUR, "%m/%d/%y %H:%M"),
    ("2026-11-10 08:00", 15, HOUR, "%d/%m/%y %H:%M"),
])  # fmt: skip
def test_a_computer_years_behind_never_makes_an_old_record_of_a_new_one(tmp_path, now, begin, rows, step, style):
    path = table(tmp_path, "Time", [t.strftime(style) for t in hourly(begin, rows, step)])
    with pytest.raises(EnvwatchError) as stopped:
        logs.read(path, logs.Answers(zone="UTC"), now=pd.Timestamp(now, tz="UTC"))
    assert isinstance(stopped.value, Question)


def test_ten_figures_that_may_be_seconds_or_a_date_are_refused(tmp_path):
    lead = [f"{1_709_251_200 + n}" for n in range(50)]  # 2024-03-01 00:00:00, or yymmddhhmm 2017-09-25 12:00
    with pytest.raises(BadInput, match="run together or seconds"):
        read(table(tmp_path, "Time", lead))
