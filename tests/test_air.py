"""Moist air against printed tables, a real-gas library, and a plain loop over PsychroLib."""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from envwatch import air

ATMOSPHERE_PA = 101_325.0
PRINTED = 3e-4  # relative; what PsychroLib claims against the table
PRINTED_RATIO = 5e-3  # relative; ideal gas against the table's real gas
REAL_GAS = 6e-3  # relative; enhancement factor and compressibility that the formulas leave out

temps = st.floats(-30, 50)
humidities = st.floats(1, 100)


@pytest.fixture(autouse=True)
def _si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("temp_c", "pressure_pa"), [(-20, 103.24), (-5, 401.74), (5, 872.6), (25, 3169.7), (50, 12351.3)]
)
def test_saturation_pressure_as_printed(temp_c, pressure_pa):
    # ASHRAE Handbook Fundamentals 2017, chapter 1, table 3
    assert float(air.saturation_pressure(temp_c)) == pytest.approx(pressure_pa, rel=PRINTED)


@pytest.mark.parametrize(("temp_c", "ratio"), [(-5, 0.0024863), (5, 0.005425), (25, 0.020173)])
def test_humidity_ratio_of_saturated_air_as_printed(temp_c, ratio):
    # ASHRAE Handbook Fundamentals 2017, chapter 1, table 2, at 101 325 Pa
    assert float(air.humidity_ratio(temp_c, 100.0)) == pytest.approx(ratio, rel=PRINTED_RATIO)


def test_standard_pressure_as_printed():
    # ASHRAE Handbook Fundamentals 2017, chapter 1, table 1: 500 m
    assert float(air.standard_pressure(500)) == pytest.approx(95_461, rel=1e-4)


@pytest.mark.parametrize(
    ("temp_c", "rh", "dew_c", "grams"),
    [(20, 50, 9.255, 8.643), (20, 65, 13.217, 11.236), (20, 80, 16.442, 13.829), (25, 60, 16.693, 13.819)],
)
def test_dew_point_and_vapour_density_agree_with_another_formula(temp_c, rh, dew_c, grams):
    # Magnus form with 17.62 and 243.12 °C (WMO guide to instruments, coefficients from memory); worked apart
    assert float(air.dew_point(temp_c, rh)) == pytest.approx(dew_c, abs=0.02)
    assert float(air.absolute_humidity(temp_c, rh)) == pytest.approx(grams, rel=1e-3)


@pytest.mark.parametrize("temp_c", [2, 10, 20, 30, 45])
def test_saturation_pressure_agrees_with_the_water_equation_of_state(temp_c):
    from CoolProp.CoolProp import PropsSI

    water = PropsSI("P", "T", temp_c + 273.15, "Q", 0, "Water")
    assert float(air.saturation_pressure(temp_c)) == pytest.approx(water, rel=PRINTED)


@pytest.mark.parametrize(("temp_c", "rh"), [(5, 85), (15, 70), (20, 20), (20, 50), (20, 80), (30, 60), (40, 30)])
def test_dew_point_and_humidity_ratio_agree_with_real_humid_air(temp_c, rh):
    state = ("T", temp_c + 273.15, "R", rh / 100, "P", ATMOSPHERE_PA)
    # the real dew point differs through the enhancement factor: about 0.01 K
    from CoolProp.HumidAirProp import HAPropsSI

    assert float(air.dew_point(temp_c, rh)) == pytest.approx(HAPropsSI("D", *state) - 273.15, abs=0.02)
    assert float(air.humidity_ratio(temp_c, rh)) == pytest.approx(HAPropsSI("W", *state), rel=REAL_GAS)


def test_dew_points_agree_with_a_loop_over_psychrolib():
    rng = np.random.default_rng(1)
    temp, rh = rng.uniform(-20, 45, 500), rng.uniform(3, 100, 500)
    loop = [psychrolib.GetTDewPointFromRelHum(t, h / 100) for t, h in zip(temp.tolist(), rh.tolist(), strict=True)]
    assert_allclose(air.dew_point(temp, rh), loop, atol=1e-3)


def test_dew_points_at_the_triple_point_follow_the_change_from_ice_to_water():
    temp, rh = np.full(200, 10.0), np.linspace(49.6, 50.0, 200)  # dew points from -0.1 to 0.1 °C
    loop = [psychrolib.GetTDewPointFromRelHum(10.0, h / 100) for h in rh.tolist()]
    assert min(loop) < 0 < max(loop)
    assert_allclose(air.dew_point(temp, rh), loop, atol=1e-4)  # PsychroLib's own search stops 5e-5 K off here


def test_below_freezing_it_is_the_frost_point():
    # own calculation over ice; over water it would be -1.44 and -7.92 °C
    assert_allclose(air.dew_point([0.0, -5.0], [90.0, 80.0]), [-1.273, -7.585], atol=0.01)


def test_surface_humidity_of_air_that_cools():
    # own calculation: 20 °C and 50 % against 14, 12 and 10 °C; 5 °C and 85 % heated to 20 °C
    assert_allclose(air.rh_at(20.0, 50.0, [14, 12, 10]), [73.15, 83.37, 95.23], atol=0.05)
    assert float(air.rh_at(5.0, 85.0, 20.0)) == pytest.approx(31.71, abs=0.05)


@given(temps, humidities)
def test_the_dew_point_is_never_over_the_temperature(temp_c, rh):
    assert air.dew_point(temp_c, rh) <= temp_c + 1e-6


@given(temps, humidities)
def test_air_cooled_to_its_dew_point_is_saturated(temp_c, rh):
    assert float(air.rh_at(temp_c, rh, air.dew_point(temp_c, rh))) == pytest.approx(100, rel=1e-6)


@given(temps, st.floats(1, 99), st.floats(0.01, 1))
def test_damper_air_has_a_higher_dew_point(temp_c, rh, more):
    assert air.dew_point(temp_c, rh + more) > air.dew_point(temp_c, rh)


@given(st.lists(st.tuples(temps, humidities), min_size=1, max_size=20))
def test_an_array_is_its_elements(pairs):
    temp, rh = np.transpose(pairs)
    assert_allclose(air.dew_point(temp, rh), [float(air.dew_point(t, h)) for t, h in pairs], rtol=1e-12)


def test_a_missing_reading_stays_missing_and_alone():
    found = air.dew_point([20.0, np.nan, 20.0, 20.0], [50.0, 50.0, np.nan, 60.0])
    assert np.isnan(found).tolist() == [False, True, True, False]


def test_a_little_over_100_is_saturated_and_the_impossible_is_missing():
    assert float(air.dew_point(20.0, 104.0)) == pytest.approx(20, abs=1e-6)
    assert np.isnan(air.dew_point(20.0, [106.0, -1.0, 0.0])).all()


def test_shapes_broadcast():
    assert air.dew_point(np.zeros((3, 1)), np.full(4, 50.0)).shape == (3, 4)


def test_temperatures_off_the_table_are_missing():
    assert np.isnan(air.saturation_pressure([-101.0, 201.0])).all()
