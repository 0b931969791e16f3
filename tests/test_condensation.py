"""Condensation. The time constants are our judgement; the tests hold the physics and what is said."""

import re

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from envwatch import air
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Level
from envwatch.core.painting import Layer, Painting
from envwatch.core.place import Sensor
from envwatch.hazards import condensation
from envwatch.hazards.condensation import painting_temp, waiting_time_h, wet_hours

START = pd.Timestamp("2026-01-05", tz="UTC")
OPEN = Painting("p1", "Harbour", glazed=False, backed=False)
QUARTER = "15min"


def climate_of(temp_c, rh_percent, every=QUARTER, **more):
    time = pd.date_range(START, periods=np.broadcast(temp_c, rh_percent).size, freq=every)
    return Climate.of(time, np.broadcast_to(temp_c, len(time)), np.broadcast_to(rh_percent, len(time)), **more)


def exposure_of(room, stints=None, **points):
    plain = (Stint(room.start, room.end, "studio", "Studio", "easel", zone="Europe/London"),)
    return Exposure({ROOM: room, **points}, room.start, room.end, plain if stints is None else stints)


def cold_arrival(hours_cold=48, position="easel"):
    """From a barn at 3 °C into a studio at 20 °C and 50 %."""
    n = hours_cold * 4
    room = climate_of(np.repeat([3.0, 20.0], [n, 400]), np.repeat([80.0, 50.0], [n, 400]))
    move = room.time[n]
    stints = (Stint(START, move, "barn", "Barn"), Stint(move, room.end, "studio", "Studio", position))
    return exposure_of(room, stints), move


def findings(exposure, painting=OPEN, start=START):
    return {found.mechanism: found for found in condensation.assess(exposure, painting, start)}


# ------------------------------------------------------------------------------- array functions


def test_wet_hours_agree_with_small_steps():
    surface, wet = 2.0, 0.0
    for _ in range(10_000):  # Newton's cooling in the plainest steps, one hour in all
        wet += 1e-4 if surface < 9.27 else 0
        surface += (20 - surface) * 1e-4 / 0.3
    assert float(wet_hours(2.0, 20.0, 9.27, 1.0, 0.3)) == pytest.approx(wet, rel=1e-3)


def test_wet_hours_are_none_over_the_dew_point_and_all_in_saturated_air():
    assert_allclose(wet_hours([12.0, 5.0, np.nan], [20.0, 8.0, 20.0], [9.3, 8.5, 9.3], 2.0, 1.0), [0, 2, np.nan])


def test_cutting_a_step_changes_no_wet_hour():
    whole = float(wet_hours(2.0, 20.0, 9.27, 2.0, 1.5))
    middle = 20 + (2 - 20) * np.exp(-0.4 / 1.5)
    cut = wet_hours(2.0, 20.0, 9.27, 0.4, 1.5) + wet_hours(middle, 20.0, 9.27, 1.6, 1.5)
    assert float(cut) == pytest.approx(whole, rel=1e-12)


def test_a_painting_that_waited_long_enough_is_over_the_dew_point():
    wait = waiting_time_h(4.0, 20.0, 55.0, tau_h=8.0)
    warmed = 20 + (4 - 20) * np.exp(-wait / 8)
    assert float(warmed) == pytest.approx(float(air.dew_point(20.0, 55.0)) + 2, abs=1e-9)


def test_waiting_is_not_needed_when_warm_and_of_no_use_when_the_room_is_too_damp():
    assert_allclose(waiting_time_h([19.0, 4.0, np.nan], 20.0, [50.0, 95.0, 50.0]), [0, np.inf, np.nan])


def test_a_painting_follows_the_air_and_forgets_across_a_long_gap():
    time = START + pd.to_timedelta([0, 1, 2, 30, 31], unit="h")
    there = Climate.of(time, [4.0, 4.0, 20.0, 20.0, 20.0], [50.0] * 5)
    assert_allclose(painting_temp(there, 1.5), [4, 4, 4, 20, 20])


def test_a_short_gap_is_remembered():
    time = START + pd.to_timedelta([0, 1, 2, 5, 6], unit="h")
    there = Climate.of(time, [4.0, 4.0, 4.0, 20.0, 20.0], [50.0] * 5)
    assert painting_temp(there, 1.5)[3] == pytest.approx(4)


# ---------------------------------------------------------------------------------- the findings


def test_a_dry_steady_room_is_clear_and_says_how_far_from_the_dew_point():
    found = findings(exposure_of(climate_of(np.full(672, 20.0), 50.0)))
    # dew point of 20 °C and 50 %: 9.27 °C (PsychroLib, ASHRAE formulas)
    assert found["water on the painting"].level is Level.CLEAR
    assert found["water on the painting"].value == pytest.approx(20 - 9.27, abs=0.01)
    assert list(found) == ["water on the painting"]
    assert "waiting time" not in dict(found["water on the painting"].working)  # there is nothing to wait for


def test_a_cold_painting_in_a_warm_room_gets_wet_and_the_move_is_named():
    exposure, move = cold_arrival()
    found = findings(exposure)["water on the painting"]
    assert (found.level, found.worst_at) == (Level.ACT, move)
    # Newton's law: 0.3 h ln(17 / (20 - 9.27))
    assert found.hours == pytest.approx(0.3 * np.log(17 / (20 - 9.2724)), rel=1e-3)
    assert "from Barn to Studio" in found.sentence
    assert "waiting time" in dict(found.working)
    assert "socket" in found.caution


@pytest.mark.parametrize(("glazed", "unit"), [(False, "minutes"), (True, "hours")])
def test_how_long_it_was_wet_is_told_in_minutes_up_to_two_hours(glazed, unit):
    painting = Painting("p1", "Harbour", glazed=glazed, backed=glazed)
    found = findings(cold_arrival(position="crate" if glazed else "easel")[0], painting)["water on the painting"]
    number, word = re.search(r"for about (\d+) (\w+):", found.sentence).groups()
    assert word == unit and (found.hours < 2) is (unit == "minutes")
    assert float(number) == pytest.approx(found.hours * (60 if unit == "minutes" else 1), abs=0.5)


def test_behind_glass_it_stays_wet_for_longer_and_in_a_crate_longest():
    exposure, _ = cold_arrival()
    crate, _ = cold_arrival(position="crate")
    framed = findings(exposure, Painting("p", "x", glazed=True, backed=True))["water on the painting"]
    assert findings(exposure)["water on the painting"].hours < framed.hours
    assert findings(crate)["water on the painting"].level is Level.URGENT


def test_unknown_glass_and_board_take_the_slower_warming():
    exposure, _ = cold_arrival()
    unknown = findings(exposure, Painting("p", "x"))["water on the painting"]
    assert unknown.hours > findings(exposure)["water on the painting"].hours


def test_hourly_means_would_have_hidden_it():
    # why single readings are used: over a whole hour the painting is warm again
    exposure, move = cold_arrival()
    surface = painting_temp(exposure.room, 0.3)
    hour_after = surface[exposure.room.time.searchsorted(move) + 4]
    assert hour_after > 19


def test_an_arrival_of_which_nothing_was_read_is_said():
    room = climate_of(np.full(672, 20.0), 50.0)
    move = START + pd.Timedelta(hours=30)
    seen = Climate.of(room.time[120:], room.temp_c[120:], room.rh_percent[120:], start=START, end=room.end)
    stints = (Stint(START, move, "", "unknown"), Stint(move, room.end, "studio", "Studio"))
    found = findings(exposure_of(seen, stints))["water on the painting"]
    assert "not known" in found.sentence


@pytest.mark.parametrize(("quarters_unread", "known"), [(8, True), (9, False)])
def test_a_reading_up_to_two_hours_before_it_arrived_tells_how_cold_it_was(quarters_unread, known):
    room = climate_of(np.full(672, 20.0), 50.0)
    move = room.time[120]
    rows = np.r_[0 : 121 - quarters_unread, 120:672]
    seen = Climate.of(room.time[rows], room.temp_c[rows], room.rh_percent[rows], start=START, end=room.end)
    stints = (Stint(START, move, "", "unknown"), Stint(move, room.end, "studio", "Studio"))
    assert ("not known" not in findings(exposure_of(seen, stints))["water on the painting"].sentence) is known


@pytest.mark.parametrize(("position", "told"), [("crate", True), ("rack", False)])
def test_out_of_a_crate_of_which_nothing_was_read_it_may_come_cold(position, told):
    room = climate_of(np.full(672, 20.0), 50.0)
    move = room.time[120]
    seen = Climate.of(room.time[120:], room.temp_c[120:], room.rh_percent[120:], start=START, end=room.end)
    stints = (Stint(START, move, "store", "Store", position), Stint(move, room.end, "studio", "Studio"))
    assert (
        "nothing was read on the way" in findings(exposure_of(seen, stints))["water on the painting"].sentence
    ) is told


def test_the_surface_after_the_reading_is_worked_out_by_newtons_law():
    told = dict(findings(cold_arrival()[0])["water on the painting"].working)["surface"]
    after = 20 + (3 - 20) * np.exp(-0.25 / 0.3)  # 3 °C into 20 °C, a quarter of an hour at 0.3 h
    assert told.startswith("3.00 °C") and f"{after:.2f} °C after its 0.25 h" in told


def test_damp_air_near_saturation_is_a_watch():
    found = findings(exposure_of(climate_of(np.full(400, 15.0), 92.0)))["water on the painting"]
    assert found.level is Level.WATCH
    assert found.by is not None and found.look_for


def test_the_canvas_back_counts_where_it_is_known():
    room = climate_of(np.full(400, 20.0), 50.0)
    back = climate_of(np.full(400, 9.0), 100.0)
    found = findings(exposure_of(room, **{CANVAS_BACK: back}))["water on the painting"]
    assert (found.level, found.point, found.hours) == (Level.URGENT, CANVAS_BACK, 100.0)


def test_how_long_wet_is_urgent_is_told_of_the_painting_and_of_the_wall():
    room, wall = climate_of(np.full(400, 20.0), 50.0), climate_of(np.full(400, 10.0), 95.0)
    found = findings(exposure_of(room, **{WALL_FACE: wall}))
    painting, behind = (found[f"water on the {of}"].working for of in ("painting", "wall behind"))
    told = [next(text for what, text in of if "urgent from h wet" in f"{what} {text}") for of in (painting, behind)]
    assert "urgent from h wet 1 " in told[0] and "urgent from h wet 12 " in told[1]


@pytest.mark.parametrize(("rh_percent", "level"), [(60.0, Level.CLEAR), (95.0, Level.WATCH), (100.0, Level.URGENT)])
def test_the_wall_behind_by_its_distance_from_the_dew_point(rh_percent, level):
    room, wall = climate_of(np.full(400, 20.0), 50.0), climate_of(np.full(400, 10.0), rh_percent)
    found = findings(exposure_of(room, **{WALL_FACE: wall}))["water on the wall behind"]
    assert found.level is level and bool(found.caution) == (level >= Level.ACT)


@pytest.mark.parametrize(("quarters", "level"), [(47, Level.ACT), (48, Level.URGENT)])
def test_a_wall_wet_for_twelve_hours_is_urgent(quarters, level):
    rh = np.full(400, 50.0)
    rh[100 : 100 + quarters] = 100.0
    wall = climate_of(np.full(400, 10.0), rh)
    found = findings(exposure_of(climate_of(np.full(400, 20.0), 50.0), **{WALL_FACE: wall}))["water on the wall behind"]
    assert (found.level, found.hours) == (level, quarters / 4)
    assert "socket" in found.caution


def test_an_outer_wall_of_unknown_temperature_is_not_known():
    room = climate_of(np.full(400, 20.0), 50.0)
    stints = (Stint(START, room.end, "house", "House", "outer wall"),)
    assert findings(exposure_of(room, stints))["water on the wall behind"].level is Level.UNKNOWN


def test_bloom_is_watched_only_while_the_varnish_is_fresh():
    damp = exposure_of(climate_of(np.full(672, 20.0), 78.0))
    fresh = Painting("p", "x", layers=(Layer("varnish", "natural_resin_varnish", applied_on=START),))
    old = Painting(
        "p", "x", layers=(Layer("varnish", "natural_resin_varnish", applied_on=START - pd.Timedelta("91D")),)
    )
    bloom = findings(damp, fresh)["bloom on fresh varnish"]
    assert bloom.level is Level.WATCH
    assert any(line.count(", ") >= 23 for _, line in bloom.working)  # the 24 hours that its mean was made of
    assert "bloom on fresh varnish" not in findings(damp, old)
    assert (
        findings(exposure_of(climate_of(np.full(672, 20.0), 50.0)), fresh)["bloom on fresh varnish"].level
        is Level.CLEAR
    )


def test_an_intended_stay_raises_no_alarm():
    room = climate_of(np.full(400, 20.0), 99.0)
    stints = (Stint(START, room.end, "chamber", "Humidity chamber", "chamber", intended=True),)
    assert findings(exposure_of(room, stints))["water on the painting"].level is Level.CLEAR
    wall = findings(exposure_of(room, stints, **{WALL_FACE: room}))["water on the wall behind"]
    assert wall.level is Level.CLEAR and "intended" in wall.sentence


def test_a_wall_that_was_not_read_is_not_known():
    room = climate_of(np.full(400, 20.0), 50.0)
    unread = climate_of(np.full(400, 20.0), np.nan)
    wall = findings(exposure_of(room, **{WALL_FACE: unread}))["water on the wall behind"]
    assert wall.level is Level.UNKNOWN and "0% of the period: water on the wall is not known" in wall.sentence


def test_temperature_alone_decides_nothing_here():
    room = climate_of(np.full(400, 20.0), np.nan)
    found = findings(exposure_of(room))["water on the painting"]
    assert found.level is Level.UNKNOWN and "not known" in found.sentence


def test_a_half_read_week_is_not_clear_but_water_stays_water():
    room = climate_of(np.full(300, 20.0), 50.0)
    half = Climate.of(room.time, room.temp_c, room.rh_percent, start=START, end=START + pd.Timedelta(days=7))
    assert findings(exposure_of(half))["water on the painting"].level is Level.UNKNOWN
    wet = Climate.of(room.time, room.temp_c, np.full(300, 100.0), start=START, end=START + pd.Timedelta(days=7))
    assert findings(exposure_of(wet))["water on the painting"].level is Level.URGENT


def test_a_margin_within_the_sensors_doubt_cannot_be_told():
    poor = climate_of(np.full(400, 15.0), 87.0, sensor=Sensor(rh_bias_percent=5))
    good = climate_of(np.full(400, 15.0), 60.0, sensor=Sensor(rh_bias_percent=1))
    assert findings(exposure_of(poor))["water on the painting"].certainty is Certainty.CANNOT_TELL
    assert findings(exposure_of(good))["water on the painting"].certainty is Certainty.CERTAIN


def test_a_cold_arrival_is_told_how_long_it_should_have_stayed_wrapped():
    exposure, _ = cold_arrival()
    sentence = findings(exposure)["water on the painting"].sentence
    # crate of 8 h (our judgement), 2 K over the dew point of 9.27 °C: 8 ln(17 / (20 - 11.27)) = 5.3 h
    assert 8 * np.log(17 / (20 - 9.2724 - 2)) == pytest.approx(5.33, abs=0.01)
    assert "safe to open after about 6 h (our judgement)" in sentence
    assert (
        "safe to open"
        not in findings(exposure_of(climate_of(20.0, np.full(400, 90.0))))["water on the painting"].sentence
    )
