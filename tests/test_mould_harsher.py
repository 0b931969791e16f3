"""The growth index's level: kept while the air favours growth, and never milder for damper air."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch.climate.exposure import Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Level
from envwatch.core.painting import Layer, Observation, Painting
from envwatch.core.place import Sensor
from envwatch.hazards import mould
from envwatch.hazards.mould.growth import most_above
from envwatch.hazards.mould.harsher import harsher_index
from envwatch.hazards.mould.index import favourable, mould_index
from tests import sound
from tests.exposures import Air, Coat, Spell, Whole

END = pd.Timestamp("2026-11-02", tz="UTC")
WEEK = END - pd.Timedelta(days=7)
PASTE = Painting(
    "p", "Moor", layers=(Layer("size", "animal_glue"), Layer("canvas", "linen"), Layer("film", "glue_paste"))
)
SEEN_BEFORE = (Observation(END - pd.Timedelta(days=900), "mould"),)
ROUNDING = 1e-9


def index_of(rh, painting=PASTE, sensor=None):
    """The growth index finding of the last week of an hourly record, NaN where nothing was read."""
    rh = np.asarray(rh, float)
    time = pd.date_range(end=END - pd.Timedelta(hours=1), periods=len(rh), freq="h")
    read = np.isfinite(rh)
    room = Climate.of(time[read], np.full(read.sum(), 20.0), rh[read], start=time[0], end=END, sensor=sensor)
    where = Exposure({"room": room}, time[0], END, (Stint(time[0], END, "store", "Store"),))
    return next(f for f in mould.assess(where, painting, WEEK) if f.mechanism == "growth index")


def test_steady_damp_keeps_its_level_when_the_index_has_reached_the_highest_that_such_air_allows():
    levels = [index_of(np.full(24 * days, 84.0)).level for days in (120, 400, 1200)]
    assert levels == sorted(levels) and levels[-1] is Level.ACT


def test_air_that_is_damp_by_turns_keeps_the_level_too():
    by_turns = np.tile(np.r_[np.full(12, 86.0), np.full(12, 70.0)], 900)
    assert index_of(by_turns).level >= index_of(by_turns[: 24 * 300]).level >= Level.ACT


def test_the_level_is_lower_only_where_no_hour_favoured_growth():
    damp, dry = np.full(24 * 400, 84.0), np.full(24 * 14, 60.0)
    assert index_of(damp).level is Level.ACT
    assert index_of(np.r_[damp, dry]).level is Level.WATCH
    one_hour = np.r_[damp, dry]
    one_hour[-30] = 84.0
    assert index_of(one_hour).level is Level.ACT


def test_a_week_that_was_not_read_may_have_favoured_growth_and_is_not_certain_of_the_lower_level():
    rh = np.r_[np.full(24 * 400, 84.0), np.full(24 * 14, 60.0)]
    compared = Sensor(rh_bias_percent=0.2)
    assert index_of(rh, sensor=compared).certainty is Certainty.CERTAIN
    rh[-40:-20] = np.nan  # 148 of 168 h were read
    lower = index_of(rh, sensor=compared)
    assert (lower.level, lower.certainty) == (Level.WATCH, Certainty.CANNOT_TELL)


def test_one_weak_damp_hour_in_seven_is_no_milder_than_none_and_why_says_so():
    seen = replace(PASTE, observations=SEEN_BEFORE)
    weak = np.tile([80.2] + [60.0] * 6, 24 * 60)
    dry = np.full(len(weak), 60.0)
    published = [mould_index(np.full(len(rh), 20.0), rh, 1.0, start=1.0)[-1] for rh in (weak, dry)]
    assert published[0] < published[1]  # the published course itself
    found = index_of(weak, seen)
    assert found.level >= index_of(dry, seen).level
    assert found.value == pytest.approx(
        mould_index(np.full(len(weak), 20.0), weak, 1.0, start=1.0)[-168:].max(), abs=0.3
    )
    assert "damp stretches taken as dry" in dict(found.working)


def best_by_trying(rh, share, start):
    """The highest index at the end over every set of damp stretches taken as dry, by the published course."""
    temp = np.full(len(rh), 20.0)
    wet = favourable(temp, rh)
    edges = np.flatnonzero(np.diff(np.r_[False, wet, False].astype(int)))
    stretches = list(zip(edges[::2], edges[1::2], strict=True))
    best = 0.0
    for count in range(len(stretches) + 1):
        for chosen in combinations(stretches, count):
            tried = rh.copy()
            for first, end in chosen:
                tried[first:end] = 50.0
            best = max(best, mould_index(temp, tried, 1.0, decline=share, start=start)[-1])
    return best


STRETCHES = st.lists(
    st.tuples(st.integers(1, 40), st.integers(1, 6), st.floats(80.1, 97)), min_size=1, max_size=6
)  # dry hours, damp hours, how damp


def air_of(stretches, tail=0):
    return np.concatenate(
        [np.r_[np.full(dry, 50.0), np.full(wet, rh)] for dry, wet, rh in stretches] + [np.full(tail, 50.0)]
    )


@given(STRETCHES, st.integers(0, 60), st.sampled_from([0.1, 0.5, 1.0]), st.sampled_from([0.0, 0.4, 0.98, 2.0]))
@settings(max_examples=150)
def test_the_harsher_course_is_the_best_of_all_choices(stretches, tail, share, start):
    rh = air_of(stretches, tail)
    ours = harsher_index(np.full(len(rh), 20.0), rh, decline=share, start=start)[-1]
    assert ours == pytest.approx(best_by_trying(rh, share, start), abs=ROUNDING)


@given(
    STRETCHES, st.lists(st.tuples(st.integers(0, 300), st.floats(0, 40)), max_size=8), st.sampled_from([0.0, 1.0, 2.5])
)
@settings(max_examples=150)
def test_damper_air_is_never_milder(stretches, added, start):
    rh = air_of(stretches, 40)
    damper = rh.copy()
    for at, more in added:
        damper[at % len(rh)] = min(damper[at % len(rh)] + more, 100.0)
    mild, harsh = (harsher_index(np.full(len(rh), 20.0), air, start=start) for air in (rh, damper))
    assert (harsh >= mild - ROUNDING).all()


@given(STRETCHES, st.integers(0, 60), st.sampled_from([0.0, 0.98, 2.0]))
@settings(max_examples=100)
def test_it_lies_over_the_published_course_by_no_more_than_its_restarts_can_cost(stretches, tail, start):
    rh, temp = air_of(stretches, tail), np.full(sum(d + w for d, w, _ in stretches) + tail, 20.0)
    published, harsher = mould_index(temp, rh, 1.0, start=start), harsher_index(temp, rh, start=start)
    assert (harsher >= published).all()
    assert (harsher - published).max() <= most_above(favourable(temp, rh)) + ROUNDING


def test_what_a_gap_leaves_open_is_lowered_as_what_was_read_is_where_no_hour_favours_growth():
    # a gap before the period may hide an index over 0.5; read in full, over 0.5 with nothing growing asks for nothing
    drawn = Whole(
        seed=3828, days=60, end_h=8400, step_min=60, block_h=2, gaps=((264, 56),), coats=(Coat("canvas", "linen"),),
        rooms=(Air(5, 67, weather_rh=0.3, spells=(Spell(176, 1271, -13, 7), Spell(1164, 224, 0, 42))),),
    )  # fmt: skip

    def level(warmer_k):
        air = sound.changed(drawn.exposure(), lambda there: (there.temp_c + warmer_k, there.rh_percent + warmer_k))
        return sound.found(air, drawn.painting, drawn.start())["mould", "growth index"].level

    levels = [level(warmer_k) for warmer_k in (0, 0.2, 1, 4, 5, 9)]
    assert levels == sorted(levels) and levels[0] is Level.CLEAR and levels[-1] is Level.WATCH
