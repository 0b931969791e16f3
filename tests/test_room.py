"""The moisture balance of a room: closed forms, conservation, and what must hold whatever the room.

Closed-form values are worked by hand from the exact solution of the linear equation, beside each.
"""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch import air
from envwatch.cases.dehumidifier import machine
from envwatch.core.errors import BadInput
from envwatch.figures import dehumidifier as fig
from envwatch.physics import room
from envwatch.physics.room.regressors import Hours

PER_MILLE = 1e-3  # the hand-worked figures have four digits


def drive(hours: int, temp_c=20.0, outside_pa=1000.0, step_h=1.0, **more) -> room.Forcing:
    steps = round(hours / step_h)
    time = pd.date_range("2026-01-01", periods=steps, freq=pd.Timedelta(hours=step_h), tz="UTC")
    full = np.ones(steps)
    return room.Forcing(time, step_h, temp_c * full, outside_pa * full, np.ones(steps, bool), **more)


def pa_for(content_g_m3: float, temp_c: float = 20.0) -> float:
    return content_g_m3 / float(room.content(1.0, temp_c))


def vapour(run: room.Simulation, temp_c: float = 20.0) -> np.ndarray:
    return run.rh_percent[:, 0] * float(room.per_percent(temp_c))


def at_end_of_hour(hours, n, source, buffer_g=0.0, drawn=0.0, volume=50.0, start=7.0, come=7.0):
    """Content after some hours by the closed form, through the public step."""
    s1 = float(room.per_percent(20.0))
    kept, raised = room.step_factors(n * volume, s1, volume * s1 + buffer_g, hours)
    return float((kept * start / s1 + (n * volume * come + source - drawn) * raised) * s1)


@pytest.mark.parametrize(("hours", "expected"), [(1, 8.5739), (2, 9.5285), (4, 10.4587), (8, 10.9267)])
def test_an_empty_room_follows_the_closed_form(hours, expected):
    # v = v_inf + (v0 - v_inf) exp(-n t), v_inf = 7 + 100 / (0.5 x 50) = 11
    assert at_end_of_hour(hours, 0.5, 100.0) == pytest.approx(expected, rel=PER_MILLE)


def test_a_buffered_room_follows_the_closed_form():
    # beta = 1 + 100 / (50 x 0.17286) = 12.57; v(24 h) = 11 - 4 exp(-0.5 x 24 / 12.57)
    assert float(room.buffering(50, 100, 20)) == pytest.approx(12.570, rel=PER_MILLE)
    assert at_end_of_hour(24, 0.5, 100.0, buffer_g=100.0) == pytest.approx(9.4603, rel=PER_MILLE)


def test_drawing_water_off_lowers_what_a_room_settles_at_by_drawn_over_exchange():
    # 7 + (100 - 80) / 25 = 7.8
    assert at_end_of_hour(1e4, 0.5, 100.0, drawn=80.0) == pytest.approx(7.8, rel=1e-9)


def test_one_long_step_is_many_short_ones():
    s1, capacity = 0.1729, 50 * 0.1729 + 100
    kept, raised = room.step_factors(25.0, s1, capacity, 24.0)
    rh = 40.0
    for _ in range(24):
        k, r = room.step_factors(25.0, s1, capacity, 1.0)
        rh = k * rh + 250.0 * r
    assert rh == pytest.approx(kept * 40.0 + 250.0 * raised, rel=1e-12)


def test_a_long_step_of_an_airy_room_does_not_overshoot():
    # the explicit step would multiply the difference by 1 - 3 = -2; the exact one by exp(-3)
    kept, _ = room.step_factors(50.0, 0.1729, 50 * 0.1729, 3.0)
    assert float(kept) == pytest.approx(0.04979, rel=PER_MILLE)


def test_a_room_without_exchange_gains_what_is_given_off():
    kept, raised = room.step_factors(0.0, 0.1729, 100.0, 10.0)
    assert float(kept) == pytest.approx(1.0, abs=1e-11)
    assert float(raised) * 50 == pytest.approx(50 * 10 / 100, rel=1e-9)


def test_the_simulated_room_is_the_closed_form_hour_by_hour():
    start = 7.0 / float(room.per_percent(20.0))
    run = room.simulate(drive(8, outside_pa=pa_for(7.0)), room.Rooms(50.0, 0.5, 0.0, 100.0, start))
    assert vapour(run)[[0, 1, 3, 7]] == pytest.approx([8.5739, 9.5285, 10.4587, 10.9267], rel=PER_MILLE)


CONDENSING = room.Drying(400.0, np.array(fig.CAPACITY_CURVE), 1.6, np.array(fig.EFFICIENCY_CURVE), 50.0)


def restless(hours=400, step_h=0.25) -> room.Forcing:
    """Invented weather with changing temperatures, some of them near the dew point."""
    steps = round(hours / step_h)
    random = np.random.default_rng(5)
    day = np.arange(steps) * step_h / 24
    temp_c = 14 + 4 * np.sin(day * 0.9) + np.sin(day * 2 * np.pi)
    outside_pa = 1100 + 400 * np.sin(day * 0.7 + 1) + 60 * random.standard_normal(steps)
    time = pd.date_range("2026-01-01", periods=steps, freq=pd.Timedelta(hours=step_h), tz="UTC")
    return room.Forcing(
        time, step_h, temp_c, outside_pa, np.ones(steps, bool), outside_c=temp_c - 4, surface_c=temp_c - 6,
    )  # fmt: skip


@pytest.mark.parametrize("drying", [None, CONDENSING])
@pytest.mark.parametrize("airing", [None, room.Airing(2.0, 55.0)])
@pytest.mark.parametrize("heating", [None, room.Heating(60.0, 5.0)])
def test_all_water_is_accounted_for(drying, airing, heating):
    rooms = room.Rooms(140.0, np.array([0.12, 0.9, 3.0]), np.array([1100.0, 0.0, 50.0]), 60.0, 75.0, 100.0)
    run = room.simulate(restless(), rooms, drying, heating, airing, ledger=True)
    book = run.ledger
    change = book["after"] - book["before"]
    flows = book["in"] - book["out"] + book["given"] - book["drawn"] - book["condensed"]
    assert np.abs(flows - change) == pytest.approx(np.zeros(3), abs=1e-9 * float(np.max(book["in"])))
    assert book["condensed"].max() > 0  # the case has condensation in it


def test_water_condenses_on_the_cold_surface_and_not_before_it_is_saturated():
    cold = drive(200, outside_pa=pa_for(15.0), surface_c=np.full(200, 12.0))
    run = room.simulate(cold, room.Rooms(50.0, 0.5, 0.0, 0.0, 40.0))
    limit = 100 * float(air.saturation_pressure(12.0) / air.saturation_pressure(20.0))
    assert run.rh_percent.max() == pytest.approx(limit, rel=1e-5)
    assert run.condensed_g[0] > 0
    dry = room.simulate(drive(200, outside_pa=pa_for(8.0), surface_c=np.full(200, 12.0)), room.Rooms(50, 0.5, 0, 0, 40))
    assert dry.condensed_g[0] == 0


def test_much_air_brings_the_room_to_the_vapour_outdoors():
    run = room.simulate(drive(48, outside_pa=1200.0), room.Rooms(50.0, 1e5, 20.0, 30.0, 80.0))
    assert run.rh_percent[-1, 0] == pytest.approx(100 * 1200 / float(air.saturation_pressure(20.0)), rel=1e-3)


def test_the_buffer_changes_no_long_mean_at_steady_temperature():
    steps = 24 * 400
    time = pd.date_range("2026-01-01", periods=steps, freq="h", tz="UTC")
    pa = 1100 + 300 * np.sin(np.arange(steps) * 2 * np.pi / 240)
    weather = room.Forcing(time, 1.0, np.full(steps, 18.0), pa, np.ones(steps, bool))
    run = room.simulate(weather, room.Rooms(60.0, 0.5, np.array([0.0, 50.0, 400.0]), 20.0, 60.0))
    means = run.rh_percent[-240 * 20 :].mean(axis=0)
    assert means == pytest.approx(np.full(3, means[0]), abs=0.05)


def test_a_machine_of_no_capacity_is_the_room_without_one_bit_for_bit():
    rooms = room.Rooms(140.0, np.array([0.12, 0.5]), 300.0, 20.0, 70.0)
    none = room.Drying(0.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 50.0)
    plain, idle = room.simulate(restless(), rooms), room.simulate(restless(), rooms, none)
    np.testing.assert_array_equal(plain.rh_percent, idle.rh_percent)
    assert idle.kwh.max() == 0


@settings(max_examples=25, deadline=None)
@given(
    volume=st.floats(20, 400), changes=st.floats(0.02, 3), buffer_g=st.floats(0, 2000), source=st.floats(0, 300),
    sizes=st.tuples(st.floats(0, 3000), st.floats(0, 3000)),
)  # fmt: skip
def test_more_capacity_never_gives_a_damper_hour(volume, changes, buffer_g, source, sizes):
    small, big = sorted(sizes)
    drying = room.Drying(np.array([small, big]), CONDENSING.capacity, 1.6, CONDENSING.efficiency, 50.0)
    run = room.simulate(restless(120), room.Rooms(volume, changes, buffer_g, source, 75.0), drying)
    assert (run.rh_percent[:, 1] <= run.rh_percent[:, 0] + 1e-4).all()  # single precision of the record


def test_a_machine_draws_what_its_curve_says_at_the_humidity_it_leaves_behind():
    # a big machine in a small bare room: within one step the humidity falls far
    weather = drive(1, outside_pa=2000.0)
    big = room.Drying(260.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 20.0)
    run = room.simulate(weather, room.Rooms(40.0, 0.5, 0.0, 0.0, 85.0), big)
    left = float(run.rh_percent[0, 0])
    assert left < 70
    share = float(room.curve_share(CONDENSING.capacity, 20.0, left))
    # one step of Newton's on a curved line: 5 % too much where humidity falls this far within a step
    assert 1000 * run.litres[0] == pytest.approx(260.0 * share, rel=0.06)


def test_a_machine_draws_less_than_its_label_in_air_that_is_drier_than_its_rating_point():
    small = room.Drying(10.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 20.0)
    run = room.simulate(drive(1, outside_pa=1000.0), room.Rooms(400.0, 0.0, 5000.0, 0.0, 45.0), small)
    share = float(room.curve_share(CONDENSING.capacity, 20.0, 45.0))
    assert share < 0.6 and 1000 * run.litres[0] == pytest.approx(10.0 * share, rel=0.01)


def test_a_machines_current_follows_its_curve_in_warmth_and_humidity_together():
    # worked by hand: 100 g in an hour all out, 2 L/kWh x (0.1 + 0.0005 x 20 °C x RH), at the humidity it leaves behind
    level, product = np.array([1.0, 0, 0, 0, 0, 0]), np.array([0.1, 0, 0, 0, 0, 0.0005])
    steady = room.Drying(100.0, level, 2.0, product, 40.0)
    run = room.simulate(drive(1, outside_pa=2000.0), room.Rooms(40.0, 0.0, 500.0, 0.0, 80.0), steady)
    rh = float(run.rh_percent[0, 0])
    assert run.litres[0] == pytest.approx(0.1)
    assert run.kwh[0] == pytest.approx(0.1 / (2 * (0.1 + 0.0005 * 20 * rh)), rel=PER_MILLE)


def test_a_machine_that_runs_for_part_of_the_hour_takes_more_current_for_its_water():
    # Winkler 2011, as the figure says: 0.9 + 0.1 x share of the hour; 10 of 100 g/h are left to draw
    level = np.array([1.0, 0, 0, 0, 0, 0])
    for rated_g_h, share in ((10.0, 1.0), (100.0, 0.1)):
        dryer = room.Drying(rated_g_h, level, 2.0, level, 40.0, tank_l=0.01)
        run = room.simulate(drive(1, outside_pa=2000.0), room.Rooms(400.0, 0.0, 5000.0, 0.0, 80.0), dryer)
        assert run.litres[0] == pytest.approx(0.01)
        assert run.kwh[0] == pytest.approx(0.01 / (2 * (0.9 + 0.1 * share)), rel=PER_MILLE)


def test_a_stretch_of_a_log_begins_once_where_another_begins_too():
    hours = Hours(np.full(9, 20.0), np.full(9, 50.0), np.full(9, 1000.0), np.array([0, 3, 5]))
    assert hours.part(3, 9).begins.tolist() == [0, 2]
    assert hours.part(3, 5).begins.tolist() == [0]


def test_a_full_tank_stops_the_machine_until_the_next_visit():
    hours = 96
    visits = np.zeros(hours, bool)
    visits[48] = True
    weather = drive(hours, outside_pa=1800.0, visits=visits)
    rooms = room.Rooms(60.0, 0.5, 50.0, 30.0, 80.0)
    tank = room.Drying(500.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 50.0, tank_l=np.array([2.0, np.inf]))
    run = room.simulate(weather, rooms, tank)
    assert run.litres[0] == pytest.approx(4.0, abs=1e-9)  # one tank before the visit, one after it
    assert run.visits[0] == 1
    assert run.full_h[0] > 24
    assert run.litres[1] > 5


def test_a_machine_hired_for_a_time_works_in_that_time_only():
    hire = room.Drying(500.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 50.0, from_step=100, to_step=200)
    rooms = room.Rooms(60.0, 0.1, 50.0, 30.0, 80.0)
    plain, hired = (
        room.simulate(drive(300, outside_pa=1800.0), rooms),
        room.simulate(drive(300, outside_pa=1800.0), rooms, hire),
    )
    np.testing.assert_array_equal(plain.rh_percent[:100], hired.rh_percent[:100])
    assert (hired.rh_percent[101:200] < plain.rh_percent[101:200]).all()


def test_a_condensing_machine_stands_still_in_the_cold():
    cold = room.Drying(500.0, CONDENSING.capacity, 1.6, CONDENSING.efficiency, 50.0, off_below_c=5.0)
    run = room.simulate(drive(50, temp_c=4.0, outside_pa=780.0), room.Rooms(60.0, 0.1, 50.0, 0.0, 90.0), cold)
    assert run.litres[0] == 0


def test_the_heat_a_machine_gives_off_is_its_current_and_the_waters_latent_heat():
    # per litre at 20 °C and 1.6 L/kWh: 1/1.6 + 0.6818 = 1.307 kWh
    assert 1 / 1.6 + float(room.latent_kwh_per_kg(20.0)) == pytest.approx(1.307, rel=PER_MILLE)
    loss, volume, n = 80.0, 60.0, 0.5
    flat = room.Drying(415.0, np.array([1.0, 0, 0, 0, 0, 0]), 1.6, np.array([1.0, 0, 0, 0, 0, 0]), 10.0)
    rooms = room.Rooms(volume, n, 500.0, 415.0, 60.0, loss)
    run = room.simulate(drive(240, outside_pa=1400.0), rooms, flat)
    at_full_load = run.warmer_k[-1, 0]
    watts = 415.0 * (1 / 1.6 + float(room.latent_kwh_per_kg(20.0 + at_full_load)))
    assert at_full_load == pytest.approx(watts / (loss + 0.335 * n * volume), rel=0.01)


def test_heating_a_damp_room_needs_the_rise_that_the_vapour_asks():
    # 10 °C and 85 % to 60 %: the same vapour is 60 % at 15.309 °C, 5.309 K warmer (steam tables, by interpolation)
    vapour_pa = float(air.vapour_pressure(10.0, 85.0))
    heating = room.Heating(60.0, 20.0)
    run = room.simulate(drive(2000, 10.0, vapour_pa), room.Rooms(120.0, 0.5, 0.0, 0.0, 85.0, 100.0), None, heating)
    assert run.rh_percent[-200:].mean() == pytest.approx(60.0, abs=0.5)
    assert run.warmer_k[-200:].mean() == pytest.approx(5.309, abs=0.1)
    # 120.1 W/K x 5.309 K = 637.6 W
    assert 1000 * run.kwh[0] / 2000 == pytest.approx(637.6, rel=0.03)


def test_heating_set_over_the_rooms_humidity_never_runs():
    run = room.simulate(
        drive(48, 10.0, pa_for(6.0, 10.0)),
        room.Rooms(120.0, 0.5, 0.0, 0.0, 60.0, 100.0),
        None,
        room.Heating(90.0, 20.0),
    )
    assert (run.running_h[0], run.kwh[0], run.warmer_k.max()) == (0, 0, 0)


def test_airing_dries_only_while_outdoors_is_drier():
    rooms = room.Rooms(100.0, 0.2, 300.0, 50.0, 70.0)
    dry = drive(200, outside_pa=900.0, outside_c=np.full(200, 14.0))
    wet = drive(200, outside_pa=2250.0, outside_c=np.full(200, 14.0))
    aired, shut = room.simulate(dry, rooms, airing=room.Airing(2.0, 55.0)), room.simulate(dry, rooms)
    assert aired.rh_percent[20, 0] < shut.rh_percent[20, 0] - 3
    np.testing.assert_array_equal(
        room.simulate(wet, rooms, airing=room.Airing(2.0, 55.0)).rh_percent, room.simulate(wet, rooms).rh_percent
    )


def test_tightening_a_room_with_a_source_of_its_own_makes_it_damper():
    run = room.simulate(drive(4000, outside_pa=900.0), room.Rooms(100.0, np.array([0.3, 0.1]), 100.0, 20.0, 55.0))
    assert run.rh_percent[-1, 1] > run.rh_percent[-1, 0] + 2


def test_hours_in_a_gap_are_not_known():
    weather = drive(48)
    known = np.ones(48, bool)
    known[10:20] = False
    gappy = room.Forcing(weather.time, 1.0, weather.temp_c, weather.outside_pa, known)
    run = room.simulate(gappy, room.Rooms(50.0, 0.5, 10.0, 20.0, 60.0))
    assert np.isnan(run.rh_percent[10:20]).all()
    assert np.isfinite(run.rh_percent[20:]).all()


def test_a_drive_with_holes_is_refused():
    weather = drive(24)
    temp_c = weather.temp_c.copy()
    temp_c[3] = np.nan
    with pytest.raises(ValueError, match="missing values"):
        room.simulate(
            room.Forcing(weather.time, 1.0, temp_c, weather.outside_pa, weather.known), room.Rooms(50, 0.5, 0, 0, 60)
        )


def test_worked_sizing_of_a_studio():
    # 75 m³/h x (12.175 - 9.508) g/m³ + 170 g/h = 370.1 g/h = 8.88 L/day
    load = float(room.load_g_h(75.0, air.vapour_pressure(17.0, 85.0), 20.0, 55.0, 170.0))
    assert load == pytest.approx(370.1, rel=PER_MILLE)
    assert 0.024 * load == pytest.approx(8.88, rel=PER_MILLE)


def drawn_room(seed: int):
    """A room, a year's month of weather and a machine, all drawn: wet, tight, small, hot and cold ones among them."""
    pick = np.random.default_rng(seed)
    hours = np.arange(24 * 30)
    temp_c = (
        pick.uniform(-5, 30) + pick.uniform(0, 8) * np.sin(hours / 24 * 2 * np.pi) + pick.normal(0, 0.5, len(hours))
    )
    vapour_pa = pick.uniform(0.3, 1.0) * air.saturation_pressure(temp_c - pick.uniform(0, 8))
    weather = room.Forcing(pd.date_range("2026-07-01", periods=len(hours), freq="h", tz="UTC"), 1.0, temp_c, vapour_pa,
                         np.ones(len(hours), bool))  # fmt: skip
    rooms = room.Rooms(10 ** pick.uniform(0, 3), 10 ** pick.uniform(-4, 1), 10 ** pick.uniform(-1, 4),
                       10 ** pick.uniform(0, 4), pick.uniform(20, 100), 10 ** pick.uniform(-1, 3))  # fmt: skip
    made = pick.choice([machine.condensing, machine.desiccant])
    label = machine.Capacity(machine.Litres(10 ** pick.uniform(0, 2.5)), machine.RatingPoint(27, 60))
    return weather, rooms, made(label)


@pytest.mark.parametrize("seed", range(150))
def test_whatever_the_room_and_its_machine_both_stay_physical(seed):
    weather, rooms, dryer = drawn_room(seed)
    run = room.simulate(weather, rooms, dryer.drying(45.0), ledger=True)
    book = {name: float(np.squeeze(value)) for name, value in run.ledger.items()}
    warmed = weather.temp_c + run.warmer_k[:, 0]
    assert np.isfinite(run.rh_percent).all() and run.rh_percent.min() >= 0 and run.rh_percent.max() <= 100
    assert run.warmer_k.min() >= -1e-6
    # its own heat brings a room no further than where it cuts out; a warmer hour is the weather's, cooling down in it
    for k in np.flatnonzero(warmed > dryer.off_above_c + 1e-3):
        assert run.warmer_k[k, 0] <= run.warmer_k[k - 1, 0] if k else weather.temp_c[0] > dryer.off_above_c
    flows = book["in"] - book["out"] + book["given"] - book["drawn"] - book["condensed"]
    assert flows == pytest.approx(book["after"] - book["before"], abs=1e-8 * (book["in"] + book["given"]))
    assert 0 <= run.litres[0] <= (book["in"] + book["given"] + book["before"]) / 1000 * (1 + 1e-9)
    assert run.kwh[0] >= 0 and run.running_h[0] <= len(weather.time)


def test_a_strong_machine_in_a_tight_wet_cupboard_warms_it_to_where_it_cuts_out_and_no_further():
    # 8 m³, 1 W/K through its walls, 800 g/h given off: at full load it would be some 1,000 K warmer
    dryer = machine.condensing(machine.Capacity(machine.Litres(40.0), machine.RatingPoint(27, 60)))
    run = room.simulate(drive(24 * 20), room.Rooms(8.0, 0.01, 20.0, 800.0, 99.0, 1.0), dryer.drying(50.0))
    assert run.warmer_k.max() == pytest.approx(dryer.off_above_c - 20.0, abs=0.01)
    # it holds that warmth with what the walls and the air carry off: (1 + 0.335 x 0.01 x 8) x 15 = 15.4 W
    steady = slice(24 * 10, None)
    assert run.rh_percent[steady].min() > 90  # and dries next to nothing
    whole = run.kwh[0] + run.litres[0] * float(room.latent_kwh_per_kg(27.5))
    lost = (1 + 0.335 * 0.01 * 8) * float(run.warmer_k.sum()) / 1000
    stored = (1 + 0.335 * 0.01 * 8) * float(fig.ROOM_WARMS_H) * 15 / 1000
    assert whole == pytest.approx(lost + stored, rel=0.05)


@pytest.mark.parametrize("temp_c", [85.0, -60.0])
def test_a_temperature_that_no_room_has_is_refused_in_one_line(temp_c):
    with pytest.raises(BadInput, match="°C; a room can be simulated from -40 to 60 °C"):
        room.simulate(drive(24, temp_c=temp_c), room.Rooms(10.0, 0.5, 1.0, 1.0, 50.0))
