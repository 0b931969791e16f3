"""What a reading stands for: at any interval, at changes of it, at gaps, and whatever span is asked for."""

import json
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from envwatch import air, climate, verdict
from envwatch.archive import Studio
from envwatch.cli import app
from envwatch.climate.exposure import ROOM, Exposure
from envwatch.climate.series import Climate, stand_for_hours
from envwatch.figures.coverage import STANDS_MOST_H
from envwatch.logs import Answers
from envwatch.logs.quality import marks as quality
from envwatch.logs.times import clock
from tests import sound
from tests.exposures import Numbers, whole

START = pd.Timestamp("2025-01-06", tz="UTC")  # a Monday
INTERVALS_MIN = (1, 5, 10, 15, 30, 60, 120, 180, 240, 360, 480)
some = settings(max_examples=150, suppress_health_check=list(HealthCheck))


def at(hours) -> pd.DatetimeIndex:
    return START + pd.to_timedelta(np.round(np.asarray(hours, float) * 3600), "s")


def every(*parts) -> pd.DatetimeIndex:
    """Times at one interval after another: (minutes, readings) each; then the end of the last one's step."""
    steps = np.concatenate([np.full(n, minutes / 60) for minutes, n in parts])
    return at(np.concatenate([[0], np.cumsum(steps)[:-1]]))


# ------------------------------------------------------------------------------------------------- the rule


@pytest.mark.parametrize("minutes", INTERVALS_MIN)
def test_a_record_of_one_interval_is_whole(minutes):
    assert (stand_for_hours(every((minutes, 50))) == minutes / 60).all()


def test_no_reading_stands_for_more_than_a_third_of_a_day():
    assert STANDS_MOST_H == 8
    assert (stand_for_hours(every((720, 20))) == 8).all() and (stand_for_hours(every((1440, 20))) == 8).all()
    # own calculation: three evenly spaced readings see at least 1.5 of a sine's range of 2, two may see none of it
    phase = np.linspace(0, 2 * np.pi, 1000)[:, None]
    assert np.ptp(np.sin(phase + 2 * np.pi * np.arange(3) / 3), axis=1).min() == pytest.approx(1.5, abs=1e-2)
    assert np.ptp(np.sin(phase + np.pi * np.arange(2)), axis=1).min() == pytest.approx(0, abs=1e-2)


@pytest.mark.parametrize("gap_h", [1, 8, 40])
def test_a_gap_stays_a_gap(gap_h):
    time = every((15, 200)).append(at(50 + gap_h + np.arange(200) / 4))
    assert (stand_for_hours(time) == 0.25).all()


def test_an_interval_is_one_from_its_sixth_step_and_gaps_are_not_alike():
    night = np.cumsum(np.tile([0.25] * 32 + [4.0] * 6, 10))
    assert stand_for_hours(at(np.append(0, night))).sum() == pytest.approx(320 + 4)
    gaps = np.cumsum(np.tile([0.25] * 8 + [4.0, 4.0, 4.0, 4.0, 4.0], 10))
    assert (stand_for_hours(at(np.append(0, gaps))) == 0.25).all()


def test_a_single_reading_between_gaps_stands_for_what_was_ordinary_before():
    time = every((15, 40)).append(at([20.0, 31.0])).append(at(45 + np.arange(40) / 4))
    assert (stand_for_hours(time) == 0.25).all()


def test_the_first_reading_before_a_gap_stands_for_what_is_ordinary_after_it():
    assert stand_for_hours(at([0, *(30 + np.arange(20.0))]))[0] == 1


def test_a_day_of_one_minute_readings_for_a_test_blanks_nothing():
    time = every((60, 300), (1, 1440), (60, 300))
    assert stand_for_hours(time).sum() == pytest.approx(300 + 24 + 300)


def test_two_files_of_one_logger_that_overlap_on_clocks_ten_minutes_apart_are_whole():
    time = at(np.sort(np.concatenate([np.arange(100.0), np.arange(40, 60) + 1 / 6])))
    assert stand_for_hours(time).sum() == pytest.approx(100)


@some
@given(st.data())
def test_the_sum_of_hours_is_the_span_less_its_gaps(data):
    """Within a step of either side for each gap and each change; intervals kept for 9 readings or more."""
    begin, read, times, slack = 0.0, 0.0, [], 0.0
    jitter = data.draw(st.sampled_from([0.0, 0.05]))
    dice = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    for _ in range(data.draw(st.integers(1, 6))):
        step = data.draw(st.sampled_from(INTERVALS_MIN)) / 60
        n = data.draw(st.integers(9, 200))
        times.append(begin + step * (np.arange(n) + dice.uniform(0, jitter, n)))
        begin, read, slack = begin + n * step, read + n * step, slack + 2 * step
        if data.draw(st.booleans()):
            begin += data.draw(st.floats(1.6 * 8, 300))
    hours = stand_for_hours(at(np.concatenate(times)))
    assert abs(hours.sum() - read) <= slack + 1e-6


@some
@given(st.sampled_from([5, 15, 60, 180]), st.floats(0, 0.2), st.integers(0, 10**6))
def test_what_is_lost_at_random_is_not_counted_as_read(minutes, share, seed):
    time = every((minutes, 2000))
    kept = np.random.default_rng(seed).random(len(time)) >= share
    assert stand_for_hours(time[kept]).sum() / (2000 * minutes / 60) == pytest.approx(kept.mean(), abs=0.01)


# ------------------------------------------------------------------------- the same air at other intervals


def mixed(block_h: int, blocks: int, dice: Numbers) -> np.ndarray:
    """An interval for each block of air, kept for 20 blocks or more. (n,) [min]"""
    steps: list[int] = []
    while len(steps) < blocks:
        step = dice.pick([m for m in INTERVALS_MIN if m <= 60 * block_h and block_h * 60 % m == 0])
        steps += [step] * dice.whole(20, 400)
    return np.array(steps[:blocks])


def readings(begin, block_h: int, values: np.ndarray, step_min: np.ndarray) -> tuple[pd.DatetimeIndex, np.ndarray]:
    """Air that holds block by block, read at each block's interval; values by number of the block."""
    each = block_h * 60 // step_min
    rows = np.repeat(np.arange(len(values)), each)
    within = np.arange(len(rows)) - np.repeat(np.cumsum(each) - each, each)
    return begin + pd.to_timedelta(rows * block_h * 60 + within * step_min[rows], "min"), rows


@some
@given(st.integers(0, 10**6), st.sampled_from([1, 2, 3, 6]))
def test_the_same_air_has_the_same_hours_at_every_interval_and_whatever_it_changes_to(seed, block_h):
    dice = Numbers(seed)
    values = np.random.default_rng(seed).uniform(40, 90, 24 * 60 // block_h).round(1)
    begin, end = START, START + pd.Timedelta(days=60)
    time, rows = readings(begin, block_h, values, mixed(block_h, len(values), dice))
    air = Climate.of(time, np.full(len(rows), 18.0), values[rows], start=begin, end=end)
    hours = climate.hourly(air)
    assert air.coverage == pytest.approx(1)
    np.testing.assert_allclose(hours.rh_percent, np.repeat(values, block_h))
    a = begin + pd.Timedelta(hours=dice.whole(1, 700))
    part = air.between(a, a + pd.Timedelta(days=7))
    assert part.coverage == pytest.approx(1)
    cut = slice(*hours.time.searchsorted([a, a + pd.Timedelta(days=7)]))
    np.testing.assert_allclose(climate.hourly(part).rh_percent, hours.rh_percent[cut])


@settings(max_examples=30, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10**6))
def test_changes_of_interval_change_no_level(seed):
    dice = Numbers(seed)
    drawn = replace(whole(dice), gaps=(), missing=0.0, points=(ROOM,), moves=())
    temp, rh = drawn.blocks(0)
    time, rows = readings(drawn.begin, drawn.block_h, temp, mixed(drawn.block_h, len(temp), dice))
    sensor = drawn.exposure().room.sensor
    air = Climate.of(time, temp[rows], rh[rows], start=drawn.begin, end=drawn.end, sensor=sensor)
    other = replace(drawn.exposure(), points={ROOM: air})
    after = sound.found(other, drawn.painting, drawn.start())
    assert not list(sound.differs(sound.judged(drawn), after, set()))


@pytest.mark.parametrize("minutes", [m for m in INTERVALS_MIN if m >= 60])
def test_a_slow_logger_tells_the_damp_and_the_swing_of_a_quick_one(minutes):
    """Air of 8-hour blocks: day 80 %, else 60 %."""
    values = np.tile([60.0, 80.0, 60.0], 60)
    told = []
    for step in (15, minutes):
        time, rows = readings(START, 8, values, np.full(len(values), step))
        air = Climate.of(time, np.full(len(rows), 18.0), values[rows])
        week = climate.describe_place(air, "UTC", air.end - pd.Timedelta(days=7))
        levels = {f.mechanism: f.level for f in verdict.judge(Exposure({ROOM: air}, air.start, air.end)).findings}
        told.append((week.coverage, week.swing.percent, [d.hours for d in week.damp], levels))
    assert told[0] == told[1] and told[1][0] == pytest.approx(1) and told[1][1] == 20


# --------------------------------------------------------------------------------------- through the archive


def wave(time) -> np.ndarray:
    """Damp in the second half. [% RH]"""
    return np.where(time < START + pd.Timedelta(days=100), 55.0, 72.0) + (time.hour.to_numpy() // 6)


def logger_file(path: Path, time, rh) -> Path:
    rows = [f"{t:%Y-%m-%dT%H:%M:%SZ},18.0,{v:.1f}" for t, v in zip(time, rh, strict=True)]
    path.write_text("\n".join(["Logger: TH7", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n", encoding="utf-8")
    return path


def studio_of(folder: Path, files: list[Path]) -> Studio:
    studio = Studio.create(folder / "s", name="S", zone="UTC")
    (folder / "register").mkdir()
    for name, text in {
        "places": "id,name,kind,zone\nstore,Store,store,UTC\n", "loggers": "id,name,labels\nL,Logger,TH7\n",
        "hangings": f"logger,channel,place,position,from,to\nL,,store,rack,{START:%Y-%m-%d},\n",
        "paintings": "id,title,support\np,Heath,canvas\n",
        "stays": f"painting,place,position,from,to\np,store,rack,{START:%Y-%m-%d},\n",
    }.items():  # fmt: skip
        (folder / "register" / f"{name}.csv").write_text(text, encoding="utf-8")
    studio.import_register(folder / "register")
    for file in files:
        assert studio.add([file], Answers()).ok
    return studio


CHANGES_MIN = (15, 60, 1, 360, 10, 180)


def changing_files(folder: Path) -> list[Path]:
    """200 days at six intervals, a file each; the one at a minute is a day long."""
    begin, days, files = START, {1: 1}, []
    for n, minutes in enumerate(CHANGES_MIN):
        time = pd.date_range(begin, begin + pd.Timedelta(days=days.get(minutes, 40)), freq=f"{minutes}min")[:-1]
        files.append(logger_file(folder / f"{n}.csv", time, wave(time)))
        begin += pd.Timedelta(days=days.get(minutes, 40))
    return files


@pytest.mark.parametrize("order", [(0, 1, 2, 3, 4, 5), (5, 3, 1, 0, 4, 2)])
def test_files_at_other_intervals_are_whole_in_review_place_weeks_and_json(tmp_path, order):
    files = changing_files(tmp_path)
    studio = studio_of(tmp_path, [files[n] for n in order])
    end = START + pd.Timedelta(days=201)
    air = studio.climate("store", START, end)
    assert air.coverage == pytest.approx(1)
    over = int((climate.hourly(air).rh_percent > 65).sum())
    assert over == 101 * 24
    for week in range(28):
        a = START + pd.Timedelta(weeks=week)
        b = a + pd.Timedelta(weeks=1)
        part, own = air.between(a, b), studio.climate("store", a, b)
        assert own.coverage == pytest.approx(1)
        np.testing.assert_array_equal(part.time, own.time)
        np.testing.assert_allclose(part.hours, own.hours)
        np.testing.assert_array_equal(part.rh_percent, own.rh_percent)
    studio.close()
    place = printed(tmp_path / "s", "place", "store", "--from", "2025-01-06", "--to", "2025-07-25")
    assert place["history"]["coverage"] == pytest.approx(1)
    assert {round(d["limit_percent"]): d["hours"] for d in place["history"]["damp"]}[65] == over
    for week, damp_h in (("2025-W07", 0), ("2025-W28", 168)):  # at an hour, at ten minutes and three hours
        review = printed(tmp_path / "s", "review", "--week", week, "--no-keep")
        (line,) = [*review["trouble"], *review["quiet"], *review["not_seen"]]
        assert line["verdict"]["coverage"] == pytest.approx(1)
        told = review["places"][0]["summary"]
        assert told["coverage"] == pytest.approx(1)
        assert {round(d["limit_percent"]): d["hours"] for d in told["damp"]}[65] == damp_h


def printed(studio: Path, *words: str) -> dict:
    shown = CliRunner().invoke(app, [*words, "--studio", str(studio), "--json"])
    assert shown.exit_code == 0, shown.output
    return json.loads(shown.stdout)


@pytest.fixture(scope="module")
def gappy(tmp_path_factory):
    """A studio of the changing intervals, a twentieth of the readings lost in every other file."""
    folder, dice = tmp_path_factory.mktemp("intervals"), np.random.default_rng(1)
    files = changing_files(folder)
    for file in files[::2]:
        lines = file.read_text("utf-8").splitlines()
        file.write_text("\n".join(line for n, line in enumerate(lines) if n < 2 or dice.random() > 0.05), "utf-8")
    with studio_of(folder, files) as studio:
        yield studio


@settings(max_examples=60, suppress_health_check=list(HealthCheck))
@given(begin=st.integers(0, 4700), hours=st.integers(1, 400))
def test_a_reading_stands_for_the_same_whatever_span_is_asked_for(gappy, begin, hours):
    end = START + pd.Timedelta(days=201)
    a = START + pd.Timedelta(hours=begin)
    b = min(a + pd.Timedelta(hours=hours), end)
    part, own = gappy.climate("store", START, end).between(a, b), gappy.climate("store", a, b)
    if len(own.time):  # of a span without a stamp in it nothing is read
        np.testing.assert_array_equal(part.time, own.time)
        np.testing.assert_allclose(part.hours, own.hours)
    else:
        assert len(part.time) <= 1


# ----------------------------------------------------------------------------- marks, clocks and drifts agree


def set_to_hours(quick_min: int, days: int) -> np.ndarray:
    """Times of a record that is set from some minutes to hours after so many days. [µs]"""
    return every((quick_min, days * 1440 // quick_min), (60, 24 * days)).as_unit("us").asi8


def test_a_logger_that_stands_still_is_marked_at_its_new_interval_too():
    time_us = set_to_hours(10, 60)
    rng = np.random.default_rng(3)
    temp, rh = (mean + rng.integers(0, 9, len(time_us)) / 10 for mean in (18.0, 50.0))
    temp[-40:-10], rh[-40:-10] = 18.0, 50.0
    assert (quality.mark(time_us, temp, rh)[-40:-10] & quality.STUCK).all()


def test_sun_on_a_logger_is_marked_at_its_new_interval_too():
    time_us = set_to_hours(5, 60)
    temp = 18 + 0.1 * (np.arange(len(time_us)) % 2)
    temp[-60:-56] = [24, 25, 24, 20]
    marks = quality.mark(time_us, temp, air.rh_at(18.0, 50.0, temp))
    assert (marks[-60:-57] & quality.SUN).all() and not (marks[:-60] & quality.SUN).any()


@pytest.mark.parametrize("civil", [True, False])
def test_the_clock_of_a_file_that_changes_its_interval_is_told_by_the_steps_about_the_change(civil):
    zone = ZoneInfo("Europe/Berlin")
    time = every((10, 144 * 200), (60, 24 * 150))  # to hours in July
    wall = time.tz_convert(zone).tz_localize(None) if civil else time.tz_localize(None) + pd.Timedelta(hours=1)
    wall_us = wall.as_unit("us").asi8
    found = clock.evidence(zone, wall_us, clock.cadence_us(wall_us))
    assert (found.seen, found.civil, found.fixed) == ((2, 2, 0) if civil else (2, 0, 2))


def test_the_last_interval_of_a_logger_is_its_cadence(tmp_path):
    with studio_of(tmp_path, changing_files(tmp_path)) as studio:
        assert studio.seen()["L"].cadence == pd.Timedelta(hours=3)


def test_what_a_slow_logger_read_in_another_room_does_not_stand_in_the_next(tmp_path):
    time = pd.date_range(START, periods=80, freq="6h")
    with studio_of(tmp_path, [logger_file(tmp_path / "a.csv", time, wave(time))]) as studio:
        (tmp_path / "moved").mkdir()
        (tmp_path / "moved" / "places.csv").write_text("id,name,kind,zone\nhall,Hall,store,UTC\n", "utf-8")
        (tmp_path / "moved" / "hangings.csv").write_text(
            "logger,channel,place,position,from,to\nL,,store,rack,2025-01-06,2025-01-10 09:00\n"
            "L,,hall,rack,2025-01-10 09:00,\n", "utf-8"
        )  # fmt: skip
        studio.import_register(tmp_path / "moved")
        moved, later = pd.Timestamp("2025-01-10T09:00Z"), pd.Timestamp("2025-01-12", tz="UTC")
        assert studio.climate("store", START, later).hours.sum() == (moved - START) / pd.Timedelta(hours=1)
        assert studio.climate("hall", START, later).time[0] == pd.Timestamp("2025-01-10T12:00Z")
