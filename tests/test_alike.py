"""Work that is shared or left out for speed changes no verdict: cut records, running extremes, paintings in one air."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from envwatch import climate, verdict
from envwatch.climate.exposure import Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Level
from envwatch.core.painting import Layer, Observation, Painting, Treatment
from envwatch.figures import Figure, materials
from envwatch.hazards.lining import layer_tests, layers
from envwatch.hazards.mould.index import critical_rh, favourable
from envwatch.present.plain import plain

END = pd.Timestamp("2026-03-02", tz="UTC")
START = END - pd.Timedelta(days=7)
DAYS = 130
HOURS = DAYS * 24
TIME = pd.date_range(END - pd.Timedelta(days=DAYS), periods=HOURS, freq="h")


def days_ago(days):
    return END - pd.Timedelta(days=days)


BUILD_UPS = (
    Painting("a", "A", layers=(Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("film", "eva_film"))),
    Painting("b", "B", glazed=True, backed=True, layers=(Layer("film", "wax_resin"), Layer("size", "animal_glue"))),
    Painting("c", "C", layers=(Layer("film", "glue_paste", applied_on=days_ago(20)), Layer("canvas", "linen"))),
    Painting("d", "D", backed=False, glazed=False, layers=(Layer("paint", "acrylic_paint"), Layer("film", "acr_disp")),
             treatments=(Treatment("v", "varnish", days_ago(30), "natural_resin_varnish"),)),
    Painting("e", "E", tacking_margins="trimmed", layers=(Layer("film", "eva_film", applied_on=days_ago(9)),)),
    Painting("f", "F", made="1972", layers=(Layer("lining canvas", "linen"), Layer("patch", "unknown")),
             observations=(Observation(days_ago(60), "mould on the bars"),)),
)  # fmt: skip


def rooms(seed: int, gaps: bool) -> Exposure:
    """Weather with a hot, a damp or a dry week somewhere; now and then gaps, marks and an intended stay."""
    rng = np.random.default_rng(seed)
    slow = np.convolve(rng.normal(0, 1, HOURS + 99), np.ones(100) / 10, "valid")
    temp = rng.uniform(8, 24) + 2 * slow + np.sin(np.arange(HOURS) / 3.8)
    rh = np.clip(rng.uniform(38, 72) + 5 * slow + rng.normal(0, 1, HOURS), 3, 99)
    at = int(rng.integers(0, HOURS - 100))
    temp[at : at + 100] += rng.choice([0, 0, 25, -18])
    rh[at : at + 100] = np.clip(rh[at : at + 100] + rng.choice([0, 0, 25, -25]), 3, 99)
    suspect = np.zeros(HOURS, bool)
    if gaps:
        for _ in range(rng.integers(1, 6)):
            at = int(rng.integers(0, HOURS))
            temp[at : at + rng.integers(1, 200)] = np.nan
            rh[at : at + rng.integers(1, 200)] = np.nan
        suspect[rng.integers(0, HOURS, 40)] = True
    begin, moved = TIME[0], days_ago(int(rng.integers(1, DAYS)))
    stints = (Stint(begin, moved, "loft", "Loft", "rack", "Europe/Berlin", intended=bool(gaps and seed % 3 == 0)),
              Stint(moved, END, "studio", "Studio", "easel", "Europe/Berlin"))  # fmt: skip
    read = np.isfinite(temp) | np.isfinite(rh)
    room = Climate.of(TIME[read], temp[read], rh[read], start=begin, end=END, suspect=suspect[read])
    return Exposure({"room": room}, begin, END, stints)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**6), st.booleans(), st.permutations(BUILD_UPS))
def test_a_painting_is_judged_alike_whatever_was_judged_before_it_in_the_same_air(seed, gaps, order):
    shared = rooms(seed, gaps)
    for painting in order:
        other = replace(shared, notes=(painting.title,))  # of another note: nothing was worked out for it
        alone = replace(verdict.judge(other, painting, START), notes=())
        assert plain(verdict.judge(shared, painting, START)) == plain(alone)


def test_other_limits_or_another_week_are_judged_anew_in_the_same_air():
    air = rooms(3, False)
    film = materials.profile("eva_film")
    softer = replace(film, damp_percent=replace(film.damp_percent, watch=with_value(film.damp_percent.watch, 5.0)))
    own = verdict.judge(air, BUILD_UPS[0], START)
    theirs = verdict.judge(air, BUILD_UPS[0], START, {**materials.profiles(), "eva_film": softer})
    damp = [next(f for f in v.findings if (f.hazard, f.mechanism) == ("lining", "damp")) for v in (own, theirs)]
    assert [f.layer for f in damp] == ["size (animal glue)", "lining film (heat-seal film)"]
    assert verdict.judge(air, BUILD_UPS[0], START - pd.Timedelta(days=7)).findings != own.findings


def with_value(figure, value):
    return Figure(value, figure.unit, figure.source, figure.confidence)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10**6), st.booleans(), st.sampled_from(BUILD_UPS))
def test_the_recent_rows_of_a_record_show_what_the_whole_record_shows(seed, gaps, painting):
    air = rooms(seed, gaps)
    for link in layers.links(painting, air, START, materials.profiles()):
        recent = layer_tests.air_at(air, START, "room", air.room, link.tau_h)
        assert recent.cut_from is not None and len(recent.time) < len(recent.cut_from.time)
        for mechanism in layer_tests.MECHANISMS:
            for at_worst in (False, True):  # what gaps leave open: of both or of neither
                airs = [a.at_worst(mechanism) if at_worst else a for a in (recent, recent.cut_from)]
                if None in airs:
                    assert airs == [None, None]
                    continue
                for raised in (False, True):
                    pairs = [layer_tests.readings(mechanism, link, a, raised) for a in airs]
                    for cut, whole in zip(*pairs, strict=True):
                        assert (cut.level, cut.test, cut.too_new, cut.all_intended) == (
                            whole.level, whole.test, whole.too_new, whole.all_intended)  # fmt: skip
                        assert cut.value == pytest.approx(whole.value, abs=1e-9, nan_ok=True)
                        if cut.row >= 0 and cut.at == whole.at:
                            doubts = [r.air.gap_doubt(r.row) for r in (cut, whole)]
                            assert doubts[0] == pytest.approx(doubts[1], abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 60), st.integers(0, 90), st.floats(0, 1))
def test_running_extremes_and_ranges_are_those_of_pandas(seed, window_h, length, missing):
    rng = np.random.default_rng(seed)
    values = rng.normal(50, 5, length).round(1)
    values[rng.random(length) < missing] = np.nan
    rolling = pd.Series(values).rolling(window_h, min_periods=1)  # the general library
    lowest, highest = climate.running_extremes(values, window_h)
    assert_array_equal(lowest, rolling.min().to_numpy())
    assert_array_equal(highest, rolling.max().to_numpy())
    need = max(int(np.ceil(0.8 * window_h - 1e-9)), 1)
    known = pd.Series(values).rolling(window_h, min_periods=need)
    spread = (known.max() - known.min()).to_numpy(copy=True)
    spread[: window_h - 1] = np.nan
    assert_array_equal(climate.running_range(values, window_h, 0.8), spread)


@pytest.mark.parametrize("seed", range(60))
def test_small_cycles_left_out_change_no_other(seed):
    rng = np.random.default_rng(seed)
    values = (rng.normal(50, 5, 200), np.cumsum(rng.normal(0, 2, 200)), rng.integers(40, 60, 200).astype(float))[
        seed % 3
    ]
    values[rng.integers(0, 200, seed % 4)] = np.nan
    assert climate.rainflow_cycles(values, climate.CYCLE_EDGES[0]).table() == climate.rainflow_cycles(values).table()


def test_what_favours_growth_is_what_reaches_the_critical_humidity():
    temp, rh = np.meshgrid(np.arange(-5, 60, 0.5), np.arange(60, 101, 0.25))
    for kind in ("very sensitive", "sensitive", "medium resistant", "resistant"):
        told = (temp > 0) & (temp <= 50) & (rh >= critical_rh(temp, kind))
        assert_array_equal(favourable(temp, rh, kind), told)


def test_spells_that_had_ended_are_left_out_and_no_others():
    passed = np.zeros(100, bool)
    passed[[3, 4, 20, 21, 22, 60, 61, 97, 98, 99]] = True
    every = climate.spells(TIME[:100], passed)
    for row in range(100):
        after = TIME[row]
        assert climate.spells(TIME[:100], passed, after=after) == [s for s in every if s.end > after]


def test_levels_differ_enough_for_these_tests_to_see_a_fault():
    seen = [verdict.judge(rooms(seed, True), painting, START) for seed in range(12) for painting in BUILD_UPS]
    levels = {finding.level for judged in seen for finding in judged.findings}
    assert levels >= {Level.CLEAR, Level.UNKNOWN, Level.WATCH, Level.ACT}
