"""Quality marks: each rule finds what it is for, and leaves an ordinary room alone."""

import time

import numpy as np
import pytest

from envwatch import air
from envwatch.figures.quality import STUCK_H, SUN_VAPOUR
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.marks import mark

TEN_MINUTES = 600_000_000
HOUR = 6 * TEN_MINUTES
FIVE_MILLION_A_SECOND = 5e6
SLACK_FOR_A_SHARED_MACHINE = 4


def calm(days: float = 7, step_us: int = TEN_MINUTES, seed: int = 1):
    """An invented store: a small daily and weekly course, the noise and the steps of a common logger."""
    rng = np.random.default_rng(seed)
    time_us = np.arange(int(days * 24 * HOUR / step_us), dtype=np.int64) * step_us
    day = time_us / (24 * HOUR) * 2 * np.pi
    temp_c = 17 + 0.8 * np.sin(day) + 0.6 * np.sin(day / 7) + rng.normal(0, 0.05, len(day))
    rh = 54 + 1.5 * np.sin(day + 1) + 3 * np.sin(day / 7) + rng.normal(0, 0.2, len(day))
    return time_us, np.round(temp_c, 1), np.round(rh, 1)


def marked(marks, bit) -> list[int]:
    return np.flatnonzero(marks & bit).tolist()


def test_a_year_of_a_calm_store_bears_no_mark():
    assert quality.count(mark(*calm(365))) == {}


def test_what_is_missing_is_missing_and_bears_no_mark():
    time_us, temp_c, rh = calm()
    temp_c[100:200], rh[150:300] = np.nan, np.nan
    assert quality.count(mark(time_us, temp_c, rh)) == {}


def test_no_reading_is_changed():
    time_us, temp_c, rh = calm()
    temp_c[5], rh[9] = 999.0, -200.0
    before = temp_c.copy(), rh.copy()
    mark(time_us, temp_c, rh)
    np.testing.assert_array_equal(temp_c, before[0])
    np.testing.assert_array_equal(rh, before[1])


@pytest.mark.parametrize("code", [-200.0, -999.0, 6553.5])
def test_an_error_code_is_bad_for_its_own_quantity_and_leaves_the_neighbours_alone(code):
    time_us, temp_c, rh = calm()
    rh[50] = code
    marks = mark(time_us, temp_c, rh)
    assert marks[50] == quality.RH_CODE and np.count_nonzero(marks) == 1
    assert marks[50] & quality.BAD_RH and not marks[50] & quality.BAD_TEMP


def test_both_quantities_exactly_zero_is_an_error_code():
    time_us, temp_c, rh = calm()
    temp_c[50] = rh[50] = 0.0
    assert marked(mark(time_us, temp_c, rh), quality.BAD_TEMP) == [50]


@pytest.mark.parametrize(
    ("rh_percent", "bit"),
    [(-0.5, quality.RH_ODD), (-1.5, quality.RH_IMPOSSIBLE), (102.7, quality.RH_ODD), (105.1, quality.RH_IMPOSSIBLE)],
)
def test_humidity_a_little_out_of_range_is_odd_and_far_out_is_impossible(rh_percent, bit):
    time_us, temp_c, rh = calm()
    rh[:] = rh_percent
    assert (mark(time_us, temp_c, rh) & (quality.RH_ODD | quality.RH_IMPOSSIBLE) == bit).all()


@pytest.mark.parametrize(
    ("value_c", "bit"),
    [(-25, quality.TEMP_ODD), (60, quality.TEMP_ODD), (-46.85, quality.TEMP_IMPOSSIBLE), (90, quality.TEMP_IMPOSSIBLE)],
)
def test_temperature_out_of_range_is_odd_or_impossible(value_c, bit):
    time_us, temp_c, rh = calm()
    temp_c[:] = value_c
    assert (mark(time_us, temp_c, rh) & (quality.TEMP_ODD | quality.TEMP_IMPOSSIBLE) == bit).all()


def test_infinite_readings_are_impossible():
    time_us, temp_c, rh = calm()
    temp_c[3], rh[4] = np.inf, -np.inf
    marks = mark(time_us, temp_c, rh)
    assert marked(marks, quality.TEMP_IMPOSSIBLE) == [3] and marked(marks, quality.RH_IMPOSSIBLE) == [4]


def test_a_sensor_that_flips_between_its_ends_is_dead_from_the_first_flip_to_the_last():
    time_us, temp_c, rh = calm()
    rh[200:212] = [1.0, 99.9, 1.0, 47.0, 99.9, 1.0, 99.9, 1.0, 1.0, 99.9, 1.0, 99.9]
    assert marked(mark(time_us, temp_c, rh), quality.RH_DEAD) == list(range(200, 212))


def test_fog_and_dry_spells_days_apart_do_not_make_a_dead_sensor():
    time_us, temp_c, rh = calm(30)
    rh[200:203], rh[204:207], rh[3000:3003] = 1.5, 99.0, 1.5  # one jump up within the hour, one down after weeks
    assert marked(mark(time_us, temp_c, rh), quality.RH_DEAD) == []


def test_one_reading_away_from_neighbours_that_agree_is_a_spike_and_not_two_steps():
    time_us, temp_c, rh = calm()
    temp_c[300], rh[400] = temp_c[299] + 4, rh[399] - 12
    marks = mark(time_us, temp_c, rh)
    assert marked(marks, quality.SPIKE) == [300, 400] and np.count_nonzero(marks) == 2


def test_a_jump_that_stays_is_a_step():
    time_us, temp_c, rh = calm()
    rh[300:] += 12
    assert marked(mark(time_us, temp_c, rh), quality.STEP) == [300]


def test_any_change_over_a_gap_is_no_step():
    time_us, temp_c, rh = calm()
    rh[:300], rh[300:] = 29, 91
    rh += np.arange(len(rh)) % 2 * 0.1
    time_us[300:] += 5 * HOUR
    assert quality.count(mark(time_us, temp_c, rh)) == {}


def test_saturation_needs_two_readings():
    time_us, temp_c, rh = calm()
    rh[10], rh[300:303] = 99.6, 100.0
    assert marked(mark(time_us, temp_c, rh), quality.SATURATED) == [300, 301, 302]


def test_both_unchanged_for_half_a_day_is_stuck_and_a_shorter_time_is_not():
    time_us, temp_c, rh = calm()
    rows = int(STUCK_H) * 6
    temp_c[300 : 301 + rows], rh[300 : 301 + rows] = 16.05, 50.05  # values that no neighbour has
    marks = mark(time_us, temp_c, rh)
    assert marked(marks, quality.STUCK) == list(range(300, 301 + rows))
    temp_c[310] = 16.1
    assert marked(mark(time_us, temp_c, rh), quality.STUCK) == []


def test_a_coarse_logger_in_a_flat_room_is_not_stuck():
    time_us, temp_c, rh = calm()
    temp_c, rh = np.round(temp_c * 2) / 2, np.round(rh)
    temp_c[300:420], rh[300:420] = 17.0, 54.0
    assert marked(mark(time_us, temp_c, rh), quality.STUCK) == []


def test_humidity_alone_unchanged_for_a_day_while_temperature_moves_is_stuck_even_on_a_coarse_logger():
    time_us, temp_c, rh = calm()
    temp_c, rh = np.round(temp_c * 2) / 2, np.round(rh)
    rh[300:460] = 70.0
    assert marked(mark(time_us, temp_c, rh), quality.STUCK) == list(range(300, 460))


def test_a_gap_inside_does_not_make_a_logger_stuck():
    time_us, temp_c, rh = calm()
    temp_c[300:310], rh[300:310] = 16.05, 50.05
    time_us[305:] += 20 * HOUR
    assert marked(mark(time_us, temp_c, rh), quality.STUCK) == []


def warmed(vapour_share: float):
    """Two hours of warmth on the logger, 8 °C and back; at its warmest the vapour has grown by this share."""
    time_us, temp_c, rh = calm()
    up = np.zeros(len(temp_c))
    up[300:318] = 8 * np.sin(np.linspace(0.2, np.pi - 0.2, 18))
    grown = 1 + vapour_share * up / 8
    return time_us, temp_c + up, np.round(air.rh_at(temp_c, rh, temp_c + up) * grown, 1)


def test_sun_on_the_logger_is_marked_while_it_is_warm():
    found = marked(mark(*warmed(0.0)), quality.SUN)
    assert set(range(303, 314)) <= set(found) <= set(range(300, 319))


def test_warmth_that_brings_its_own_vapour_is_no_sun_patch():
    assert marked(mark(*warmed(3 * SUN_VAPOUR)), quality.SUN) == []


def test_a_room_that_is_heated_and_stays_warm_is_no_sun_patch():
    time_us, temp_c, rh = calm()
    warmer = temp_c + np.clip((np.arange(len(temp_c)) - 300) / 6, 0, 1) * 5
    assert quality.count(mark(time_us, warmer, np.round(air.rh_at(temp_c, rh, warmer), 1))) == {}


def test_a_logger_carried_off_and_brought_back_is_marked_until_it_has_half_returned():
    time_us, temp_c, rh = calm()
    decay = np.exp(-np.arange(40) / 6)
    temp_c[300:340] += 5 * decay
    rh[300:340] -= 14 * decay
    found = marked(mark(time_us, temp_c, rh), quality.HANDLING)
    assert found and found[0] == 300 and 3 <= len(found) <= 8


def test_warmth_alone_is_no_handling():
    time_us, temp_c, rh = calm()
    temp_c[300:340] += 5 * np.exp(-np.arange(40) / 6)
    assert marked(mark(time_us, temp_c, rh), quality.HANDLING) == []


def test_a_logger_brought_in_for_reading_out_is_marked_to_the_end():
    time_us, temp_c, rh = calm()
    temp_c[-4:] += 7
    rh[-4:] -= 15
    n = len(temp_c)
    assert marked(mark(time_us, temp_c, rh), quality.HANDLING) == list(range(n - 4, n))


def test_a_record_that_begins_away_from_where_it_settles_is_settling_and_one_that_does_not_is_not():
    time_us, temp_c, rh = calm()
    decay = np.exp(-np.arange(30) / 3)
    found = marked(mark(time_us, temp_c + np.append(4 * decay, np.zeros(len(rh) - 30)), rh), quality.SETTLING)
    assert found and found[0] == 0 and found[-1] <= 6
    assert marked(mark(time_us, temp_c, rh), quality.SETTLING) == []


@pytest.mark.parametrize("rows", [0, 1, 2, 3])
def test_very_short_records_are_marked_without_complaint(rows):
    time_us, temp_c, rh = (column[:rows] for column in calm())
    assert mark(time_us, temp_c, rh).tolist() == [0] * rows


def test_records_of_one_quantity_are_marked():
    time_us, temp_c, rh = calm()
    nothing = np.full(len(rh), np.nan)
    temp_c[50] += 6
    assert marked(mark(time_us, temp_c, nothing), quality.SPIKE) == [50]
    rh[70] += 20
    assert marked(mark(time_us, nothing, rh), quality.SPIKE) == [70]
    assert quality.count(mark(time_us, nothing, nothing)) == {}


def test_columns_of_different_lengths_are_refused():
    with pytest.raises(ValueError, match="3 times, 2 temperatures"):
        mark(np.arange(3), np.zeros(2), np.zeros(3))


def test_bad_and_suspect_share_no_mark_and_every_mark_has_a_rule():
    assert quality.BAD & quality.SUSPECT == 0
    assert sum(rule.bit for rule in quality.RULES) == quality.BAD | quality.SUSPECT
    assert len({rule.name for rule in quality.RULES}) == len(quality.RULES)


def test_each_threshold_of_the_rules_says_where_it_comes_from():
    for rule in quality.RULES:
        for figure in rule.figures:
            assert figure.source and figure.confidence and figure.note


def test_five_million_readings_a_second_are_marked():
    record = calm(365 * 20)
    mark(*record)
    begun = time.perf_counter()
    mark(*record)
    rate = len(record[0]) / (time.perf_counter() - begun)
    assert rate * SLACK_FOR_A_SHARED_MACHINE > FIVE_MILLION_A_SECOND, f"{rate / 1e6:.1f} million a second"
