"""The rule of a spell, what short breaks and gaps make of it, and what a person then reads. Steps: our judgement."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch import climate
from envwatch.climate.exposure import Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Level
from envwatch.core.painting import Layer, Painting
from envwatch.core.place import Sensor
from envwatch.figures.coverage import SPELL_BRIDGES_H, SPELL_UNREAD_H
from envwatch.hazards import canvas, mould
from envwatch.hazards.mould.clock import DampAir, Taken
from envwatch.hazards.mould.surfaces import surfaces, susceptibility
from tests.sound import gone_and_matched

START = pd.Timestamp("2026-09-07T00:00Z")
LAYERS = (Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen"))
PASTE = Painting("p", "Moor", layers=(*LAYERS, Layer("film", "glue_paste")), glazed=False, backed=False)
SURE = Sensor(rh_bias_percent=1.0)
WEEK_H, MONTHS_H = 168, 60 * 24
hours_list = st.lists(st.tuples(st.integers(1, 14), st.sampled_from("wdu")), min_size=1, max_size=9)


def exposure(rh, temp_c=18.0, sensor=SURE) -> Exposure:
    """Hourly air from START, NaN where nothing was read."""
    rh = np.asarray(rh, float)
    time, end = pd.date_range(START, periods=len(rh), freq="h"), START + pd.Timedelta(hours=len(rh))
    read = np.isfinite(rh)
    air = Climate.of(time[read], np.full(read.sum(), temp_c), rh[read], start=START, end=end, sensor=sensor)
    return Exposure({"room": air}, START, end, (Stint(START, end, "store", "Store"),))


def judged(rh, mechanism="damp hours", module=mould, last_h=WEEK_H):
    there = exposure(rh)
    found = module.assess(there, PASTE, there.end - pd.Timedelta(hours=last_h))
    return next(f for f in found if f.mechanism == mechanism)


def course(*parts) -> np.ndarray:
    """Hours and their humidity, one after another; None: not read."""
    return np.concatenate([np.full(hours, np.nan if rh is None else rh, float) for hours, rh in parts])


def spelt(parts) -> tuple[np.ndarray, np.ndarray]:
    word = "".join(letter * hours for hours, letter in parts)
    return np.array([c == "w" for c in word]), np.array([c == "u" for c in word])


def by_hand(passed, bridge_h=float(SPELL_BRIDGES_H)) -> list[int]:
    """The rule of `climate.hours` an hour at a time: go back while it holds."""
    out = []
    for last in range(len(passed)):
        best, dry, damp = 0, 0, 0
        for first in range(last, -1, -1) if passed[last] else ():
            dry, damp = (0, damp + 1) if passed[first] else (dry + 1, damp)
            if dry > bridge_h or 2 * damp < last - first + 1:
                break
            best = damp if passed[first] else best
        out.append(best)
    return out


# ---------------------------------------------------------------------------------------------- the rule


@given(hours_list, st.sampled_from([0, 1, 6]))
def test_hours_of_a_spell_are_those_counted_an_hour_at_a_time(parts, bridge_h):
    passed, _ = spelt(parts)
    assert climate.hours_in_spell(passed, bridge_h).tolist() == by_hand(passed, bridge_h)


@given(hours_list, st.data())
def test_more_damp_hours_never_make_the_longest_spell_shorter(parts, data):
    passed, _ = spelt(parts)
    damper = passed | np.array(data.draw(st.lists(st.booleans(), min_size=len(passed), max_size=len(passed))))
    before, after = climate.hours_in_spell(passed), climate.hours_in_spell(damper)
    assert (after[passed] >= before[passed]).all()


@given(hours_list)
def test_spells_lie_apart_hold_every_damp_hour_and_the_longest(parts):
    passed, _ = spelt(parts)
    first, last, hours = climate.rows_of_spells(passed)
    assert (first[1:] > last[:-1]).all() and hours.sum() == passed.sum()
    assert hours.max(initial=0) == max(by_hand(passed), default=0)
    assert all(2 * n >= b - a + 1 for a, b, n in zip(first, last, hours, strict=True))


@given(hours_list, st.data())
def test_with_less_read_the_least_is_never_more_and_the_most_never_less(parts, data):
    passed, unread = spelt(parts)
    lost = np.array(data.draw(st.lists(st.booleans(), min_size=len(passed), max_size=len(passed))))
    rh = np.where(unread, np.nan, np.where(passed, 85.0, 50.0))

    def ends(values):
        rh = np.r_[85.0, [60.0] * 9, values, 60.0]  # as damp within a week about every gap
        (surface,) = surfaces(exposure(np.full(len(rh), 60.0)), START, susceptibility(None, START))
        surface = replace(surface, rh_percent=rh)
        low, held, high = (
            DampAir.of(surface, 0, taken).lasting(80.0).max() for taken in (Taken.DRY, Taken.HELD, Taken.DAMP)
        )
        assert low <= held <= high
        return low, high

    (low, high), (less_low, less_high) = ends(rh), ends(np.where(lost, np.nan, rh))
    assert less_low <= low and less_high >= high


def test_a_stretch_not_read_is_held_damp_between_two_damp_hours_for_a_day():
    for hours, joined in ((int(SPELL_UNREAD_H), True), (int(SPELL_UNREAD_H) + 1, False)):
        passed, unread = spelt([(5, "w"), (hours, "u"), (5, "w")])
        assert climate.held(passed, unread).all() == joined
    assert climate.held(*spelt([(5, "w"), (3, "u"), (5, "d")])).sum() == 5


# ---------------------------------------------------------------------------------------------- the damp clock


def test_a_short_gap_in_eight_damp_days_is_told_as_a_range_and_not_milder():
    whole = judged(course((MONTHS_H, 55), (192, 84)))
    gappy = judged(course((MONTHS_H, 55), (92, 84), (8, None), (92, 84)))
    assert (whole.level, whole.certainty, whole.value) == (Level.URGENT, Certainty.CERTAIN, 192)
    assert (gappy.level, gappy.certainty) == (Level.URGENT, Certainty.CANNOT_TELL)
    assert (gappy.value_low, gappy.value_high, gappy.level_high) == (92, 192, Level.URGENT)
    assert gappy.sentence.startswith(
        "At least 3.8 days, up to 8 if the 8 hours not read were damp too, unbroken over 80 %"
    )


def test_a_longer_gap_leaves_the_milder_level_open_and_says_up_to_what():
    found = judged(course((MONTHS_H, 55), (80, 84), (40, None), (80, 84)))
    assert (found.level, found.level_high, found.certainty) == (Level.WATCH, Level.URGENT, Certainty.CANNOT_TELL)
    assert "if the 40 hours not read were damp it may be up to 8.3 days unbroken over 80 % RH" in found.sentence


@pytest.mark.parametrize("weeks", [1, 3, 20])
def test_one_damp_hour_in_seven_does_not_carry_a_spell_on(weeks):
    thin = np.where(np.arange(weeks * WEEK_H + 12) % 7 == 6, 84.0, 55.0)
    found = judged(np.r_[course((MONTHS_H, 55), (192, 84)), thin])
    assert found.level is (Level.CLEAR if weeks > 1 else Level.WATCH)  # the first days' seven-day means are damp


@pytest.mark.parametrize("rh", [55.0, 68.0, 72.5, 78.0, 83.0, 94.0])
@pytest.mark.parametrize("mechanism", ["damp hours", "30-day mean"])
def test_two_in_a_hundred_hours_missing_from_steady_air_leave_what_was_certain_certain(rh, mechanism):
    rng, steady, kept = np.random.default_rng(19), np.full(90 * 24, rh), 0
    was = judged(steady, mechanism)
    assert was.certainty is Certainty.CERTAIN
    for _ in range(40):
        found = judged(np.where(rng.random(len(steady)) < 0.02, np.nan, steady), mechanism)
        kept += (found.level, found.certainty) == (was.level, was.certainty)
    assert kept >= 38


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.integers(6, 260), st.sampled_from([55, 68, 72, 78, 84, 94])), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(0, 900), st.integers(1, 200)), min_size=1, max_size=3),
    st.sampled_from(["damp hours", "30-day mean"]),
)
def test_less_read_is_never_milder_and_certain(parts, gaps, mechanism):
    whole = course((800, 55), *parts)
    gappy = whole.copy()
    for back, hours in gaps:
        first = max(len(whole) - 1 - back, 1)
        gappy[first : min(first + hours, len(whole) - 1)] = np.nan
    # an hour worse than all that remains within a week of it stays: of what was worst and is gone no rule can know
    gappy = np.where(np.isnan(gappy) & ~gone_and_matched(exposure(whole), np.isnan(gappy)), whole, gappy)
    was, less = judged(whole, mechanism), judged(gappy, mechanism)
    milder = less.level < was.level and less.level is not Level.UNKNOWN
    assert not (milder and less.certainty is Certainty.CERTAIN)
    assert not (less.level is Level.UNKNOWN and less.certainty is Certainty.CERTAIN)


@settings(max_examples=40)
@given(st.integers(1, 400), st.integers(1, 300), st.sampled_from([72, 78, 84, 94]), st.integers(0, 12))
def test_a_longer_damp_spell_is_never_milder(hours, more, rh, dry):
    air = [(900, 55), (40, rh), (dry, 55)]
    level = [judged(course(*air, (n, rh)), last_h=500).level for n in (hours, hours + more)]
    assert level[1] >= level[0]


def test_a_record_that_begins_damp_is_open_towards_before_it():
    found = judged(course((190, 79)))
    assert (found.level, found.level_high, found.certainty) == (Level.ACT, Level.URGENT, Certainty.CANNOT_TELL)
    assert "the record begins damp, and what was before it may make it urgent" in found.sentence


def test_an_intended_stay_is_no_gap():
    there = exposure(course((900, 55), (400, 60)))
    stay = Stint(START, there.end, "chamber", "Chamber", intended=True)
    found = mould.assess(Exposure(there.points, START, there.end, (stay,)), PASTE, START + pd.Timedelta(hours=1000))
    assert {f.certainty for f in found if f.mechanism == "damp hours"} == {Certainty.CERTAIN}


# ---------------------------------------------------------------------------------------------- the same elsewhere


def test_the_spells_of_a_place_follow_the_rule_and_tell_what_was_not_read_in_them():
    air = exposure(course((100, 55), (92, 84), (8, None), (92, 84), (100, 55))).room
    damp = climate.describe_history(air, "UTC").damp[0]
    assert (damp.hours, damp.longest.hours, damp.longest.unread_h) == (184, 184, 8)
    summary = climate.describe_place(air, "UTC").damp[0]
    assert (summary.longest.hours, summary.longest.unread_h) == (184, 8)


def test_a_canvas_soft_for_longer_than_a_day_with_a_gap_in_it_is_not_let_off_with_certainty():
    # act after 24 h together over 75 % of the lagged humidity: our judgement
    whole = judged(course((900, 55), (65, 78.5)), "damp air", canvas)
    gappy = judged(course((900, 55), (20, 78.5), (30, None), (15, 78.5)), "damp air", canvas)
    assert (whole.level, gappy.level, gappy.level_high) == (Level.ACT, Level.WATCH, Level.ACT)
    assert gappy.certainty is Certainty.CANNOT_TELL and "with what was not read it may be" in gappy.sentence


def test_a_month_that_may_have_passed_80_by_what_was_not_read_is_not_certain():
    # 630 h of 78 %, 20 h of 95 % and 70 h that may have been as damp come to (630 * 78 + 90 * 95) / 720 = 80.1 %
    found = judged(course((900, 78), (70, None), (20, 95), (210, 78)), "30-day mean")
    assert (found.level, found.level_high, found.certainty) == (Level.CLEAR, Level.ACT, Certainty.CANNOT_TELL)
    assert "leaves open whether it was kept" in found.sentence
    short = judged(course((900, 78), (40, None), (20, 95), (240, 78)), "30-day mean")  # at most 79.4 %
    assert (short.level, short.level_high) == (Level.CLEAR, Level.CLEAR)
