"""The lining hazard: worked cases (object and climate to level, layer and reason), and what must always hold.

Where a check rests on something outside, its source stands beside it. Limits of the materials file are our judgement
unless a case says otherwise, so most cases hold the code to our own table; they are no outside proof.
"""

import numpy as np
import pandas as pd
import pytest

from envwatch.hazards import lining
from envwatch.records import (
    PAINT_FACE,
    ROOM,
    Climate,
    Exposure,
    Layer,
    Level,
    Painting,
    Sensor,
)

END = pd.Timestamp("2026-03-02T00:00Z")  # a Monday
DAYS = 60
HOURS = 24 * DAYS
TIME = pd.date_range(END - pd.Timedelta(days=DAYS), periods=HOURS, freq="h")
DAY = pd.Timedelta(days=1)
FINE_SENSOR = Sensor(0.0, 0.0, 0.0, 0.0, "exact, for the test")


def air(temp_c, rh_percent, **more):
    """A climate over the 60 days; a scalar is steady."""
    full = [np.broadcast_to(np.asarray(v, float), (HOURS,)).copy() for v in (temp_c, rh_percent)]
    return Climate.of(TIME, *full, start=TIME[0], end=END, **more)


def exposure(temp_c, rh_percent, stints=(), **points):
    return Exposure({ROOM: air(temp_c, rh_percent), **points}, TIME[0], END, stints)


def event(base, value, hours, ends_before_end_h=0):
    """Steady, with another value for some hours at (or before) the end."""
    values = np.full(HOURS, float(base))
    last = HOURS - ends_before_end_h
    values[last - hours : last] = value
    return values


def painting(*layers, **more):
    made = tuple(Layer(*(layer if isinstance(layer, tuple) else ("film", layer))) for layer in layers)
    return Painting("p", "A painting", layers=made, **more)


def days_old(role, material, days):
    return (role, material, "whole", END - days * DAY)


def by_mechanism(found):
    return {f.mechanism: f for f in found}


def judged(temp_c, rh_percent, *layers, start=None, stints=(), **more):
    return by_mechanism(lining.assess(exposure(temp_c, rh_percent, stints), painting(*layers, **more), start))


def worst(found):
    return max(f.level for f in found.values())


ATTIC = np.where(np.arange(HOURS) >= HOURS - 120, 34 + 8 * np.sin(2 * np.pi * np.arange(HOURS) / 24), 20.0)
SIZE = ("size", "animal_glue")


# ------------------------------------------------------------------------------------- worked cases: limits ours


def test_glue_size_under_a_heat_seal_film_in_steady_air_is_in_order():
    found = judged(21, 50, SIZE, "eva_film")
    assert {f.level for f in found.values()} == {Level.CLEAR}
    assert set(found) == {"heat", "damp", "dry", "cold", "swing"}


def test_heat_seal_film_in_a_hot_attic_is_to_act_on_and_still_under_its_onset():
    found = judged(ATTIC, 40, "eva_film")
    heat = found["heat"]
    assert worst(found) == heat.level == Level.ACT
    assert heat.layer == "lining film (heat-seal film)"
    assert heat.value == pytest.approx(42.0) and heat.limit == 40.0
    # onset 45 °C is published: Young & Ackroyd, National Gallery Technical Bulletin 22 (2001); activation is 65 °C
    assert "3.0 °C below the onset of softening at 45 °C" in heat.sentence and "65" not in heat.sentence


def test_wax_resin_in_the_same_attic_is_urgent_over_its_ceiling():
    # ceiling of about 40 °C: Conserving Canvas (Getty 2023), chapter 37
    heat = judged(ATTIC, 40, "wax_resin")["heat"]
    assert heat.level == Level.URGENT and heat.limit == 40.0
    assert "2.0 °C over the onset of softening at 40 °C" in heat.sentence


def test_glue_paste_in_a_church_that_turns_damp_is_to_act_on():
    found = judged(12, event(55, 78, 336), "glue_paste")
    assert worst(found) == found["damp"].level == Level.ACT  # just under 78, never at it
    assert found["damp"].value == pytest.approx(78, abs=1e-6) and found["damp"].value < 78
    assert found["swing"].level == Level.ACT  # the step is over 20 % RH in 24 hours, lagged by 6 hours


def test_glue_paste_in_a_heated_winter_is_to_act_on():
    found = judged(21, event(50, 26, 240), "glue_paste")
    assert found["dry"].level == Level.ACT and found["dry"].limit == 32
    assert found["swing"].level == Level.ACT
    assert "glue-paste" in found["dry"].sentence


@pytest.mark.parametrize(("age", "level"), [(5, Level.ACT), (100, Level.WATCH)])
def test_heat_seal_solution_is_stricter_in_its_first_weeks(age, level):
    layers = (days_old("impregnation", "eva_soln", age), days_old("film", "eva_film", age))
    heat = judged(event(20, 31, 24), 50, *layers)["heat"]
    assert heat.level == level
    assert heat.layer == ("impregnation (heat-seal solution)" if age == 5 else heat.layer)
    assert ("first weeks" in heat.sentence) == (age == 5)


@pytest.mark.parametrize(("age", "level"), [(20, Level.ACT), (200, Level.WATCH)])
def test_a_solvent_acrylic_patch_is_softer_while_solvent_leaves(age, level):
    heat = judged(event(20, 26, 24), 50, days_old("patch", "acr_solv", age))["heat"]
    assert heat.level == level and "at the patch only" in heat.sentence


def test_a_backing_board_and_glazing_quiet_the_daily_swing_of_a_paste_lining():
    rh = 50 + 15 * np.sin(2 * np.pi * np.arange(HOURS) / 24)
    open_back = judged(20, rh, "glue_paste")
    closed = judged(20, rh, "glue_paste", backed=True, glazed=True)
    assert (worst(open_back), worst(closed)) == (Level.WATCH, Level.CLEAR)
    # gain of a first-order lag on a daily sine, 1 / sqrt(1 + (2 π τ / 24 h)²): textbook
    assert open_back["swing"].value == pytest.approx(30 / np.hypot(1, 2 * np.pi * 6 / 24), abs=0.25)
    assert closed["swing"].value == pytest.approx(30 / np.hypot(1, 2 * np.pi * 120 / 24), abs=0.05)


def test_frost_is_to_act_on_and_caps_damp_at_watch():
    frost = -2 + 4 * np.sin(2 * np.pi * np.arange(HOURS) / 24)
    found = judged(frost, 75, SIZE, "eva_film")
    assert worst(found) == found["cold"].level == Level.ACT
    assert found["cold"].value == pytest.approx(-6) and "do not move" in found["cold"].do
    assert found["damp"].level == Level.WATCH
    assert judged(10, 75, SIZE, "eva_film")["damp"].level == Level.ACT  # the same damp, not cold


def test_two_hours_in_a_hot_car_are_urgent_for_a_heat_seal_film():
    heat = judged(event(20, 58, 2), 40, "eva_film")["heat"]
    assert heat.level == Level.URGENT and "13.0 °C over the onset" in heat.sentence
    assert heat.by == END and heat.hours == 2


def test_a_cellulose_ether_patch_in_a_damp_basement_is_to_act_on():
    found = judged(18, event(55, 84, 72), ("patch", "mc"))
    assert worst(found) == found["damp"].level == Level.ACT
    assert "tissue" in found["damp"].look_for


@pytest.mark.parametrize(("age", "level"), [(10, Level.WATCH), (730, Level.CLEAR)])
def test_fresh_paste_has_a_lower_damp_limit(age, level):
    damp = judged(20, 64, days_old("film", "glue_paste", age))["damp"]
    assert damp.level == level
    assert damp.limit == (60 if age == 10 else 65)


def test_powder_and_epoxy_mends_in_a_warm_room_are_in_order():
    assert worst(judged(28, 60, ("tear mend", "polyamide"), ("tear mend", "epoxy"))) == Level.CLEAR


def test_a_sun_patch_on_a_mist_lining_is_to_act_on_though_the_room_hides_it():
    sun = np.where(np.isin(np.arange(HOURS) % 24, (13, 14)) & (np.arange(HOURS) >= HOURS - 168), 38.0, 20.0)
    seen = exposure(20, 50, **{PAINT_FACE: air(sun, 50)})
    heat = by_mechanism(lining.assess(seen, painting("acr_disp")))["heat"]
    assert heat.level == Level.ACT and heat.point == PAINT_FACE and heat.hours == 14
    assert judged(20, 50, "acr_disp")["heat"].level == Level.CLEAR


@pytest.mark.parametrize(
    ("margins", "level"), [("trimmed", Level.URGENT), ("intact", Level.ACT), ("unknown", Level.ACT)]
)
def test_trimmed_tacking_margins_make_heat_one_level_worse(margins, level):
    heat = judged(event(20, 36, 24), 50, "eva_film", tacking_margins=margins)["heat"]
    assert heat.level == level
    assert ("trimmed" in heat.sentence) == (margins == "trimmed")


def test_a_day_with_nearly_a_third_missing_is_not_known():
    temp, rh = np.full(HOURS, 20.0), np.full(HOURS, 50.0)
    temp[-24:-16] = rh[-24:-16] = np.nan
    found = judged(temp, rh, SIZE, "eva_film", start=END - DAY)
    assert {f.level for f in found.values()} == {Level.UNKNOWN}


def test_a_vinyl_patch_on_waxed_canvas_is_in_order_with_a_notice():
    # polyvinyl acetate and epoxy hold badly on traces of wax: Rothe, Structural Conservation of Panel Paintings (1998)
    found = judged(20, 50, ("impregnation", "wax_resin"), ("patch", "pvac_disp"))
    assert worst(found) == Level.CLEAR
    assert "PVAc" in found["compatibility"].layer and "wax" in found["compatibility"].sentence
    assert "compatibility" not in judged(20, 50, ("film", "eva_film"), ("patch", "pvac_disp"))
