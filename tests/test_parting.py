"""A file parted from its logger, originals read anew, and both taken back. Kept rows are compared one by one.

That taking a thing back leaves what was there before is common practice, no source.
"""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.intake.merge import rewrite
from envwatch.archive.intake.part import kept_file
from envwatch.archive.store import parts
from envwatch.core.errors import BadInput, NotThere, Question
from envwatch.logs import Answers
from tests.program import run
from tests.test_archive import MONDAY, readings, write_log

DAY = pd.Timedelta(days=1)


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        yield made


@pytest.fixture
def swallowed(studio, tmp_path):
    """Three overlapping files of a logger, of which the second was given to it by mistake."""
    made = [
        write_log(tmp_path / f"klima {n}.csv", MONDAY + n * DAY, rows=96, temp_c=18 + 4 * (n == 1)) for n in range(3)
    ]
    for file in made:
        studio.add([file], logger="new" if file is made[0] else "klima-0")
    return studio


def rows(studio, logger):
    """Every row as it is kept, with its file and line."""
    found = studio.reader.series(studio.state().parts.get(logger, []))
    return {
        name: np.stack([s.time, s.temp_c, s.rh_percent, s.marks, s.file, s.line]).T.tolist()
        for name, s in found.items()
    }


def sidecar(studio, name):
    found = [json.loads(path.read_text(encoding="utf-8")) for path in (studio.folder / "originals").glob("*.json")]
    return next(one for one in found if one["name"] == name)


# ------------------------------------------------------------------------------------------------------ parting


def test_a_parted_file_leaves_its_logger_as_if_it_had_never_been_its(swallowed, tmp_path):
    done = swallowed.part("klima 1.csv")
    assert (done.was, done.logger, done.readings) == ("klima-0", "klima-1", 96)
    with Studio.create(tmp_path / "other", name="x", zone="Europe/Berlin") as other:
        other.add([tmp_path / "klima 0.csv"], logger="new")
        other.add([tmp_path / "klima 2.csv"], logger="klima-0")
        assert readings(swallowed, "klima-0") == readings(other, "klima-0")
    assert len(readings(swallowed, "klima-1")["1"]) == 96
    assert sidecar(swallowed, "klima 1.csv")["logger"] == "klima-1"
    assert swallowed.check(rebuild=True).problems == ()


def test_a_parting_is_taken_back_to_the_very_rows(swallowed):
    before, loggers = rows(swallowed, "klima-0"), swallowed.loggers().keys()
    assert swallowed.part("klima 1.csv").batch == 4
    report = swallowed.undo()
    assert report.back == {"klima 1.csv": "klima-0"}
    assert (rows(swallowed, "klima-0"), swallowed.loggers().keys()) == (before, loggers)
    assert sidecar(swallowed, "klima 1.csv")["logger"] == "klima-0"
    assert not (swallowed.folder / "originals" / "undone").exists()
    assert swallowed.check(rebuild=True).problems == ()


def test_an_add_whose_file_was_parted_is_taken_back_after_the_parting(swallowed):
    swallowed.part("klima 1.csv")
    with pytest.raises(BadInput, match="Take back add 4 first"):
        swallowed.undo(2)
    swallowed.undo(4)
    assert swallowed.undo(2).files == ("klima 1.csv",)
    assert len(readings(swallowed, "klima-0")["1"]) == 48 * 4


def test_the_only_file_of_a_logger_parts_and_comes_back_with_its_logger(studio, tmp_path):
    studio.add([write_log(tmp_path / "klima.csv", label="A-1"), write_log(tmp_path / "x.csv", temp_c=12, label="B-2")])
    before = rows(studio, "a-1")
    assert studio.part("klima.csv", "b-2").logger == "b-2"
    assert studio.loggers().keys() == {"b-2"}
    studio.undo()
    assert rows(studio, "a-1") == before


def test_a_parting_onto_a_logger_that_read_otherwise_names_the_other_file_and_how_to_take_it_back(studio, tmp_path):
    studio.add([write_log(tmp_path / "klima.csv", label="A-1")])
    studio.add([write_log(tmp_path / "x.csv", temp_c=12, label="B-2")])
    told = studio.part("klima.csv", "b-2").asks[0]
    assert told.startswith("48 of them differ from what x.csv (add 2) gives for the same instants")


def test_after_a_parting_the_next_file_with_that_label_is_asked_about(studio, tmp_path):
    for n in range(2):
        studio.add([write_log(tmp_path / f"a {n}.csv", MONDAY + n * DAY, rows=48, label="A-1")])
    studio.part("a 1.csv")
    (asked,) = studio.add([write_log(tmp_path / "a 2.csv", MONDAY + 2 * DAY, rows=48, label="A-1")]).outcomes
    assert (asked.status, asked.choices) == ("in the tray", ("a-1", "a-1-2", "new"))


def test_what_was_answered_of_the_file_stays_and_what_is_the_loggers_goes(studio, tmp_path):
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name,zone\nrack,Rack,Asia/Tokyo\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    text = "Time,Temperature (°C),Humidity (%)\n01/02/2026 12:00,18.1,51\n02/02/2026 12:00,18.2,52\n"
    (tmp_path / "rack.csv").write_text(text, encoding="utf-8")
    (asked,) = studio.add([tmp_path / "rack.csv"]).outcomes
    studio.add([asked.number], Answers(dates="dmy"))
    logger = studio.part("rack.csv").logger
    first = readings(studio, logger)["1"][0][0]
    assert pd.Timestamp(first, unit="us", tz="UTC") == pd.Timestamp("2026-02-01 12:00", tz="Europe/Berlin")


def test_a_file_to_be_parted_is_named_once(swallowed, tmp_path):
    with pytest.raises(NotThere):
        swallowed.part("nothing.csv")
    with pytest.raises(BadInput, match="is of klima-0 already"):
        swallowed.part("klima 1.csv", "klima-0")
    (tmp_path / "b").mkdir()
    swallowed.add([write_log(tmp_path / "b" / "klima 1.csv", MONDAY + 9 * DAY)], logger="new")
    with pytest.raises(Question, match="several files of this name"):
        swallowed.part("klima 1.csv")
    assert swallowed.part("2").file == "klima 1.csv"


def test_the_command_says_where_the_readings_count_now(swallowed, tmp_path):
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "places.csv").write_text("id,name,kind\nroom,The room,store\n", encoding="utf-8")
    swallowed.import_register(tmp_path / "register")
    swallowed.set_hanging("klima-0", "room", "2026-01-01")
    done = run("part", "klima 1.csv", "--studio", swallowed.folder)
    said = " ".join(done.stdout.split())
    assert done.returncode == 0, done.stderr
    assert "klima 1.csv is no longer of klima-0: its 96 readings are of klima-1." in said
    assert "They count no longer for The room." in said
    assert "say where it hung from 2026-01-06 on (envwatch hung klima-1 PLACE)" in said
    assert "envwatch undo 4" in said


def test_a_file_kept_under_another_answer_is_kept_as_before_once_that_is_taken_back(studio, tmp_path):
    text = "".join(f"2026-01-05 {hour:02d}:00,18.{hour % 10},50.0\n" for hour in range(24))
    (tmp_path / "loft.csv").write_text("Time,Temperature (°C),Humidity (%)\n" + text, encoding="utf-8")
    studio.add([tmp_path / "loft.csv"])
    before = rows(studio, "loft")
    studio.add([tmp_path / "loft.csv"], Answers(zone="UTC"))
    assert rows(studio, "loft") != before
    studio.undo()
    assert rows(studio, "loft") == before


def test_the_page_parts_the_file_that_is_open_and_draws_what_waits(own, tmp_path):
    from dashboards.pages import files

    with own.writing() as studio:
        row = kept_file(studio, "Innenwand Wohnzimmer (3).csv")
        start = pd.Timestamp(row["first_us"], unit="us", tz="UTC")
        file = write_log(tmp_path / "Innenwand Wohnzimmer.csv", start.floor("h"), temp_c=35, rows=400, minutes=15)
        (asked,) = studio.add([file]).outcomes
        assert (asked.status, asked.choices[0]) == ("in the tray", "house_inner")
    page = json.dumps(files.layout(own, "", {"file": str(row["id"])}).to_plotly_json(), default=as_json)
    assert "heavy: Innenwand Wohnzimmer.csv; thin: House inner wall" in page
    assert "it is not House inner wall\\u2019s; it is" in page
    said = json.dumps(files._parted(row["id"], "new").to_plotly_json(), default=as_json)
    assert f"{row['name']} is no longer of house_inner" in said
    assert "They count no longer for" in said


def as_json(part):
    return part.to_plotly_json() if hasattr(part, "to_plotly_json") else str(part)


# ------------------------------------------------------------------------------------------------- reading anew


def older(studio, logger, change):
    """What an older reader had kept of a logger: its readings, changed through the archive's own writing."""
    with studio.writing("a test"):
        found = studio.reader.series(studio.state().parts[logger])
        rewrite(studio, logger, parts.by_year({name: change(series) for name, series in found.items()}))


def later(series):
    """An hour late, the first four rows not read, the humidity of one read otherwise."""
    humid = series.rh_percent.copy()
    humid[10] += 5
    return replace(series, rh_percent=humid).take(slice(4, None))


def test_originals_that_read_as_kept_are_not_told(swallowed):
    report = swallowed.reread()
    assert (report.read, report.files, report.batch) == (3, (), None)
    assert swallowed.reread(apply=True).batch is None


def test_reading_anew_tells_the_differences_by_file_and_changes_nothing(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv", label="A"), write_log(tmp_path / "b.csv", label="B")])
    older(studio, "a", later)
    kept = rows(studio, "a")
    (one,) = studio.reread().files
    assert (one.name, one.gained, one.lost, one.changed, one.moved) == ("a.csv", 4, 0, 1, 0)
    assert rows(studio, "a") == kept


def test_reading_anew_is_taken_as_one_batch_and_taken_back(studio, tmp_path):
    files = [write_log(tmp_path / f"a {n}.csv", MONDAY + n * DAY, rows=96, label="A") for n in range(3)]
    studio.add([*files, write_log(tmp_path / "b.csv", label="B")])
    true = readings(studio, "a")
    older(studio, "a", lambda series: replace(series, time=series.time - 3_600_000_000))
    kept, untouched = rows(studio, "a"), rows(studio, "b")
    report = studio.reread(apply=True)
    assert {(one.name, one.moved_min) for one in report.files} == {(f"a {n}.csv", 60.0) for n in range(3)}
    assert (readings(studio, "a"), rows(studio, "b")) == (true, untouched)
    assert studio.check(rebuild=True).problems == ()
    assert studio.reread().files == ()
    studio.undo(report.batch)
    assert (rows(studio, "a"), rows(studio, "b")) == (kept, untouched)
    assert len(studio.reread().files) == 3


def test_an_original_that_cannot_be_read_stays_as_it_was_kept(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv", label="A")])
    kept = rows(studio, "a")
    next((studio.folder / "originals").glob("*.csv")).unlink()
    (one,) = studio.reread(apply=True).files
    assert "is gone" in one.problem
    assert rows(studio, "a") == kept


def test_a_reviewed_week_that_reads_otherwise_says_so(demo_copy):
    """The demo's store, kept with damp the reader does not see in its files: the command names the reviewed week."""
    with Studio.open(demo_copy) as studio:
        start = pd.Timestamp("2026-10-20", tz="UTC").value // 1000

        def damp(series):
            wet = (series.time >= start) & (series.time < start + 4 * 86_400_000_000)
            return replace(series, rh_percent=np.where(wet, 92.0, series.rh_percent))

        older(studio, "store_rack", damp)
        run("review", "--week", "2026-W43", "--studio", demo_copy)
    told = run("reread", "--studio", demo_copy)
    assert "rows changed" in told.stdout
    assert "envwatch reread --apply" in told.stdout
    taken = run("reread", "--apply", "--studio", demo_copy)
    assert "Reviewed before and judged again: 2026-W43" in " ".join(taken.stdout.split()), taken.stdout


def test_the_page_shows_what_reads_otherwise_and_takes_it_as_one_add(studio, tmp_path):
    from dashboards import create_app
    from dashboards.pages import files as page
    from tests.test_dashboards import text_of

    studio.add([write_log(tmp_path / "a.csv", label="A"), write_log(tmp_path / "b.csv", label="B")])
    older(studio, "a", later)
    kept = rows(studio, "a")
    with create_app(studio.folder).server.test_request_context("/"):
        shown = text_of(page._anew(take=False))
        assert "2 originals read anew: one file would give other readings" in shown and "a.csv (a)" in shown
        assert "keep them as they read now" in shown and rows(studio, "a") == kept
        assert "Taken as add 2" in text_of(page._anew(take=True))
        assert rows(studio, "a") != kept
        assert "all give the readings that are kept" in text_of(page._anew(take=False))
    studio.undo(2)
    assert rows(studio, "a") == kept
