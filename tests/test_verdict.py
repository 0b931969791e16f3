"""The one path: what `judge` may and may not say."""

import json
import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch import verdict
from envwatch.climate.exposure import ROOM, Exposure, Position, Stint
from envwatch.climate.series import Climate
from envwatch.core.errors import BadInput
from envwatch.core.findings import Certainty, Hazard, Level, Mechanism
from envwatch.core.painting import Area, CareStatus, Layer, Margins, Painting, Role, Treatment, Work
from envwatch.core.place import Answer, Fact, PlaceKind, Placement, Point, Sensor
from envwatch.core.quantities import Confidence
from envwatch.figures import materials
from envwatch.present.plain import plain
from tests.exposures import Numbers, whole

START = pd.Timestamp("2026-10-26", tz="UTC")
END = START + pd.Timedelta(days=7)
LINED = pd.Timestamp("2026-01-15", tz="UTC")
RELINED = Painting(
    "p", "Test picture", glazed=False, backed=False, tacking_margins="intact",
    layers=(Layer("paint", "oil_paint"), Layer("size", "animal_glue"), Layer("canvas", "linen"),
            Layer("film", "eva_film", applied_on=LINED)),
)  # fmt: skip


def exposure(temp_c=19.0, rh_percent=51.0, days=200, read=1.0, suspect=False):
    """A history of steady air, and a judged week of which only the first part was read."""
    begin = END - pd.Timedelta(days=days)
    time = pd.date_range(begin, END, freq="h", inclusive="left", tz="UTC")
    time = time[time < START + read * (END - START)]
    week = time >= START
    temp = np.where(week, temp_c, 19.0)
    rh = np.where(week, rh_percent, 51.0)
    room = Climate.of(time, temp, rh, start=begin, end=END, suspect=week & suspect)
    stint = Stint(begin, END, "studio", "Studio", "easel", "Europe/Berlin")
    return Exposure({"room": room}, begin, END, (stint,))


def test_steady_air_at_the_studios_own_humidity_has_nothing_against_it():
    judged = verdict.judge(exposure(), RELINED, START)
    assert judged.level is Level.CLEAR
    assert {f.hazard for f in judged.findings} == {"lining", "mould", "fluctuation", "condensation"}


def test_no_readings_is_not_known_in_every_hazard():
    judged = verdict.judge(exposure(read=0.0), RELINED, START)
    assert judged.level is Level.UNKNOWN
    assert all(finding.level is Level.UNKNOWN for finding in judged.findings)


@pytest.mark.parametrize("read, level", [(0.79, Level.UNKNOWN), (0.82, Level.CLEAR)])
def test_under_four_fifths_of_the_week_nothing_may_be_clear(read, level):
    # 80 %: our judgement
    judged = verdict.judge(exposure(read=read), RELINED, START)
    assert {finding.level for finding in judged.findings} == {level}


def test_an_urgent_hour_in_a_half_covered_week_stays_urgent_and_the_rest_is_said_to_be_unseen():
    # 45 °C: onset of softening of the heat-seal film, Young & Ackroyd 2001
    judged = verdict.judge(exposure(temp_c=47.0, read=0.5), RELINED, START)
    assert judged.level is Level.URGENT
    assert judged.unseen


def test_temperature_alone_still_decides_heat():
    judged = verdict.judge(exposure(temp_c=47.0, rh_percent=np.nan), RELINED, START)
    heat = next(f for f in judged.findings if f.hazard == "lining" and f.mechanism == "heat")
    assert heat.level is Level.URGENT
    assert next(f for f in judged.findings if f.mechanism == "damp").level is Level.UNKNOWN


def test_nothing_is_clear_on_readings_that_are_mostly_marked():
    judged = verdict.judge(exposure(suspect=True), RELINED, START)
    assert {finding.level for finding in judged.findings} == {Level.UNKNOWN}
    assert "100%" in judged.findings[0].sentence


def test_of_two_readings_of_a_move_day_the_harsher_stands():
    mild, hot = exposure(), exposure(temp_c=41.0)
    for pair in ((mild, hot), (hot, mild)):
        judged = verdict.judge_either(pair, RELINED, START)
        assert judged.level is Level.ACT
        assert len(judged.findings) == len(verdict.judge(mild, RELINED, START).findings)


def test_a_room_without_a_painting_can_be_judged():
    judged = verdict.judge(exposure(rh_percent=92.0), None, START)
    assert judged.painting_id == "" and judged.level >= Level.WATCH


@pytest.mark.parametrize("hotter", [1.0, 4.0, 12.0])
def test_cooler_air_at_equal_humidity_never_raises_the_heat_finding(hotter):
    def heat(temp_c):
        findings = verdict.judge(exposure(temp_c=temp_c), RELINED, START).findings
        return next(f.level for f in findings if f.hazard == "lining" and f.mechanism == "heat")

    assert heat(30.0 + hotter - 1) <= heat(30.0 + hotter)


@pytest.mark.parametrize(
    "strange, said",
    [
        (Painting("p", "P", layers=(Layer("film", "eva_flim"),)),
         "painting p, layer film: material 'eva_flim' is not in the materials file; did you mean 'eva_film'?"),
        (Painting("p", "P", layers=(Layer("canvas", "linen"), Layer("paint", "Xx"))),
         "painting p, layer paint: material 'Xx' is not in the materials file; use unknown, or one of: "),
        (Painting("", "P", treatments=(Treatment("t", "varnish", LINED, "natural_resin"),)),
         "the painting, varnish of 2026-01-15: material 'natural_resin' is not in the materials file; did you mean "
         "'natural_resin_varnish'?"),
    ],
)  # fmt: skip
def test_a_material_that_does_not_exist_is_refused_in_one_line(strange, said):
    for judge in (verdict.judge, lambda air, of, at: verdict.judge_either([air], of, at)):
        with pytest.raises(BadInput) as refused:
            judge(exposure(), strange, START)
        assert str(refused.value).startswith(said)
        assert "\n" not in str(refused.value)


def test_unknown_stays_a_material_and_a_studios_own_counts():
    unknown = Painting("p", "P", layers=(Layer("film", "unknown"), Layer("size", "")), treatments=(
        Treatment("t", "lining", LINED, "unknown"), Treatment("u", "strip-lining", LINED)))  # fmt: skip
    assert verdict.judge(exposure(), unknown, START).findings
    own = Painting("p", "P", layers=(Layer("film", "house_paste"),))
    held = {**materials.profiles(), "house_paste": replace(materials.profile("glue_paste"), id="house_paste")}
    for judged in (verdict.judge(exposure(), own, START, held), verdict.judge_either([exposure()], own, START, held)):
        assert any(finding.material == "house_paste" for finding in judged.findings)
    with pytest.raises(BadInput, match="house_paste"):  # the packaged ones, whatever was given before
        verdict.judge(exposure(), own, START)


@pytest.mark.parametrize("rh_percent", [0.0, 0.8, 3.0])
def test_air_of_a_drying_box_is_judged_though_its_percent_looks_like_a_fraction(rh_percent):
    """A record that never passes 1 %, or that would not with its logger's bias taken off."""
    time = pd.date_range("2026-01-05", periods=720, freq="h", tz="UTC")
    box = Climate.of(time, np.full(720, 20.0), np.full(720, rh_percent), sensor=Sensor(rh_bias_percent=3.0))
    judged = verdict.judge(Exposure({ROOM: box}, box.start, box.end), Painting("p", "Harbour"), box.start)
    assert [finding.level for finding in judged.findings if finding.mechanism == "dry air"] == [Level.ACT]


SETS = (
    Answer, Area, CareStatus, Certainty, Confidence, Fact, Hazard, Margins, Mechanism, Placement, PlaceKind, Point,
    Role, Work,
)  # fmt: skip


@pytest.mark.parametrize("closed", SETS)
def test_a_word_of_a_closed_set_is_that_word_wherever_it_goes(closed):
    # in print, in JSON, compared, as a key, in another process: registers made before hold the plain words
    for word in closed:
        assert f"{word}" == str(word) == word.value == word and repr(word) == repr(word.value)
        assert {word: 1}[word.value] == 1 and json.dumps({word: word}) == json.dumps({word.value: word.value})
        assert type(plain(word)) is str and pickle.loads(pickle.dumps(word)) is word
    assert sorted(closed) == sorted(word.value for word in closed)


def test_every_finding_takes_its_words_from_the_closed_sets():
    facts = tuple(zip(Fact, (True, False, None) * 4, strict=False))
    for seed in range(8):
        drawn = whole(Numbers(seed))
        there = replace(drawn.exposure(), position=Position(facts=facts))
        for finding in verdict.judge(there, drawn.painting, drawn.start()).findings:
            assert type(finding.hazard) is Hazard and type(finding.point) is Point, finding
            assert type(finding.mechanism) in (Mechanism, Fact), finding
