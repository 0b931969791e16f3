"""Clocks: the order of day and month by evidence, daylight saving, fixed offsets, resets and drift."""

import numpy as np
import pandas as pd
import pytest
from logs_layouts import NOW, Truth, assert_adds_up, assert_reads, climate, read, rows_of, write

from envwatch.core.errors import BadInput, Question

BERLIN = "Europe/Berlin"
AUTUMN, SPRING = "2024-10-26T12:00Z", "2024-03-30T12:00Z"  # the clocks change at 01:00 UTC on the 27th and the 31st
STEPS = ["1min", "7min", "10min", "15min", "20min", "30min", "1h"]


def file(
    tmp_path, truth: Truth, zone: str = BERLIN, stamp: str = "%Y-%m-%d %H:%M:%S", newest_first: bool = False, rows=None
):
    body = rows_of(truth, zone, stamp) if rows is None else rows
    return write(tmp_path / "a.csv", "\n".join(["time,temp °C,rh %", *(body[::-1] if newest_first else body)]) + "\n")


@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("start", [AUTUMN, SPRING], ids=["autumn", "spring"])
def test_a_civil_clock_keeps_every_reading_of_the_doubled_hour_in_order(tmp_path, step, newest_first, start):
    truth = climate(start, int(pd.Timedelta(hours=30) / pd.Timedelta(step)), step)
    assert_reads(read(file(tmp_path, truth, newest_first=newest_first), BERLIN), truth)


@pytest.mark.parametrize("step", ["2h", "3h"])
def test_a_civil_clock_with_steps_over_an_hour_is_told_by_its_shifted_steps(tmp_path, step):
    truth = climate(AUTUMN, 40, step)
    assert_reads(read(file(tmp_path, truth), BERLIN), truth)


@pytest.mark.parametrize("zone", ["America/New_York", "Australia/Lord_Howe", "Europe/London", "America/Sao_Paulo"])
def test_other_zones_change_too(tmp_path, zone):
    for month in (
        "2024-03-09",
        "2024-11-02",
        "2024-10-05",
        "2024-04-06",
        "2018-11-03",
        "2018-02-17",
        "2024-10-26",
        "2024-03-30",
    ):
        truth = climate(f"{month}T06:00Z", 300, "10min")
        assert_reads(read(file(tmp_path, truth, zone), zone), truth)


@pytest.mark.parametrize("step", STEPS)
def test_a_clock_left_on_winter_time_is_told_by_its_unbroken_run_in_spring(tmp_path, step):
    truth = climate(SPRING, int(pd.Timedelta(hours=30) / pd.Timedelta(step)), step)
    log = read(file(tmp_path, truth, "Etc/GMT-1"), BERLIN)
    assert_reads(log, truth)
    assert any("did not change" in note for note in log.notes)
    assert "+01:00" in log.layout.time_basis


@pytest.mark.parametrize("step", STEPS)
def test_an_unbroken_run_in_autumn_is_asked_about_and_an_offset_answers(tmp_path, step):
    truth = climate(AUTUMN, int(pd.Timedelta(hours=30) / pd.Timedelta(step)), step)
    path = file(tmp_path, truth, "Etc/GMT-1")
    with pytest.raises(Question) as asked:
        read(path, BERLIN)
    assert (asked.value.field, asked.value.choices) == ("zone", ("+02:00", "+01:00"))
    assert_reads(read(path, "+01:00"), truth)


def test_rows_without_values_still_tell_how_the_clock_ran(tmp_path):
    truth = climate(SPRING, 180)
    rows = [r if i % 3 else r.split(",")[0] + ",," for i, r in enumerate(rows_of(truth, "Etc/GMT-1"))]
    keep = np.arange(180) % 3 > 0
    part = Truth(truth.time[keep], truth.temp_c[keep], truth.rh_percent[keep])
    log = read(file(tmp_path, truth, rows=rows), BERLIN)
    assert_reads(log, part)
    assert log.layout.cadence_s == 600


def test_a_whole_year_on_winter_time_is_read_without_asking(tmp_path):
    truth = climate("2023-12-31T23:00Z", 24 * 366, "1h")
    assert_reads(read(file(tmp_path, truth, "Etc/GMT-1"), BERLIN), truth)


def test_a_whole_year_of_civil_time_is_read_to_the_reading(tmp_path):
    truth = climate("2023-12-31T23:00Z", 24 * 366, "1h")
    assert_reads(read(file(tmp_path, truth, stamp="%d.%m.%Y %H:%M"), BERLIN), truth)


def test_a_gap_over_the_change_is_noted_and_nothing_is_lost(tmp_path):
    truth = climate(AUTUMN, 180, "10min")
    keep = np.r_[0:72, 90:180]  # nothing between 00:00 and 03:00 UTC
    part = Truth(truth.time[keep], truth.temp_c[keep], truth.rh_percent[keep])
    log = read(file(tmp_path, part), BERLIN)
    assert_reads(log, part)
    assert any("hides whether" in note for note in log.notes)


def test_the_doubled_hour_with_one_pass_missing_is_put_where_the_cadence_holds(tmp_path):
    truth = climate(AUTUMN, 180, "10min")
    second = (truth.time >= "2024-10-27T01:00Z") & (truth.time < "2024-10-27T02:00Z")
    part = Truth(truth.time[~second], truth.temp_c[~second], truth.rh_percent[~second])
    with pytest.raises(Question):  # looks like a clock that did not change
        read(file(tmp_path, part), BERLIN)


def test_two_probes_interleaved_keep_the_doubled_hour(tmp_path):
    one, two = climate(AUTUMN, 180), climate(AUTUMN, 180, seed=2)
    pairs = zip(rows_of(one, BERLIN), rows_of(two, BERLIN), strict=True)
    body = [f"{room},{row}" for pair in pairs for room, row in zip(("A1", "B2"), pair, strict=True)]
    path = write(tmp_path / "a.csv", "\n".join(["room,time,temp °C,rh %", *body]))
    assert_reads(read(path, BERLIN), [one, two], ("A1", "B2"))


def test_one_quantity_a_row_keeps_the_doubled_hour(tmp_path):
    truth = climate(AUTUMN, 180)
    local = truth.time.tz_convert(BERLIN).strftime("%Y-%m-%d %H:%M")
    body = [
        row
        for i, t in enumerate(local)
        for row in (f"{t},temperature,{truth.temp_c[i]}", f"{t},humidity,{truth.rh_percent[i]}")
    ]
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["time,quantity,value", *body])), BERLIN), truth)


@pytest.mark.parametrize("stamp", ["%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M", "%d.%m.%y %H:%M", "%y-%m-%d %H:%M"])
@pytest.mark.parametrize("step", ["1min", "10min", "1h", "6h", "1D"])
@pytest.mark.parametrize("start", ["2024-02-01T00:00Z", "2024-02-03T17:10Z", "2012-11-10T00:00Z"])
def test_the_order_of_day_and_month_is_found_in_the_first_twelve_days(tmp_path, stamp, step, start):
    n = {"1min": 2000, "10min": 250, "1h": 48, "6h": 10, "1D": 16}[step]
    truth = climate(start, n, step)
    assert_reads(read(file(tmp_path, truth, "UTC", stamp)), truth)


def test_a_single_midnight_settles_the_order(tmp_path):
    truth = climate("2024-04-03T20:00Z", 40)
    assert_reads(read(file(tmp_path, truth, "UTC", "%d/%m/%Y %H:%M")), truth)


def test_a_date_in_the_future_settles_the_order(tmp_path):
    truth = climate("2026-05-06T08:00Z", 40)  # as the fifth of June it would lie behind the test's clock
    assert pd.Timestamp("2026-06-05", tz="UTC") > NOW
    assert_reads(read(file(tmp_path, truth, "UTC", "%d/%m/%Y %H:%M")), truth)


def test_the_fifth_of_may_needs_no_question(tmp_path):
    truth = climate("2024-05-05T08:00Z", 40)
    assert_reads(read(file(tmp_path, truth, "UTC", "%d/%m/%Y %H:%M")), truth)


def test_separate_mornings_in_two_orders_are_asked_about(tmp_path):
    parts = [climate(f"2024-04-0{day}T08:00Z", 30) for day in (3, 7)]
    rows = [row for part in parts for row in rows_of(part, "UTC", "%d/%m/%Y %H:%M")]
    with pytest.raises(Question) as asked:
        read(file(tmp_path, parts[0], rows=rows))
    assert asked.value.field == "dates"


def test_an_order_told_that_the_rows_rule_out_is_asked_about_again(tmp_path):
    truth = climate("2024-04-20T08:00Z", 40)
    path = file(tmp_path, truth, "UTC", "%d/%m/%Y %H:%M")
    with pytest.raises(Question) as asked:
        read(path, dates="mdy")
    assert asked.value.choices == ("dmy",)
    assert_reads(read(path, dates="dmy"), truth)


def test_days_that_do_not_exist_are_set_aside_and_not_rolled_over(tmp_path):
    truth = climate("2024-02-20T00:00Z", 1500)
    rows = rows_of(truth, "UTC", "%d/%m/%Y %H:%M")
    rows.insert(700, "31/02/2024 10:00,19.0,50.0")
    log = read(file(tmp_path, truth, rows=rows))
    assert_reads(log, truth)
    assert dict(log.counts.set_aside) == {"unreadable time": 1}


def test_midnight_written_as_24_is_the_end_of_the_day(tmp_path):
    truth = climate(n=300)
    rows = [
        r.replace(f"{t:%Y-%m-%d} 00:00:00", f"{t - pd.Timedelta(days=1):%Y-%m-%d} 24:00:00")
        for t, r in zip(truth.time, rows_of(truth), strict=True)
    ]
    assert_reads(read(file(tmp_path, truth, rows=rows)), truth)


def test_rows_of_a_reset_clock_are_set_aside_and_reported(tmp_path):
    truth = climate(n=200)
    lost = climate("1970-01-01T00:00Z", 5)
    log = read(file(tmp_path, truth, rows=rows_of(truth) + rows_of(lost)))
    assert_reads(log, truth)
    assert log.counts.set_aside["clock reset: time before 1980"] == 5
    assert any("clock was reset" in note for note in log.notes)


def test_a_file_wholly_before_1980_asks_when_it_began(tmp_path):
    path = file(tmp_path, climate("1970-01-01T00:00Z", 50), "UTC")
    with pytest.raises(Question, match="clock was reset"):
        read(path)
    log = read(path, start="2024-03-01 00:00")
    assert_reads(log, climate("2024-03-01T00:00Z", 50))


def test_rows_of_the_year_2162_are_set_aside_and_reported(tmp_path):
    truth = climate(n=200)
    rows = rows_of(truth)
    rows[50] = rows[50].replace("2024", "2162")
    log = read(file(tmp_path, truth, rows=rows))
    assert log.counts.set_aside == {"time in the future": 1}
    assert_adds_up(log)


COUNTED = {  # header, and the count of an instant in seconds since 1970
    "unix time (s)": lambda s: s, "unix time (ms)": lambda s: s * 1000,
    "decimal year": lambda s: f"{1970 + s / 86400 / 365.25:.8f}", "time": lambda s: f"{s / 86400 + 25569:.6f}",
}  # fmt: skip


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("damaged", [8 * 10**n for n in range(12, 20)] + [-(10**16)])
@pytest.mark.parametrize("header", COUNTED)
def test_one_damaged_count_costs_its_own_row_alone(tmp_path, header, damaged):
    """Beyond the calendar's years 1 to 9999 (Python's datetime), and beyond what 64 bits hold of microseconds."""
    seconds = [1_750_000_000 + 600 * i for i in range(100)]
    rows = [f"{COUNTED[header](s)},{20 + i % 7 / 10:.1f},{50 + i % 9}" for i, s in enumerate(seconds)]
    rows[50] = ",".join([f"{damaged}{'.0' * ('.' in rows[50].split(',')[0])}", *rows[50].split(",")[1:]])
    path = tmp_path / "a.csv"
    path.write_text("\n".join([f"{header},temp °C,rh %", *rows]), encoding="utf-8")
    log = read(path, zone=BERLIN)
    faults = {"unreadable time", "time in the future", "clock reset: time before 1980"}
    assert log.counts.used == 99 and log.counts.set_aside.keys() < faults
    assert_adds_up(log)


def test_a_clock_that_starts_again_is_reported_and_sorted(tmp_path):
    truth = climate(n=200)
    rows = rows_of(truth)
    log = read(file(tmp_path, truth, rows=rows[100:] + rows[:100]))
    assert_reads(log, truth)
    assert any("go back 1 times" in note for note in log.notes)


def test_a_drifting_clock_is_reported_and_kept_as_written(tmp_path):
    time = pd.to_datetime(np.arange(1000) * 599.9 * 1e9 + 1.7092512e18).tz_localize("UTC").floor("s")
    truth = Truth(time, np.full(1000, 20.0), np.round(50 + np.sin(np.arange(1000)), 1))
    log = read(file(tmp_path, truth, "UTC"))
    assert_reads(log, truth)
    assert any("slip by -14 s a day" in note for note in log.notes)


def test_a_steady_clock_is_not_called_drifting(tmp_path):
    assert not any("slip" in note for note in read(file(tmp_path, climate(n=2000), "UTC")).notes)


def test_a_zone_that_does_not_exist_is_refused(tmp_path):
    for zone in ("Europe/Berlinn", "../etc/passwd", "+99:00", "", "x" * 500):
        if zone:
            with pytest.raises(BadInput, match="zone"):
                read(file(tmp_path, climate(n=10)), zone)


def test_the_slip_of_a_clock_whose_usual_step_is_a_second_short_is_told_against_the_interval_that_was_set(tmp_path):
    written = [pd.Timestamp("2024-03-04T00:00Z") + pd.Timedelta(seconds=599.4 * n) for n in range(600)]
    rows = "".join(f"{t:%Y-%m-%d %H:%M:%S},{18 + n % 7 / 10},{50 + n % 5}\n" for n, t in enumerate(written))
    log = read(write(tmp_path / "a.csv", "Time,Temp C,RH\n" + rows))
    assert any("slip by -87 s a day against an even 600 s" in note for note in log.notes)
