"""Figures worked out beside this code, from the equations alone: they show that the code does what its equations say.

All are our own calculations and prove nothing of the models. Each is worked out again here in another way than the code
does it (by hand, by small steps, by a closed form), so that neither the figure nor the code is believed by itself.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from envwatch import air, climate
from envwatch.hazards.lining.layers import damp_dwell, equivalent_hours
from envwatch.hazards.mould import critical_rh, mould_index


def iso_13788_pa(temp_c: float) -> float:
    """Saturation over water by another formula than the code's: ISO 13788, equation for 0 °C and over."""
    return 610.5 * math.exp(17.269 * temp_c / (237.3 + temp_c))


@pytest.mark.parametrize(
    "room, wall_c, at_wall, critical",
    [
        ((18, 60), 13, 82.68, 80.48),
        ((18, 60), 12, 88.29, 80.87),
        ((18, 55), 11, 86.48, 81.38),
        ((16, 65), 12, 84.27, 80.87),
    ],
)
def test_a_wall_grows_damp_enough_for_mould_while_the_room_shows_55_to_65_percent(room, wall_c, at_wall, critical):
    rh = float(air.rh_at(*room, wall_c))
    assert room[1] * iso_13788_pa(room[0]) / iso_13788_pa(wall_c) == pytest.approx(at_wall, abs=0.01)
    assert rh == pytest.approx(at_wall, rel=3e-4)  # the two formulas lie so far apart
    assert critical_rh(wall_c) == pytest.approx(critical, abs=0.01)
    assert rh > critical_rh(wall_c)


@pytest.mark.parametrize("step_h", [0.25, 1, 24])
def test_thirty_days_at_92_percent_whatever_the_step(step_h):
    count = int(720 / step_h)
    found = mould_index(np.full(count, 20.0), np.full(count, 92.0), step_h)[-1]
    assert found == pytest.approx(0.79949, abs=3e-5)
    # closed form below index 1: exp(2.3 (top - M)) - 1 dies away with 2.3 k1 t / (168 weeks)
    x = (92 - 80.04) / (100 - 80.04)
    top, weeks = 0.3 + 6 * x - x * x, math.exp(-0.68 * math.log(20) - 13.9 * math.log(92) + 66.02)
    left = math.expm1(2.3 * top) * math.exp(-2.3 * 0.578 * 720 / (168 * weeks))
    assert found == pytest.approx(top - math.log1p(left) / 2.3, rel=1e-9)


def test_how_the_dew_point_moves_with_temperature_and_humidity():
    by_temp = (air.dew_point(20.01, 50) - air.dew_point(19.99, 50)) / 0.02
    by_rh = (air.dew_point(20, 50.1) - air.dew_point(20, 49.9)) / 0.2
    assert (by_temp, by_rh) == (pytest.approx(0.919, abs=1e-3), pytest.approx(0.297, abs=1e-3))
    assert math.hypot(0.25 * by_temp, 1.5 * by_rh) == pytest.approx(0.50, abs=5e-3)


@pytest.mark.parametrize(
    "tau_h, gains",
    [(1, (0.967, 0.999, 1, 1)), (6, (0.537, 0.976, 0.999, 1)), (24, (0.157, 0.744, 0.979, 1)),
     (72, (0.053, 0.348, 0.847, 0.999)), (168, (0.023, 0.157, 0.564, 0.993)), (720, (0.005, 0.037, 0.157, 0.889))],
)  # fmt: skip
def test_the_lag_passes_a_slow_wave_and_damps_a_quick_one(tau_h, gains):
    for period_h, gain in zip((24, 168, 720, 8760), gains, strict=True):
        assert 1 / math.hypot(1, 2 * math.pi * tau_h / period_h) == pytest.approx(gain, abs=6e-4)
        step_h = period_h / 4000  # fine enough to be the continuous wave
        t = np.arange(0, max(6 * tau_h, 2 * period_h) + 2 * period_h, step_h)
        out = climate.lagged(np.sin(2 * np.pi * t / period_h), tau_h, step_h, start=0.0)
        assert out[-4000:].max() == pytest.approx(gain, abs=2e-3)


def test_a_step_of_20_percent_after_three_days():
    state = climate.lagged([30.0] * 72, 24, start=50)[-1]
    assert state == pytest.approx(30.996, abs=1e-3)
    assert state == pytest.approx(30 + 20 * math.exp(-3))


@pytest.mark.parametrize("tau_h, exact_h, counted_h, excess", [(6, 329.66, 330, 2593.3), (24, 310.65, 311, 2297.2)])
def test_two_weeks_of_78_percent_felt_through_the_lag(tau_h, exact_h, counted_h, excess):
    lagged = climate.lagged([78.0] * 336, tau_h, start=55)
    found = damp_dwell(lagged, 70)
    assert (found.hours, found.excess) == (counted_h, pytest.approx(excess, rel=1e-4))
    assert 336 - tau_h * math.log((78 - 55) / (78 - 70)) == pytest.approx(exact_h, abs=0.01)


@pytest.mark.parametrize("ea_kj, days, under_40", [(60, 16.7, 11.1), (100, 40.9, 23.7), (150, 135.35, 65.8)])
def test_five_hot_days_as_days_at_20_degrees(ea_kj, days, under_40):
    temp_c = 34 + 8 * np.sin(2 * np.pi * np.arange(120) / 24)
    assert equivalent_hours(temp_c, 1.0, ea_kj) / 24 == pytest.approx(days, abs=0.05)
    below = temp_c[temp_c < 40]
    assert len(temp_c) - len(below) == 25
    assert equivalent_hours(below, 1.0, ea_kj) / 24 == pytest.approx(under_40, abs=0.05)


def test_the_seasonal_wave_comes_through_by_the_sinc_of_its_window():
    assert_allclose(np.sinc(30 / 365), 0.98892, atol=1e-5)
    t = np.arange(3 * 8760)
    season = climate.seasonal_cycle(50 + 10 * np.sin(2 * np.pi * t / 8760) + 6 * np.sin(2 * np.pi * t / 24))
    assert np.nanmax(season) - 50 == pytest.approx(9.889, abs=1e-3)
