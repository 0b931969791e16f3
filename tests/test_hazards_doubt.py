"""What is not known of a finding: sensor, gaps, reckoned walls. The level is taken at the value, certainty apart."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from envwatch import climate, verdict
from envwatch.climate.exposure import ROOM, WALL_FACE, Exposure, Stint
from envwatch.climate.series import Climate
from envwatch.core.findings import Certainty, Level
from envwatch.core.painting import Layer, Painting, Treatment
from envwatch.core.place import Sensor
from envwatch.figures.mould import DAMP_CLOCK
from envwatch.hazards import canvas, condensation, grading, lining, mould
from envwatch.hazards.mould.clock import DampAir
from envwatch.hazards.mould.surfaces import surfaces, susceptibility

END = pd.Timestamp("2026-11-02", tz="UTC")
WEEK = END - pd.Timedelta(days=7)
LAYERS = (Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen"))
UNLINED = Painting("p", "Moor", made="1890", glazed=False, backed=False, layers=LAYERS)
FILM = replace(UNLINED, layers=(*UNLINED.layers, Layer("film", "eva_film")))
PASTE = replace(UNLINED, layers=(*UNLINED.layers, Layer("old lining", "glue_paste")), glazed=True, backed=True)


def air_of(rh, temp_c=18.0, days=120, sensor=None) -> Climate:
    start = END - pd.Timedelta(days=days)
    time = pd.date_range(start, END, freq="h", inclusive="left")
    hours_to_end = (time - END) / pd.Timedelta(hours=1)
    rh = np.asarray(rh(np.asarray(hours_to_end)) if callable(rh) else np.full(len(time), rh), float)
    read = np.isfinite(rh)
    return Climate.of(time[read], np.full(read.sum(), temp_c), rh[read], start=start, end=END, sensor=sensor)


def exposure(rh, point=ROOM, **more) -> Exposure:
    there = air_of(rh, **more)
    return Exposure({point: there}, there.start, END, (Stint(there.start, END, "store", "Store"),))


def found(module, where: Exposure, painting=UNLINED) -> dict:
    return {f.mechanism: f for f in module.assess(where, painting, WEEK)}


# ----------------------------------------------------------------------------------------------------- gaps


def gap_then_calm(gap_h, ends_before_h=28, most=90.0, at_h=189):
    """Steady 60 % but for one hour within a week before a gap."""

    def rh(hours):
        air = np.where(hours == -at_h, most, 60.0)
        return np.where((hours >= -ends_before_h - gap_h) & (hours < -ends_before_h), np.nan, air)

    return rh


def test_a_gap_widens_the_uncertainty_of_a_canvas_and_can_take_its_certainty_but_not_its_level():
    # a film-lined canvas (24 h) held at 60 % through 20 h unread: the week before knew 90 %, which would be damp
    whole, gappy = found(canvas, exposure(60.0), FILM), found(canvas, exposure(gap_then_calm(20)), FILM)
    for mechanism in ("damp air", "dry air", "swing in a day or a week"):
        assert gappy[mechanism].level is whole[mechanism].level is Level.CLEAR
        assert gappy[mechanism].uncertainty >= whole[mechanism].uncertainty
    assert whole["damp air"].certainty is Certainty.CERTAIN
    assert gappy["damp air"].certainty is Certainty.CANNOT_TELL
    # worked apart: 60 + (90 - 60) (1 - exp(-20/24)) at the end of the gap
    most = 60 + 30 * (1 - np.exp(-20 / 24))
    told = dict(gappy["damp air"].working)["what gaps leave open"]
    assert f"{most:.1f} % RH" in told
    assert (gappy["damp air"].value_high, gappy["damp air"].level_high) == (pytest.approx(most, abs=0.05), Level.WATCH)
    assert f"with what was not read it may be {most:.1f} % RH, which is watch" in gappy["damp air"].sentence
    longer_ago = found(canvas, exposure(gap_then_calm(20, at_h=230)), FILM)["damp air"]
    assert longer_ago.certainty is Certainty.CERTAIN


def test_a_gap_can_take_the_certainty_of_a_lining_layer_too():
    # glue paste behind glass and board (120 h), 30 h unread: 60 + 35 (1 - exp(-30/120)) = 67.7 %, watch from 65 %
    mild, wild = (
        found(lining, exposure(gap_then_calm(30, most=most), days=50), PASTE)["damp"] for most in (60.0, 95.0)
    )  # the weeks about the gap never knew worse, or did
    assert mild.level is wild.level is Level.CLEAR
    assert (mild.certainty, wild.certainty) == (Certainty.CERTAIN, Certainty.CANNOT_TELL)
    assert "what gaps leave open" in dict(wild.working) and "what gaps leave open" not in dict(mild.working)


def test_what_a_gap_leaves_open_dies_away_with_the_time_constant():
    doubt = climate.canvas_humidity_range(np.r_[np.full(300, 50.0), 90.0, np.full(99, 50.0), [np.nan] * 10,
                                                np.full(100, 50.0)], 6.0).doubt  # fmt: skip
    late = doubt[410:]
    assert late[0] > 20
    np.testing.assert_allclose(late[1:40] / late[:39], np.exp(-1 / 6), rtol=1e-9)


def test_the_begin_of_a_record_is_not_known_either():
    held = climate.canvas_humidity_range(np.r_[np.full(200, 50.0), np.full(50, 80.0)], 24.0)
    assert held.lowest[0] == pytest.approx(50.0) and held.highest[0] > 78
    assert held.doubt[199] < 0.02


@given(st.lists(st.one_of(st.floats(20, 95), st.just(float("nan"))), min_size=2, max_size=120), st.floats(1, 200))
@settings(max_examples=60, deadline=None)
def test_the_state_held_lies_within_its_range(values, tau_h):
    held = climate.canvas_humidity_range(np.array(values), tau_h)
    read = np.isfinite(held.held)
    assert (held.lowest[read] <= held.held[read] + 1e-9).all()
    assert (held.held[read] <= held.highest[read] + 1e-9).all()


def test_an_index_whose_gaps_could_reach_another_level_cannot_be_told():
    def rh(hours):
        return np.where((hours > -24 * 20) & (hours < -24 * 8), np.nan, 88.0)

    perfect = Sensor(0.0, 0.0, 0.0, 0.0)
    assert found(mould, exposure(88.0, sensor=perfect, days=50))["growth index"].certainty is Certainty.CERTAIN
    gappy = found(mould, exposure(rh, sensor=perfect, days=50))["growth index"]
    assert gappy.level is Level.WATCH  # 0.88 as held; without the gap 1.31
    assert gappy.certainty is Certainty.CANNOT_TELL


def test_a_swing_is_told_only_where_both_its_windows_can_be():
    # 9 % in a day now, told from 10 %; in a gap six days ago it may have been 9 % damper: over 15 % in a week
    def rh(hours):
        air = np.where(hours == -300, 69.5, np.where(hours >= -24, 51.0, 60.0))
        return np.where((hours >= -146) & (hours < -128), np.nan, air)

    whole = found(canvas, exposure(lambda hours: np.where(hours >= -24, 51.0, 60.0)))
    told = [each["swing in a day or a week"] for each in (whole, found(canvas, exposure(rh)))]
    assert [f.level for f in told] == [Level.CLEAR, Level.CLEAR]
    assert [dict(f.working)["decided by"] for f in told] == ["the change within a day"] * 2
    assert [f.certainty for f in told] == [Certainty.CERTAIN, Certainty.CANNOT_TELL]


def test_a_day_over_its_limit_is_not_certain_where_the_week_may_be_of_a_higher_level():
    # 12 % in a day: watch. 18 h not read just before the week, perhaps at 79 %, are 14 % of a day's mean: 26 %, act
    # from 25 %
    def rh(hours):
        air = np.where(hours == -300, 79.0, np.where(hours >= -24, 48.0, 60.0))
        return np.where((hours >= -190) & (hours < -172), np.nan, air)

    swing = found(canvas, exposure(rh))["swing in a day or a week"]
    assert dict(swing.working)["decided by"] == "the change within a day"
    assert (swing.level, swing.level_high, swing.certainty) == (Level.WATCH, Level.ACT, Certainty.CANNOT_TELL)


def test_bloom_may_have_come_in_hours_not_read():
    # a day of 18 h at 70 % and 6 h not read, perhaps at 95 %: 76.25 %, told from 75 %
    varnish = Layer("varnish", "natural_resin_varnish", applied_on=END - pd.Timedelta(days=20))

    def bloom(gap_h):
        there = exposure(lambda h: np.where((h >= -34) & (h < -34 + gap_h), np.nan, np.where(h == -189, 95.0, 70.0)))
        return found(condensation, there, replace(UNLINED, layers=(*LAYERS, varnish)))["bloom on fresh varnish"]

    whole, gappy = bloom(0), bloom(6)
    assert (whole.level, whole.certainty) == (Level.CLEAR, Certainty.CERTAIN)
    assert (gappy.level, gappy.level_high, gappy.certainty) == (Level.CLEAR, Level.WATCH, Certainty.CANNOT_TELL)
    assert gappy.value_high == pytest.approx(76.25)


# --------------------------------------------------------------------------------------------------- sensor


def test_a_clear_finding_near_its_limit_cannot_be_told_either():
    # 73 % of a canvas against 75 %, with a bias of 3 %; the same at 65 % can
    near, far = (found(canvas, exposure(rh))["damp air"] for rh in (73.0, 65.0))
    assert near.level is far.level is Level.CLEAR
    assert (near.certainty, far.certainty) == (Certainty.CANNOT_TELL, Certainty.CERTAIN)
    clock = found(mould, exposure(63.5))["damp hours"]
    assert (clock.level, clock.certainty) == (Level.CLEAR, Certainty.CANNOT_TELL)
    water = found(condensation, exposure(86.5))["water on the painting"]  # about 2.3 K over the dew point
    assert (water.level, water.certainty) == (Level.CLEAR, Certainty.CANNOT_TELL)


def test_a_bias_is_common_to_all_readings_and_does_not_shrink_with_averaging():
    # a week's mean of 168 readings is off by the whole bias, and not by a 13th of it
    sensor = Sensor(rh_bias_percent=3.0, rh_noise_percent=0.5)
    clock = found(mould, exposure(60.0, sensor=sensor))["damp hours"]
    assert clock.uncertainty == pytest.approx(3.0)
    noisier = replace(sensor, rh_noise_percent=5.0)
    assert found(mould, exposure(60.0, sensor=noisier))["damp hours"].uncertainty == pytest.approx(3.0)


@pytest.mark.parametrize(("days_ago", "u_percent"), [(2, 6.0), (8, 1.0)])
def test_a_canvas_is_trusted_no_better_than_the_logger_that_its_lag_still_leans_on(days_ago, u_percent):
    # first-order response: after three time constants (film: 24 h) all but exp(-3) = 5 % is of what was read since then
    poor, good = (Sensor(rh_bias_percent=u, rh_noise_percent=0.0, logger=f"L-{u:g}") for u in (6.0, 1.0))
    damper = exposure(lambda hours: np.where(hours >= -24, 70.0, 50.0))
    by = (damper.room.time >= END - pd.Timedelta(days=days_ago)).astype(np.uint8)
    where = replace(damper, points={ROOM: replace(damper.room, sensors=(poor, good), read_by=by)})
    entered = Treatment("t", "lining", END - pd.Timedelta(days=60), studio_rh_percent=50.0)
    told = found(canvas, where, replace(FILM, treatments=(entered,)))["swing beyond what it has known"]
    assert told.level is Level.WATCH and told.uncertainty == pytest.approx(u_percent, abs=0.05)
    assert f"± {u_percent:.1f} % RH: bias and noise of the logger" in dict(told.working)["uncertainty"]


def test_hours_damp_are_bounded_by_shifting_all_readings_together():
    where = exposure(lambda hours: 70 + 5 * np.sin(hours / 20))
    (surface,) = surfaces(where, WEEK, susceptibility(None, WEEK))
    hours = [DampAir.of(surface, shift).read(DAMP_CLOCK[0]).value for shift in (-3.0, 0.0, 3.0)]
    assert hours[0] < hours[1] < hours[2]
    ends = range(surface.first + 1, len(surface.rh_percent) + 1)
    for shift, counted in zip((-3.0, 0.0, 3.0), hours, strict=True):
        over = surface.rh_percent + shift > 70
        assert counted == max(over[max(end - 1440, 0) : end].sum() for end in ends)


@given(st.floats(20, 95), st.floats(0.1, 12), st.floats(1, 3))
@settings(max_examples=25, deadline=None)
def test_a_poorer_sensor_never_makes_any_finding_milder(rh, bias, times):
    better, poorer = (Sensor(rh_bias_percent=b, temp_bias_c=b / 6) for b in (bias, bias * times))
    judged = [verdict.judge(exposure(rh, days=40, sensor=s), UNLINED, WEEK) for s in (better, poorer)]
    for one, other in zip(*(v.findings for v in judged), strict=True):
        assert one.level is other.level
        assert not one.uncertainty > other.uncertainty
        assert other.certainty is Certainty.CANNOT_TELL or one.certainty is Certainty.CERTAIN


def test_nothing_unknown_is_called_certain():
    part = air_of(lambda hours: np.where(hours > -90, np.nan, 50.0))
    stints = (Stint(part.start, END, "house", "House", "outer wall"),)
    for where in (exposure(lambda h: np.full(len(h), np.nan)), Exposure({ROOM: part}, part.start, END, stints)):
        judged = verdict.judge(where, FILM, WEEK)
        assert judged.unseen
        assert {f.certainty for f in judged.unseen} == {Certainty.CANNOT_TELL}


def test_certainty_is_the_distance_to_the_nearest_limit():
    assert grading.certainty(73.0, 3.0, 75, 80) is Certainty.CANNOT_TELL
    assert grading.certainty(71.9, 3.0, 75, 80) is Certainty.CERTAIN
    assert grading.certainty(77.5, 2.0, 75, 80) is Certainty.CERTAIN
    assert grading.certainty(77.5, 2.6, 75, 80) is Certainty.CANNOT_TELL


# -------------------------------------------------------------------------------------------- reckoned walls


def test_a_wall_run_at_both_ends_is_as_uncertain_as_they_lie_apart():
    face = air_of(80.0, temp_c=12.0)
    stints = (Stint(face.start, END, "house", "House", "outer wall"),)
    findings = {}
    for apart_k in (0.0, 3.0):
        there = Exposure({ROOM: air_of(50.0), WALL_FACE: replace(face, reckoned_u_k=apart_k)}, face.start, END, stints)
        findings[apart_k] = found(condensation, there)["water on the wall behind"]
    # 1.5 K is what a reckoned face may be off by at least: our judgement
    assert findings[3.0].uncertainty == pytest.approx(np.hypot(np.sqrt(findings[0.0].uncertainty ** 2 - 1.5**2), 3.0))
    assert findings[3.0].level is findings[0.0].level


def test_the_poorer_reckoning_of_two_stretches_counts():
    one, other = (
        Climate.of(pd.date_range(day, periods=24, freq="h", tz="UTC"), [12.0] * 24, [80.0] * 24)
        for day in ("2026-10-30", "2026-10-31")
    )
    joined = Climate.joined([replace(one, reckoned_u_k=2.0), replace(other, reckoned_u_k=0.5)], one.start, other.end)
    assert joined.reckoned_u_k == 2.0


@pytest.mark.parametrize("module, mechanism, other_c", [(lining, "heat", 37.0), (lining, "cold", -8.0),
                                                        (canvas, "cold", -8.0)])  # fmt: skip
def test_hours_not_read_may_have_been_as_hot_or_cold_as_those_within_a_week_of_them(module, mechanism, other_c):
    def week(extreme_ago_h, unread_ago_h):
        there = air_of(50.0)
        ago = np.asarray((END - there.time) / pd.Timedelta(hours=1))
        temp = np.where(ago == extreme_ago_h, other_c, 18.0)
        kept = ago != unread_ago_h
        there = Climate.of(there.time[kept], temp[kept], there.rh_percent[kept], start=there.start, end=END)
        where = Exposure({ROOM: there}, there.start, END, (Stint(there.start, END, "store", "Store"),))
        return found(module, where, FILM)[mechanism]

    # the extreme hour lies before the judged week; a week about a gap is our judgement
    assert week(24 * 8, -1).certainty is Certainty.CERTAIN  # whole
    near, far = week(24 * 8, 24 * 5), week(24 * 30, 24 * 5)
    assert near.level is far.level is Level.CLEAR
    assert (near.certainty, far.certainty) == (Certainty.CANNOT_TELL, Certainty.CERTAIN)
    assert "what gaps leave open" in dict(near.working)
