"""Loggers of one room that part, a place's extremes by position, and paintings whose own air nobody reads.

Two loggers of one room breathe one air: the vapour is nearly the same, whatever their temperatures (psychrometrics; the
expected humidity of the colder one is computed here by PsychroLib). A wet wall gives off vapour, so that there it
differs: fact of the trade. By how much two loggers can part: the limits of error given to them here, in quadrature, and
a margin of our judgement.
"""

import shutil
from dataclasses import replace

import numpy as np
import pandas as pd
import psychrolib
import pytest

from envwatch.archive import Studio
from envwatch.archive.climates.spots import ProbeRecord
from envwatch.cases import place as place_history
from envwatch.cases import review
from envwatch.cases.review import spots, unread
from envwatch.climate.series import Climate
from envwatch.core.place import PlaceKind, Placement, Sensor
from envwatch.present import terminal
from envwatch.present.paper.review import content
from tests.bench.mondays_studio import Air, Life, layers, logger, painting

ZONE = "Europe/Berlin"
psychrolib.SetUnitSystem(psychrolib.SI)


def local(text):
    return pd.Timestamp(text, tz=ZONE).tz_convert("UTC")


def rh_at(temp_c, rh_percent, other_c):
    """The humidity of the same air at another temperature, by PsychroLib."""
    return 100 * psychrolib.GetVapPresFromRelHum(temp_c, rh_percent / 100) / psychrolib.GetSatVapPres(other_c)


def spot(position, temp_c, rh_percent, hours=7 * 24, name=None, sensor=None):
    """A logger that reads steady air; arrays or figures."""
    time = pd.date_range("2026-11-09", periods=hours, freq="h", tz="UTC")
    read = Climate.of(time, np.full(hours, temp_c, float), np.full(hours, rh_percent, float), sensor=sensor or Sensor())
    return ProbeRecord(Placement(position), name or position, name or f"Logger {position}", "", read)


def parted(*loggers):
    return list(spots.partings(loggers, PlaceKind.STORE))


def test_a_wet_corner_parts_in_vapour_and_a_cold_spot_in_temperature():
    room = spot("rack", 18.0, 50.0)
    (wet,) = parted(room, spot("inner wall", 17.5, 72.0))
    assert wet.wet and wet.first.position == "inner wall" and "a wet corner at the inner wall" in wet.sentence(ZONE)
    (cold,) = parted(room, spot("inner wall", 12.0, rh_at(18.0, 50.0, 12.0)))
    assert not cold.wet and cold.rh_at_equal_vapour == pytest.approx(0, abs=0.05)
    assert "a cold spot at the inner wall" in cold.sentence(ZONE) and "hangs one wrongly" in cold.sentence(ZONE)
    assert cold.dew_points_c[0] == pytest.approx(cold.dew_points_c[1], abs=0.01)


def test_two_that_part_in_vapour_and_temperature_at_once_are_asked_about_once():
    """The cooler one is drier in vapour and damper in % RH: each looks the drier one seen from the other."""
    for temps in ((12.0, 84.0, 17.0, 70.0), (17.0, 70.0, 12.0, 84.0)):
        (found,) = parted(spot("rack", *temps[:2]), spot("inner wall", *temps[2:]))
        assert abs(found.rh_percent) == pytest.approx(14, abs=0.01)
    steps = np.arange(12.0, 26.0, 3.5), np.arange(30.0, 90.0, 12.0)
    rooms = [spot("rack", t, rh, 48) for t in steps[0] for rh in steps[1]]
    others = [spot("inner wall", t, rh, 48) for t in steps[0] for rh in steps[1]]
    assert all(len(parted(one, other)) < 2 for one in rooms for other in others)


def test_what_a_position_explains_is_not_asked_about_but_a_wet_one_is():
    room, colder = spot("rack", 18.0, 50.0), rh_at(18.0, 50.0, 12.0)
    assert not parted(room, spot("floor", 12.0, colder))
    assert not parted(room, spot("outer wall", 12.0, colder))
    assert not parted(room, spot("radiator", 26.0, rh_at(18.0, 50.0, 26.0)))
    assert [one.wet for one in parted(room, spot("floor", 12.0, min(colder + 15, 99)))] == [True]
    assert [one.wet for one in parted(room, spot("radiator", 26.0, 50.0))] == [True]  # as damp, and much warmer


@pytest.mark.parametrize("u_percent, asked", [(0.5, True), (3.0, True), (6.0, False)])
def test_they_are_asked_about_only_beyond_both_sensors_limits_of_error(u_percent, asked):
    sensor = Sensor(temp_bias_c=0.2, rh_bias_percent=u_percent)
    found = parted(spot("rack", 18.0, 50.0, sensor=sensor), spot("easel", 18.0, 59.0, sensor=sensor))
    assert bool(found) is asked  # 9 % apart: two of ±6 % can part by 8.5 %, and the margin is 2 %


def test_a_shower_does_not_count_and_a_spell_of_two_days_is_dated():
    rh = np.full(168, 50.0)
    rh[40:48] = 90
    assert not parted(spot("rack", 18, 50), spot("easel", 18, rh))
    rh[48:96] = 75
    (found,) = parted(spot("rack", 18, 50), spot("easel", 18, rh))
    assert found.until is not None and abs(found.until - pd.Timestamp("2026-11-13T12:00Z")) <= pd.Timedelta(hours=14)
    assert " from " in found.sentence(ZONE)


def test_a_crate_and_doubted_readings_are_left_out_and_so_is_the_open_air():
    room = spot("rack", 18, 50)
    assert not parted(room, spot("crate", 18, 80))
    assert not parted(room, replace(spot("easel", 18, 80), doubted=True))
    assert not list(spots.partings((room, spot("easel", 18, 80)), PlaceKind.OUTDOORS))
    assert not parted(room, spot("easel", 18, 80, hours=12))  # hardly read together


# --------------------------------------------------------------------------------------------------- in a studio


def air(temp_c, rh_percent, seed=3):
    """Steady air with a logger's noise; two loggers never share it (common practice, no source)."""
    rng = np.random.default_rng(seed)
    time = pd.date_range(local("2026-09-01"), local("2026-11-16 09:00"), freq="h")
    return Air(time, temp_c + rng.normal(0, 0.05, len(time)), rh_percent + rng.normal(0, 0.2, len(time)))


LOGS = {"A": air(19, 50), "B": air(14, 90), "C": air(19, 50, seed=4), "D": air(31, 24)}
PLACES = (("studio", "Studio", "studio"), ("store", "Store", "store"), ("attic", "Attic", "loft"))
HUNG = (("A", "studio", "rack"), ("B", "studio", "floor"), ("D", "studio", "radiator"), ("C", "store", "easel"))
STAYS = {
    "K1": ("studio", "rack"), "K2": ("studio", "easel"), "K3": ("studio", "floor"), "W1": ("studio", "outer wall"),
    "W2": ("studio", "outer wall"), "U1": ("studio", "unknown"), "E1": ("store", "unknown"), "F1": ("store", "floor"),
    "N1": ("attic", "rack"), "N2": ("attic", "unknown"),
}  # fmt: skip
MONDAY = local("2026-11-16 09:00")


@pytest.fixture(scope="module")
def life():
    with Life(zone=ZONE) as made:
        since = {"from": "2026-09-01"}
        made.register(
            places=[{"id": id, "name": name, "kind": kind, "zone": ZONE} for id, name, kind in PLACES],
            loggers=[logger(key) for key in LOGS],
            hangings=[{"logger": key, "place": place, "position": at, **since} for key, place, at in HUNG],
            paintings=[painting(key, f"Title {key}") for key in (*STAYS, "X1")],
            layers=[row for key in (*STAYS, "X1") for row in layers(key)],
            stays=[{"painting": key, "place": place, "position": at, **since} for key, (place, at) in STAYS.items()],
        )  # fmt: skip
        made.fetch(LOGS, local("2026-09-01"), MONDAY)
        yield made


@pytest.fixture(scope="module")
def week(life):
    return review.make(life.studio, MONDAY)


def test_a_places_row_is_of_its_dampest_driest_and_hottest_position_and_names_it(week):
    studio = next(line for line in week.places if line.place.id == "studio")
    assert (studio.summary.rh_max_percent, studio.summary.rh_min_percent) == pytest.approx((90, 24), abs=1)
    assert (studio.summary.temp_max_c, studio.summary.temp_min_c) == pytest.approx((31, 14), abs=0.3)
    assert studio.summary.hours_over[65] == 168 and studio.summary.dry_hours == 168
    assert {e.what: e.position for e in studio.extremes} == {
        "dampest": "floor", "driest": "radiator", "hottest": "radiator", "coldest": "floor",
    }  # fmt: skip
    full = " ".join(terminal.review(week).split())
    assert "dampest 91 % RH at the floor, driest 23 % RH at the radiator, hottest 31.1 °C at the radiator" in full
    assert "dampest 91 % RH at the floor" in content(week)["places_note"]


def test_a_place_with_one_logger_is_told_as_before(week):
    store = next(line for line in week.places if line.place.id == "store")
    assert store.extremes == () and store.summary.rh_max_percent < 52


def test_the_place_itself_tells_each_logger(life):
    told = place_history.of(life.studio, "studio", MONDAY)
    assert [(one.where, one.logger) for one in told.spots] == [
        ("at the rack", "A"), ("at the floor", "B"), ("at the radiator", "D"),
    ]  # fmt: skip
    from envwatch.present.terminal.place import place as as_text

    assert "at the floor (Logger B): humidity 89." in " ".join(as_text(told).split())
    assert place_history.of(life.studio, "store", MONDAY).spots == ()


def test_the_wet_floor_is_asked_about_among_the_loggers(week):
    (asked,) = (line for line in week.loggers if line.state == "apart")  # once, though it parts from both others
    assert asked.id == "B" and asked.sentence.startswith("and Logger A in one room part by more than")
    assert asked.place == "Studio" and "a wet corner at the floor" in asked.sentence
    assert "a wet corner at the floor" in " ".join(terminal.review(week).split())
    calm = replace(week, trouble=(), not_seen=(), opening=(), tray=())
    assert not calm.is_quiet and replace(calm, loggers=()).is_quiet


def test_paintings_whose_own_air_nobody_reads_open_the_review_a_line_a_place(week):
    said = {note.split(":")[0]: note for note in week.opening}
    assert sorted(week.opening) == sorted(said.values()) and len(week.opening) == 5
    opening = " ".join(week.opening)
    assert "No logger hangs in Attic, where 2 paintings (N1, N2) stand: hang one there" in opening
    assert "No logger reads at the outer wall in Studio, where 2 paintings (W1, W2) stand" in opening
    assert "they are judged by the air at the rack: hang a logger at the outer wall" in opening
    assert "No logger reads at the floor in Store, where one painting (F1) stands" in opening
    assert "Studio is read at: floor, rack, radiator; of one painting (U1) there no position is on record" in opening
    assert "Nobody knows where one painting (X1) stands" in opening
    assert not any(id in opening for id in ("K1", "K2", "K3", "E1"))


def test_each_painting_that_nobody_reads_is_counted_once(life, week):
    counted = [
        id for line in week.judged for id in [line.id] if unread.whereabouts(life.studio, line.painting, week.period)
    ]
    assert sorted(counted) == ["F1", "N1", "N2", "U1", "W1", "W2", "X1"]


def test_where_a_neighbour_stands_in_nobody_is_asked_to_hang_a_logger(life, tmp_path):
    with Studio.open(shutil.copytree(life.studio.folder, tmp_path / "studio")) as own:
        own.stand_in("attic", "store", "2026-09-01", temp_u_c=2, rh_u_percent=5)
        assert not any("Attic" in note for note in review.make(own, MONDAY).opening)
