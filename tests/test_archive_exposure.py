"""A painting's exposure from its stays, a place's climate from its loggers, and what is kept of a review."""

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.archive.climates.deployments import has_logger
from envwatch.archive.climates.exposure import variants
from envwatch.climate.exposure import CANVAS_BACK, ROOM, WALL_FACE
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import Finding, Level
from envwatch.core.painting import Stay
from envwatch.core.place import Place
from envwatch.figures.walls import OUTDOOR_MEAN_H
from envwatch.physics import wall as walls
from envwatch.verdict import judge

BERLIN = "Europe/Berlin"
MARCH = pd.Timestamp("2026-03-01", tz=BERLIN).tz_convert("UTC")
APRIL = pd.Timestamp("2026-04-01", tz=BERLIN).tz_convert("UTC")
REGISTER = {
    "places": "id,name,kind\nstore,Store,store\nloft,Loft,loft\nhouse,House,house\nout,Outside,outdoors\n",
    "loggers": "id,name,labels,temp_accuracy_c,rh_accuracy_percent\n"
    "s,Store logger,S-1,0.3,2\nl,Loft logger,L-1,0.6,4\nw,Wall logger,W-1,0.3,2\no,Outdoor logger,O-1,0.5,3\n",
    "hangings": "logger,channel,place,position,from,to\n"
    "s,,store,rack,2026-01-01,\nl,,loft,unknown,2026-01-01,\n"
    "w,,store,outer wall,2026-03-11,\no,,out,unknown,2026-01-01,\n",
    "paintings": "id,title,backed\np,Harbour,no\nq,Moor,no\n",
}


def write_log(path, label, temp_c, rh_percent, start=MARCH, end=APRIL, drop=()):
    """Hourly, constant; hours in `drop` are not written."""
    times = [
        at for at in pd.date_range(start, end, freq="h", inclusive="left") if not any(a <= at < b for a, b in drop)
    ]
    rows = [f"{at:%Y-%m-%dT%H:%M:%S}Z,{temp_c:.1f},{rh_percent:.1f}" for at in times]
    path.write_text(
        "\n".join([f"Logger: {label}", "Time,Temperature (°C),Humidity (%)", *rows]) + "\n", encoding="utf-8"
    )
    return path


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone=BERLIN) as made:
        made.import_register(register(tmp_path))
        made.add([
            write_log(tmp_path / "s.csv", "S-1", 15, 60), write_log(tmp_path / "l.csv", "L-1", 25, 40),
            write_log(tmp_path / "w.csv", "W-1", 12, 70), write_log(tmp_path / "o.csv", "O-1", 2, 85),
        ])  # fmt: skip
        yield made


def register(tmp_path, **changed):
    folder = tmp_path / "register"
    folder.mkdir(exist_ok=True)
    for name, text in {**REGISTER, **changed}.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def stays(studio, tmp_path, *rows):
    """The painting's stays, and the painting."""
    text = "painting,place,position,from,to,intended\n" + "".join(f"p,{row}\n" for row in rows)
    folder = tmp_path / "stays"
    folder.mkdir(exist_ok=True)
    (folder / "stays.csv").write_text(text, encoding="utf-8")
    studio.import_register(folder)
    return studio.paintings()["p"]


def at(text):
    return pd.Timestamp(text, tz=BERLIN).tz_convert("UTC")


# ------------------------------------------------------------------------------------------------- exposures


def test_a_span_may_be_in_any_zone_and_must_have_one(demo_of_file):
    start, end = pd.Timestamp("2026-10-26", tz="Europe/Berlin"), pd.Timestamp("2026-11-02", tz="Europe/Berlin")
    with Studio.open(demo_of_file) as studio:
        painting = studio.find_painting("sluice")
        (local,), (utc,) = (
            studio.exposures(painting, *span)
            for span in ((start, end), (start.tz_convert("UTC"), end.tz_convert("UTC")))
        )
        assert judge(local, painting).level is judge(utc, painting).level is Level.ACT
        with pytest.raises(BadInput, match="without a zone"):
            studio.exposures(painting, start.tz_localize(None), end)


def test_a_painting_that_stood_still_has_the_climate_of_its_place(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2025-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    assert exposure.room.coverage == pytest.approx(1)
    assert set(exposure.room.temp_c) == {15.0}
    assert exposure.room.sensor.rh_bias_percent == 2
    assert [(s.place_name, s.zone, s.start, s.end) for s in exposure.stints] == [("Store", BERLIN, MARCH, APRIL)]
    assert exposure.room is studio.climate("store", MARCH, APRIL)  # shared by all that stood there


def test_the_hour_of_a_move_parts_the_climates(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10 12:00,", "loft,unknown,2026-03-10 12:00,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    room = exposure.room
    assert set(room.temp_c[room.time < at("2026-03-10 12:00")]) == {15.0}
    assert set(room.temp_c[room.time >= at("2026-03-10 12:00")]) == {25.0}
    assert room.hours.sum() == pytest.approx(room.span_hours)
    assert room.sensor.rh_bias_percent == 4  # the poorer of the two


def test_a_bare_move_day_belongs_to_both_places_and_both_are_given(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10,", "loft,unknown,2026-03-10,,")
    earlier, later = studio.exposures(painting, MARCH, APRIL)
    day = slice(*earlier.room.time.searchsorted([at("2026-03-10"), at("2026-03-11")]))
    assert (set(earlier.room.temp_c[day]), set(later.room.temp_c[day])) == ({15.0}, {25.0})
    assert earlier.room.coverage == later.room.coverage == pytest.approx(1)
    assert len(studio.exposures(painting, at("2026-03-12"), APRIL)) == 1  # the day lies outside


def test_a_day_spent_in_three_places_is_given_to_each(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10,", "out,unknown,2026-03-10,2026-03-10,",
                     "loft,unknown,2026-03-10,,")  # fmt: skip
    found = studio.exposures(painting, MARCH, APRIL)
    temps = [set(e.room.between(at("2026-03-10"), at("2026-03-11")).temp_c) for e in found]
    assert temps == [{15.0}, {2.0}, {25.0}]


def test_a_hole_between_stays_is_whereabouts_unknown(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10,", "loft,unknown,2026-03-13,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    hole = exposure.room.between(at("2026-03-11"), at("2026-03-13"))
    assert len(hole.time) == 0
    assert exposure.room.coverage == pytest.approx(1 - 48 / exposure.room.span_hours)
    assert "whereabouts unknown from 2026-03-11 00:00 to 2026-03-13 00:00" in exposure.notes
    assert set(exposure.room.between(at("2026-03-10"), at("2026-03-11")).temp_c) == {15.0}  # its last day is its own


def test_a_painting_without_stays_is_unknown_all_along(studio):
    (exposure,) = studio.exposures(studio.paintings()["q"], MARCH, APRIL)
    assert (len(exposure.room.time), exposure.stints, exposure.room.coverage) == (0, (), 0)
    assert any("whereabouts unknown" in note for note in exposure.notes)


def test_a_place_without_a_logger_gives_no_readings_and_says_so(studio, tmp_path):
    painting = stays(studio, tmp_path, "house,inner wall,2026-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    assert exposure.room.coverage == 0
    assert "House: no logger hung there" in exposure.notes
    assert not has_logger(studio, "house", MARCH, APRIL)
    assert has_logger(studio, "store", MARCH, APRIL)


def test_moving_a_painting_never_changes_anothers_exposure(studio, tmp_path):
    stays(studio, tmp_path, "store,rack,2026-01-01,,", )  # fmt: skip
    studio.move("q", "store", "2026-01-01", position="rack")
    before = studio.exposures(studio.paintings()["q"], MARCH, APRIL)[0].room
    studio.move("p", "loft", "2026-03-05")
    after = studio.exposures(studio.paintings()["q"], MARCH, APRIL)[0].room
    np.testing.assert_array_equal(before.temp_c, after.temp_c)


def test_an_intended_stay_is_marked_as_meant(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10 08:00,",
                     "loft,chamber,2026-03-10 08:00,2026-03-12 18:00,yes", "store,rack,2026-03-12 18:00,,")  # fmt: skip
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    assert int(exposure.intended_mask(exposure.room.time).sum()) == 58


def test_the_logger_at_the_position_speaks_while_it_hangs_and_the_room_before(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,outer wall,2026-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    room = exposure.room
    assert set(room.temp_c[room.time < at("2026-03-11")]) == {15.0}
    assert set(room.temp_c[room.time >= at("2026-03-11")]) == {12.0}


def test_where_a_logger_hangs_at_the_wall_itself_nothing_is_reckoned_from_it_again(studio, tmp_path):
    painting = stays(studio, tmp_path, "store,outer wall,2026-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    assert [stint.own_logger for stint in exposure.stints] == [False, True]
    assert exposure.stints[1].start == at("2026-03-11")
    assert exposure.points[WALL_FACE].time[-1] < at("2026-03-11")
    assert any("by a logger at the outer wall itself" in note for note in exposure.notes)


def test_behind_a_picture_on_an_outer_wall_it_is_colder_and_damper_than_the_room(studio, tmp_path):
    studio.set_hanging("w", "house", "2026-03-11")  # instead of on the store's outer wall
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-10 12:00,", "store,outer wall,2026-03-10 12:00,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    wall, back = exposure.points[WALL_FACE], exposure.points[CANVAS_BACK]
    assert wall.time[0] == at("2026-03-10 12:00")
    expected = walls.behind_picture(15.0, 60.0, 2.0, backed=False)
    assert (wall.temp_c[-1], back.temp_c[-1]) == pytest.approx((expected[0][0], expected[1][0]))
    assert wall.temp_c[-1] < back.temp_c[-1] < exposure.room.temp_c[-1]
    assert wall.rh_percent[-1] > back.rh_percent[-1] > 60
    assert any("behind the picture" in note for note in exposure.notes)


def test_the_wall_is_run_at_both_ends_of_what_solid_brick_may_be(studio, tmp_path):
    studio.set_hanging("w", "house", "2026-03-11")
    painting = stays(studio, tmp_path, "store,outer wall,2026-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    (wall_c, _), (back_c, _) = walls.behind_picture(15.0, 60.0, 2.0, u_value=1.3)
    for point, milder_c in ((WALL_FACE, wall_c), (CANVAS_BACK, back_c)):
        face = exposure.points[point]
        assert face.reckoned_u_k == pytest.approx(milder_c - face.temp_c[-1])
    assert exposure.points[WALL_FACE].reckoned_u_k > exposure.points[CANVAS_BACK].reckoned_u_k > 0.4
    assert exposure.room.reckoned_u_k == 0
    assert any("with 1.3, as measured" in note for note in exposure.notes)


def test_without_a_logger_outdoors_the_wall_is_not_known_and_said_so(studio, tmp_path):
    studio.set_hanging("w", "house", "2026-03-11")
    indoors = REGISTER["places"].replace("outdoors", "other")
    studio.import_register(register(tmp_path, places=indoors, hangings="logger,place,from\n"))
    painting = stays(studio, tmp_path, "store,outer wall,2026-01-01,,")
    (exposure,) = studio.exposures(painting, MARCH, APRIL)
    assert set(exposure.points) == {ROOM}
    assert any("no logger reads outdoors" in note for note in exposure.notes)


def test_the_wall_follows_the_mean_outdoors_and_not_the_hour(studio, tmp_path):
    assert OUTDOOR_MEAN_H >= 24
    studio.set_hanging("w", "house", "2026-03-11")
    later = at("2026-04-01"), at("2026-04-02")
    studio.add(
        [write_log(tmp_path / "o2.csv", "O-1", -10, 85, *later), write_log(tmp_path / "s2.csv", "S-1", 15, 60, *later)]
    )
    painting = stays(studio, tmp_path, "store,rack,2026-01-01,2026-03-30 00:00,", "store,outer wall,2026-03-30 00:00,,")
    (exposure,) = studio.exposures(painting, at("2026-03-30"), at("2026-04-02"))
    assert exposure.points[WALL_FACE].time[0] == at("2026-03-30")  # the mean reaches back before the span
    wall = exposure.points[WALL_FACE].between(*later)
    assert (np.diff(wall.temp_c) < 0).all()
    assert wall.temp_c[0] > wall.temp_c[-1] + 1


# --------------------------------------------------------------------------------- the climate of a place


def test_what_the_rooms_logger_missed_a_second_one_there_fills_in(studio, tmp_path):
    hours = [(MARCH, at("2026-03-01 05:00")), (at("2026-03-05"), at("2026-03-06"))]
    studio.import_register(register(
        tmp_path, loggers=REGISTER["loggers"] + "x,Second logger,X-1,0.5,5\n" + "y,Third logger,Y-1,0.5,5\n",
        places=REGISTER["places"] + "office,Office,other\n",
        hangings=REGISTER["hangings"] + "x,,office,inner wall,2026-01-01,\ny,,office,rack,2026-01-01,\n",
    ))  # fmt: skip
    studio.add([write_log(tmp_path / "x.csv", "X-1", 18, 50), write_log(tmp_path / "y.csv", "Y-1", 19, 55, drop=hours)])
    office = studio.climate("office", MARCH, APRIL)
    assert office.coverage == pytest.approx(1)
    filled = np.logical_or.reduce([(office.time >= a) & (office.time < b) for a, b in hours])
    assert (set(office.temp_c[filled]), set(office.temp_c[~filled])) == ({18.0}, {19.0})
    note = next(note for note in office.notes if "29 h read by a second logger" in note)
    assert "± 1.0 °C and ± 5.0 % RH, as the two differed where both read" in note
    assert (office.sensor.temp_bias_c, office.sensor.rh_bias_percent) == (1.0, 5.0)


def test_a_dead_logger_is_stood_in_for_by_a_neighbour_with_what_it_may_be_off(studio, tmp_path):
    dead = at("2026-03-05"), at("2026-03-10")
    studio.import_register(register(
        tmp_path, places=REGISTER["places"] + "office,Office,other\n",
        loggers=REGISTER["loggers"] + "x,Office logger,X-1,0.3,2\n",
        hangings=REGISTER["hangings"] + "x,,office,rack,2026-01-01,\n",
    ))  # fmt: skip
    studio.add([write_log(tmp_path / "x.csv", "X-1", 19, 55, drop=[dead])])
    before = studio.climate("office", MARCH, APRIL)
    assert before.coverage == pytest.approx(26 / 31, abs=0.01)
    studio.stand_in("office", "store", "2026-03-07", temp_u_c=4, rh_u_percent=6, note="same corridor")
    after = studio.climate("office", MARCH, APRIL)
    stood = (after.time >= at("2026-03-07")) & (after.time < dead[1])
    assert set(after.temp_c[stood]) == {15.0}
    assert set(after.temp_c[~stood]) == {19.0}  # where its own logger reads, it alone counts
    assert not ((after.time >= dead[0]) & (after.time < at("2026-03-07"))).any()  # before it was named: unknown
    assert after.sensor.temp_bias_c == pytest.approx(np.hypot(0.3, 4))
    assert after.sensor.rh_bias_percent == pytest.approx(np.hypot(2, 6))
    assert any("stood in for by Store" in note and "± 4 °C and ± 6 % RH as stated" in note for note in after.notes)
    assert studio.climate("store", MARCH, APRIL).sensor.temp_bias_c == 0.3  # the neighbour is not changed by it
    studio.stand_in("store", "office", "2026-03-01", temp_u_c=4, rh_u_percent=6)  # each for the other: no circle
    assert studio.climate("office", MARCH, APRIL).coverage == pytest.approx(after.coverage)
    studio.export_register(tmp_path / "out")
    assert (tmp_path / "out" / "stand_ins.csv").read_text(encoding="utf-8").splitlines()[1] == (
        "office,store,2026-03-07,,4,6,same corridor"
    )
    with pytest.raises(BadInput, match="^'[a-z]+' cannot stand in for itself"):
        studio.stand_in("loft", "loft", "2026-03-01", temp_u_c=1, rh_u_percent=1)
    with pytest.raises(BadInput, match="temp_u_c is empty|temp_u_c"):
        studio.stand_in("loft", "store", "2026-03-01", temp_u_c=-1, rh_u_percent=1)


def test_a_logger_over_the_radiator_never_fills_in_for_the_room(studio, tmp_path):
    hung = REGISTER["hangings"].replace("w,,store,outer wall", "w,,store,radiator")
    studio.import_register(register(tmp_path, hangings=hung))
    studio.add([write_log(tmp_path / "w2.csv", "W-1", 30, 25, APRIL, at("2026-04-08"))])
    assert studio.climate("store", APRIL, at("2026-04-08")).coverage == 0
    assert studio.climate("store", APRIL, at("2026-04-08"), "radiator").coverage == pytest.approx(1)


def test_where_only_one_spot_has_a_logger_it_speaks_for_the_room_and_that_is_said(studio, tmp_path):
    hung = REGISTER["hangings"].replace("l,,loft,unknown", "l,,loft,window")
    studio.import_register(register(tmp_path, hangings=hung))
    loft = studio.climate("loft", MARCH, APRIL)
    assert loft.coverage == pytest.approx(1)
    assert "Loft: the only logger there hangs at the window" in loft.notes


def test_a_gap_counts_for_nobody_and_a_bad_reading_is_missing(studio, tmp_path):
    dead = {30: 1.0, 31: 99.0, 32: 1.0, 33: 99.0}  # a sensor that jumps from end to end
    rows = [f"2026-04-{2 + n // 24:02d}T{n % 24:02d}:00:00Z,18.{n % 7},{dead.get(n, 50 + n % 5 / 10)}"
            for n in range(72) if not 40 <= n < 50]  # fmt: skip
    file = tmp_path / "l2.csv"
    file.write_text("\n".join(["Logger: L-1", "Time,Temperature (°C),Humidity (%)", *rows]), encoding="utf-8")
    assert studio.add([file]).outcomes[0].marked["dead humidity sensor"] == 4
    span = pd.Timestamp("2026-04-02", tz="UTC"), pd.Timestamp("2026-04-05", tz="UTC")
    loft = studio.climate("loft", *span)
    assert loft.coverage == pytest.approx(58 / 72)
    assert loft.temp_coverage == pytest.approx(62 / 72)  # the temperatures of those readings are good
    assert np.nanmax(loft.rh_percent) < 60


def test_days_of_moves_are_worked_out_in_the_zone_of_the_place():
    places = {"ny": Place("ny", "West", zone="America/New_York"), "be": Place("be", "East", zone=BERLIN)}
    west = Stay(
        "ny", pd.Timestamp("2026-01-01", tz="America/New_York"), pd.Timestamp("2026-03-10", tz="America/New_York")
    )
    (way,) = variants((west,), places, MARCH, APRIL)
    assert way[0].end == pd.Timestamp("2026-03-11", tz="America/New_York")


# ----------------------------------------------------------------------------------- what is kept of a review


def found(level=Level.ACT, painting="p", mechanism="damp hours", **more):
    return Finding("lining", mechanism, "film", ROOM, level, "It was damp.", painting_id=painting, **more)


def test_a_finding_keeps_its_number_from_week_to_week(studio):
    first, clear, second = reviews.number_findings(
        studio, [found(), found(Level.CLEAR, mechanism="x"), found(mechanism="heat")]
    )
    assert (first.number, clear.number, second.number) == (1, None, 2)
    again = reviews.number_findings(
        studio, [found(Level.WATCH, mechanism="heat"), found(Level.CLEAR), found(painting="q")]
    )
    assert [finding.number for finding in again] == [2, 1, 3]
    with Studio.open(studio.folder) as other:
        assert reviews.number_findings(other, [found()])[0].number == 1


def test_a_kept_review_comes_back_with_the_limits_then_in_force(studio):
    number = reviews.number_findings(studio, [found()])[0].number
    record = {"label": "2026-W10", "levels": {"p": 3}, "findings": [{"number": number, "painting": "p", "level": 3,
              "sentence": "It was damp.", "value": float("nan")}]}  # fmt: skip
    week = pd.Timedelta(days=7)
    reviews.keep_review(studio, MARCH, MARCH + week, record, {"damp": {"limit": 65}}, APRIL)
    reviews.keep_review(studio, MARCH + week, MARCH + 2 * week, {"label": "2026-W11"}, {"damp": {"limit": 60}}, APRIL)
    first, second = reviews.reviews(studio)
    assert (first["limits"], second["limits"]) == ({"damp": {"limit": 65}}, {"damp": {"limit": 60}})
    assert (first["label"], first["period_end"], first["made_at"]) == ("2026-W10", MARCH + week, APRIL)
    assert reviews.previous_review(studio, MARCH + week)["label"] == "2026-W10"
    assert reviews.previous_review(studio, MARCH) is None
    assert reviews.last_review(studio)["label"] == "2026-W11"
    told = reviews.finding(studio, number)
    assert (told["label"], told["painting_id"], told["period_start"], told["sentence"]) == (
        "2026-W10", "p", MARCH, "It was damp.",
    )  # fmt: skip
    with pytest.raises(NotThere, match="no finding"):
        reviews.finding(studio, 99)


def test_tasks_are_raised_once_closed_with_a_word_and_come_back(studio):
    reviews.raise_task(studio, 1, "p", "look at the edges", APRIL, MARCH)
    reviews.raise_task(studio, 1, "p", "look again", APRIL, MARCH)
    (task,) = reviews.tasks(studio)
    assert (task.what, task.due, task.state, task.raised_on) == ("look at the edges", APRIL, "open", MARCH)
    closed = reviews.close_task(studio, 1, "edges firm")
    assert (closed.state, closed.note, reviews.tasks(studio)) == ("closed", "edges firm", ())
    with pytest.raises(NotThere, match="no open task"):
        reviews.close_task(studio, 1, "again")
    reviews.raise_task(studio, 1, "p", "look at the edges", APRIL, APRIL)
    assert [task.state for task in reviews.tasks(studio, open_only=False)] == ["closed", "open"]


def test_what_was_put_off_comes_back_in_time_or_when_it_grows_worse(studio):
    (finding,) = reviews.number_findings(studio, [found()])
    record = {"findings": [{"number": finding.number, "painting": "p", "level": 3, "sentence": "It was damp."}]}
    reviews.keep_review(studio, MARCH, APRIL, record, {})
    task = reviews.put_off(studio, finding.number, "the owner is away", at("2026-05-01"))
    assert (task.state, task.painting_id) == ("put off", "p")
    assert reviews.put_off_reason(studio, finding, APRIL) == "until 1 May 2026: the owner is away"
    assert reviews.put_off_reason(studio, finding, at("2026-05-01")) == ""
    (worse,) = reviews.number_findings(studio, [found(Level.URGENT)])
    assert reviews.put_off_reason(studio, worse, APRIL) == ""
    with pytest.raises(NotThere):
        reviews.put_off(studio, 88, "never", APRIL)


def test_a_task_is_neither_closed_nor_put_off_without_a_word(studio):
    reviews.raise_task(studio, 1, "p", "look at the edges", APRIL, MARCH)
    with pytest.raises(BadInput, match="what was done"):
        reviews.close_task(studio, 1, "  ")
    with pytest.raises(BadInput, match="why it can wait"):
        reviews.put_off(studio, 1, "", APRIL)
    assert [(task.state, task.put_off_until) for task in reviews.tasks(studio)] == [("open", None)]


def test_no_printed_sheet_is_lost(studio):
    first = reviews.keep_sheet(studio, "2026-W10-a4.pdf", b"one")
    assert reviews.keep_sheet(studio, "2026-W10-a4.pdf", b"one") == first
    second = reviews.keep_sheet(studio, "2026-W10-a4.pdf", b"two")
    assert (first.name, second.name) == ("2026-W10-a4.pdf", "2026-W10-a4-2.pdf")
    assert (first.read_bytes(), second.read_bytes()) == (b"one", b"two")
    outside = reviews.keep_sheet(studio, "../../out.pdf", b"x")
    assert outside.parent == studio.folder / "sheets"
