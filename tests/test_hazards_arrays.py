"""Every array function of air, walls, climate and hazards: many records at once, missing readings, none, bad words."""

import inspect
import re
from decimal import Decimal

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from envwatch import air, climate
from envwatch.climate import ageing, control_classes, fluctuation, hours, response
from envwatch.hazards import condensation, dew_point_margin, mould
from envwatch.hazards.canvas import strain
from envwatch.hazards.lining import layer_tests, layers
from envwatch.hazards.mould import clock
from envwatch.hazards.mould import index as mould_model
from envwatch.physics import wall

RNG = np.random.default_rng(5)
N = 1500  # over 30 days of hours and the two half windows
TEMP = np.stack([18 + 3 * np.sin(np.arange(N) / 30), RNG.uniform(2, 30, N), np.full(N, 21.0)])
RH = np.stack([62 + 20 * np.sin(np.arange(N) / 55), RNG.uniform(30, 99, N), np.full(N, 85.0)])
CHANGED = {
    "lagged": lambda t, rh: climate.lagged(rh, 24.0),
    "lagged from a state": lambda t, rh: climate.lagged(rh, 6.0, start=50.0),
    "lagged range": lambda t, rh: climate.lagged_range(rh, 24.0),
    "bridged": lambda t, rh: climate.bridged(rh),
    "canvas humidity": lambda t, rh: climate.canvas_humidity(rh, 12.0),
    "canvas humidity range": lambda t, rh: (lambda held: (held.lowest, held.highest, held.doubt))(
        climate.canvas_humidity_range(rh, 12.0)
    ),
    "running mean": lambda t, rh: climate.running_mean(rh, 168),
    "running range": lambda t, rh: climate.running_range(rh, 24),
    "running extremes": lambda t, rh: climate.running_extremes(rh, 24),
    "seasonal cycle": lambda t, rh: climate.seasonal_cycle(rh),
    "seasonal so far": lambda t, rh: climate.seasonal_so_far(rh),
    "change in 24 h": lambda t, rh: (lambda c: (c.from_mean, c.spread, c.from_day_before))(climate.change_24h(rh)),
    "change within a week": lambda t, rh: climate.change_within_week(rh),
    "30-day mean": mould.month_mean,
    "mould index": lambda t, rh: mould.mould_index(t, rh, 1.0, "very sensitive"),
    # one number a record
    "hours outside": lambda t, rh: climate.hours_outside(rh, 40, 60),
    "hours over": lambda t, rh: clock.hours_over(rh, 1.0),
    "equivalent hours": lambda t, rh: layers.equivalent_hours(t, 1.0, 100),
    "mean relative life": lambda t, rh: ageing.mean_relative_life(t, rh, 1.0),
    # element by element
    "dew point": air.dew_point,
    "vapour density": air.absolute_humidity,
    "surface humidity": lambda t, rh: air.rh_at(t, rh, t - 3),
    "critical humidity": lambda t, rh: mould.critical_rh(t, "medium resistant"),
    "weeks to start": mould.weeks_to_start,
    "highest index": lambda t, rh: mould.highest_index(t, rh, "resistant"),
    "strain": lambda t, rh: strain.yield_share(rh, 50.0, "size", t - 20),
    "canvas shrinkage": lambda t, rh: strain.canvas_shrinkage(rh),
    "driest without yield": lambda t, rh: strain.driest_without_yield(rh),
    "proof excess": lambda t, rh: strain.proof_excess(rh, 40, 60),
    "wood moisture": strain.wood_moisture,
    "stretcher bar": lambda t, rh: strain.bar_change_mm(rh, 50.0),
    "glue water": lambda t, rh: layers.glue_water(rh, t),
    "glue softens": lambda t, rh: layers.glue_tg(rh, t),
    "glue softening humidity": lambda t, rh: layers.glue_softening_rh(t),
    "relative life": ageing.relative_life,
    "wet hours": lambda t, rh: condensation.wet_hours(t - 15, t, air.dew_point(t, rh), 1.0, 0.3),
    "waiting time": lambda t, rh: condensation.waiting_time_h(t - 15, t, rh),
    "wall face": lambda t, rh: wall.wall_face_temp(t, 2.0),
    "behind a picture": lambda t, rh: tuple(x for face in wall.behind_picture(t, rh, 2.0) for x in face),
}
OF_TIME = list(CHANGED)[:16]
ELEMENTWISE = list(CHANGED)[20:]


def parts(result) -> tuple[np.ndarray, ...]:
    return result if isinstance(result, tuple) else (result,)


@pytest.mark.parametrize("name", CHANGED)
def test_several_records_at_once_are_each_record_by_itself(name):
    together = parts(CHANGED[name](TEMP, RH))
    deeper = parts(CHANGED[name](TEMP[:, None], RH[:, None]))
    for row in range(len(RH)):
        for whole, deep, alone in zip(together, deeper, parts(CHANGED[name](TEMP[row], RH[row])), strict=True):
            assert_array_equal(np.asarray(whole)[row], alone)
            assert_array_equal(np.asarray(deep)[row, 0], alone)


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_a_missing_reading_is_missing_in_its_own_place_and_nowhere_else(name):
    temp, rh = TEMP[0].copy(), RH[0].copy()
    temp[7] = rh[7] = np.nan
    for got, whole in zip(parts(CHANGED[name](temp, rh)), parts(CHANGED[name](TEMP[0], RH[0])), strict=True):
        assert np.isnan(np.asarray(got)[7])
        assert_array_equal(np.delete(got, 7), np.delete(whole, 7))


@pytest.mark.parametrize("name", ELEMENTWISE)
def test_plain_numbers_give_one_number_of_the_same_value(name):
    whole = parts(CHANGED[name](TEMP[1], RH[1]))
    for got, array in zip(parts(CHANGED[name](TEMP[1][3], RH[1][3])), whole, strict=True):
        assert np.ndim(got) == 0
        assert_allclose(got, array[3])


@pytest.mark.parametrize("name", [n for n in CHANGED if n not in ("30-day mean",)])
def test_no_readings_give_no_results_and_no_warning(name):
    for got in parts(CHANGED[name](np.empty(0), np.empty(0))):
        assert np.size(got) in (0, 1, 4)  # none a reading; one a record, or one for each of four limits
        if np.size(got):
            assert name in ("hours outside", "hours over", "equivalent hours", "mean relative life")


@pytest.mark.parametrize("name", [n for n in OF_TIME if n != "mould index"])
def test_a_record_of_which_nothing_was_read_gives_nothing(name):
    for got in parts(CHANGED[name](np.full(800, np.nan), np.full(800, np.nan))):
        assert not np.asarray(got, float)[np.isfinite(np.asarray(got, float))].any()


@pytest.mark.parametrize(
    "call, choices",
    [
        (lambda: mould.critical_rh(20.0, "vs"), "very sensitive, sensitive, medium resistant, resistant"),
        (lambda: mould.highest_index(20.0, 90.0, None), "very sensitive"),
        (lambda: mould.mould_index([], [], [], "high"), "very sensitive"),
        (lambda: mould.mould_index([20.0], [90.0], 1.0, decline="slow"), "as pine, significant"),
        (lambda: mould.mould_index([20.0], [90.0], 1.0, decline=None), "0 .none. to 1"),
        (lambda: mould.mould_index([20.0], [90.0], [np.inf]), "an end"),
        (lambda: strain.free_strain(50.0, "paint"), "size, lean ground, lead paint, earth paint"),
        (lambda: strain.driest_without_yield(50.0, "glue"), "size"),
        (lambda: climate.running_mean([1.0], 0), "1 or more"),
        (lambda: climate.seasonal_cycle([1.0], 3), "even"),
        (lambda: climate.lagged([1.0], 0.0), "more than 0"),
        (lambda: wall.gap_resistance([-1.0]), "0 or more"),
        (lambda: wall.behind_picture(20.0, 50.0, 0.0, u_value=0.0), "U-value"),
    ],
)
def test_a_word_or_number_that_cannot_be_names_what_can(call, choices):
    with pytest.raises(ValueError, match=choices):
        call()


def test_humidity_at_the_edges_is_taken_as_what_it_can_be():
    at = np.array([-0.1, 0.0, 100.0, 103.0, 105.0, 105.1])
    dew = air.dew_point(20.0, at)
    assert np.isnan(dew[[0, 1, 5]]).all()
    assert_allclose(dew[2:5], 20.0, atol=1e-6)
    assert np.isnan(mould.weeks_to_start(20.0, at)[[0, 5]]).all()
    assert mould.weeks_to_start(20.0, 0.0) == np.inf
    assert_array_equal(np.isnan(mould.highest_index(20.0, at)), [True, False, False, False, False, True])


def test_irregular_steps_of_mould_follow_the_hours_each_reading_stands_for():
    hours = np.array([[1.0, 5.0, 0.25, 17.75], [24.0, 0.0, 0.0, 0.0]])
    index = mould.mould_index(20.0, 92.0 * np.ones((2, 4)), hours)
    assert_allclose(index[0, -1], index[1, -1], rtol=1e-12)
    assert_array_equal(index[1], index[1, 0])  # a step of no length changes nothing


@pytest.mark.parametrize("kind", ["very sensitive", "sensitive", "medium resistant", "resistant"])
def test_growth_begins_at_the_critical_humidity_as_it_is_written_down(kind):
    # 80.04 at 20 °C and 80.03875 at 15 °C: the published cubic by hand; as typed, and not a rounding error beside it
    for temp_c, typed in ((20.0, 80.04), (15.0, 80.03875), (7.0, 85.01419)):
        rh = max(typed, float(mould.sensitivity_class(kind).least_rh))
        assert mould.critical_rh(temp_c, kind) == rh
        top = float(mould.sensitivity_class(kind).highest_a)
        assert mould.highest_index(temp_c, rh, kind) == top
        grown = mould.mould_index(temp_c, rh, 1e5, kind)
        assert (grown > 0) is np.bool_(top > 0)
        assert mould.mould_index(temp_c, rh - 1e-6, 1e5, kind) == 0


def test_the_critical_humidity_is_the_one_that_decimal_arithmetic_gives():
    for tenths in range(1, 201):
        t = Decimal(tenths) / 10
        exact = Decimal("-0.00267") * t**3 + Decimal("0.160") * t**2 - Decimal("3.13") * t + 100
        assert mould.critical_rh(float(t)) == max(float(exact), 80.0)


def test_cold_and_heat_stop_growth_and_only_heat_lets_it_decline():
    for temp_c, declines in ((0.0, False), (-5.0, False), (50.0, True), (50.1, True)):
        after = float(mould.mould_index(temp_c, 100.0 if temp_c <= 0 else 60.0, 100.0, start=2.0))
        assert (after < 2.0) is declines
    assert mould.mould_index(50.0, 97.0, 500.0, start=0.5) > 0.5 > mould.mould_index(50.1, 97.0, 500.0, start=0.5)


def test_a_table_of_pandas_columns_goes_in_as_it_is():
    table = pd.DataFrame({"t": [20, 20, 21], "rh": [90, 91, 92]})
    assert mould.mould_index(table["t"], table["rh"], 24).shape == (3,)
    assert climate.lagged(table["rh"], 6).shape == (3,)
    assert air.dew_point(table["t"], table["rh"]).shape == (3,)


def test_each_array_function_tells_shape_missing_data_source_and_an_example():
    modules = [air, wall, condensation, clock, layers, strain, mould, ageing]
    modules += [response, control_classes, hours, fluctuation, dew_point_margin, mould_model, layer_tests]
    silent = []
    for module in modules:
        for name, function in vars(module).items():
            function = inspect.unwrap(function) if callable(function) else function
            if name.startswith("_") or not inspect.isfunction(function) or function.__module__ != module.__name__:
                continue
            gives = str(function.__annotations__.get("return", ""))
            if not re.search(r"\b(Array|Mask|Whole)\b", gives):
                continue
            told = function.__doc__ or ""
            asked = {"an example": ">>>", "a source": "ource", "missing data": "NaN"}
            silent += [f"{module.__name__}.{name}: {what}" for what, sign in asked.items() if sign not in told]
    assert not silent
