"""An original that was damaged, swapped, emptied or lost: named by whatever would read it, and nothing built from it.

That a SHA-256 tells any change of a file is FIPS 180-4's promise; here it is checked with sha256 of the library alone.
"""

import hashlib
import re
import shutil
import zipfile

import pandas as pd
import pytest
from sqlalchemy import select

from envwatch.archive import Studio
from envwatch.archive.intake import preview
from envwatch.archive.store.tables import FILES
from envwatch.archive.upkeep.backup import restore
from envwatch.archive.upkeep.bundle import files_behind, write_bundle
from envwatch.core.errors import EnvwatchError, StudioError
from envwatch.logs import Answers
from tests.test_archive import MONDAY, place, readings, write_log

HALF_DAY = pd.Timedelta(hours=12)
WAYS = ("one bit", "a later figure", "cut", "swapped", "emptied", "gone")
NAMED = re.compile(r"store_1\.csv \(logger a\): its original (is gone|was changed since it was kept)")


@pytest.fixture
def studio(tmp_path):
    """Two loggers; two overlapping files of the first, each added by itself; a file in the tray."""
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        made.add([write_log(tmp_path / "store_1.csv", label="A"), write_log(tmp_path / "loft.csv", label="B", rows=60)])
        made.add([write_log(tmp_path / "store_2.csv", start=MONDAY + HALF_DAY, label="A")])
        made.add([either(tmp_path / "either.csv")])
        place(made, "a")
        yield made


def either(path):
    rows = "".join(f"03/04/2026 {hour:02d}:00,18.{hour % 10},50.{hour % 10}\n" for hour in range(24))
    path.write_text("Time,Temp C,RH\n" + rows, encoding="utf-8")
    return path


def original(studio, source):
    """Where the original of a file stands, by the library's own hash."""
    (path,) = studio.folder.glob(f"originals/{hashlib.sha256(source.read_bytes()).hexdigest()}.csv")
    return path


def damage(path, way):
    content = bytearray(path.read_bytes())
    if way == "one bit":
        content[len(content) // 2] ^= 1
    elif way == "a later figure":  # still a file that reads well, of the same size
        at = content.rindex(b".")
        content[at + 1 : at + 2] = b"7" if content[at + 1 : at + 2] != b"7" else b"3"
    elif way == "cut":
        del content[content.index(b"\n", len(content) // 2) + 1 :]  # behind a row: what is left reads well
    elif way == "swapped":
        content[:] = next(p for p in sorted(path.parent.glob("*.csv")) if p != path).read_bytes()
    elif way == "emptied":
        content.clear()
    path.write_bytes(bytes(content))
    if way == "gone":
        path.unlink()


def everything(studio):
    """All readings and files of the register, and every byte of the readings on disk."""
    with studio.reading() as connection:
        rows = [tuple(row) for row in connection.execute(select(FILES).order_by(FILES.c.id))]
    parts = {path.name: path.read_bytes() for path in studio.folder.glob("readings/*/*")}
    return {logger: readings(studio, logger) for logger in studio.loggers()}, rows, parts


@pytest.mark.parametrize("way", WAYS)
def test_a_harmed_original_is_named_nothing_is_built_from_it_and_the_true_file_heals_it(studio, tmp_path, way):
    held, path = everything(studio), original(studio, tmp_path / "store_1.csv")
    damage(path, way)
    harmed = path.read_bytes() if path.exists() else None

    report = studio.check()
    assert [bool(NAMED.match(line)) for line in report.problems] == [True] and report.problems[0].endswith(
        '"store_1.csv"'
    )
    report = studio.check(rebuild=True)
    assert NAMED.match(report.problems[0]) and all("store_1.csv (logger a)" in line for line in report.problems)
    with pytest.raises(StudioError, match=NAMED):
        studio.undo()  # of store_2.csv: what only that one was kept for would be read from store_1.csv
    with pytest.raises(StudioError, match=NAMED):
        preview.glance(studio, 1, MONDAY + 9 * HALF_DAY)
    with pytest.raises(StudioError, match=NAMED):
        studio.add([tmp_path / "store_2.csv"], logger="b")  # kept as another's: what is left would be read again
    trace = studio.trace("room", MONDAY + pd.Timedelta(hours=2))
    assert trace.file_name == "store_1.csv" and NAMED.match(trace.problem)
    assert everything(studio) == held
    assert (path.read_bytes() if path.exists() else None) == harmed

    shutil.copy(tmp_path / "store_1.csv", tmp_path / "the same again.csv")
    (outcome,) = studio.add([tmp_path / "the same again.csv"]).outcomes
    assert outcome.status == "already kept" and any("put back from this file" in note for note in outcome.notes)
    assert path.read_bytes() == (tmp_path / "store_1.csv").read_bytes()
    assert studio.check(rebuild=True).problems == () and everything(studio) == held
    assert harmed is None or harmed in [p.read_bytes() for p in studio.folder.glob("originals/undone/*")]
    assert studio.trace("room", MONDAY + pd.Timedelta(hours=2)).problem == ""


@pytest.mark.parametrize("way", WAYS)
def test_readings_that_are_lost_are_not_made_again_from_a_harmed_original(studio, tmp_path, way):
    """The case that would be worst: the part is gone, and what stands in the originals is another file."""
    damage(original(studio, tmp_path / "store_1.csv"), way)
    part = studio.folder / studio.state().parts["a"][0].path
    content = part.read_bytes()
    part.unlink()
    report = studio.check(rebuild=True)
    assert report.repaired == () and any(line.startswith("logger a: cannot be rebuilt") for line in report.problems)
    assert not part.exists()
    studio.add([tmp_path / "store_1.csv"])
    report = studio.check(rebuild=True)
    assert (report.problems, len(report.repaired)) == ((), 1)
    assert (studio.folder / studio.state().parts["a"][0].path).read_bytes() == content


@pytest.mark.parametrize("way", WAYS)
def test_a_harmed_original_in_the_tray_takes_no_answer(studio, tmp_path, way):
    path = original(studio, tmp_path / "either.csv")
    damage(path, way)
    assert "either.csv: its original" in preview.first_lines(studio, 1)[0] and len(preview.first_lines(studio, 1)) == 1
    (outcome,) = studio.add([1], Answers(dates="dmy")).outcomes
    assert outcome.status == "refused" and outcome.reason.startswith("either.csv: its original")
    assert any(line.startswith("either.csv: its original") for line in studio.check().problems)
    (outcome,) = studio.add([tmp_path / "either.csv"]).outcomes
    assert (outcome.status, outcome.number) == ("in the tray", 1) and "put back" in outcome.notes[-1]
    assert path.read_bytes() == (tmp_path / "either.csv").read_bytes()
    assert studio.add([1], Answers(dates="dmy")).outcomes[0].new == 24


@pytest.mark.parametrize("way", WAYS)
def test_an_undo_of_a_harmed_file_says_so_and_never_lays_it_over_a_true_one(studio, tmp_path, way):
    studio.add([write_log(tmp_path / "cellar.csv", label="C")])
    whole = original(studio, tmp_path / "cellar.csv").read_bytes()
    studio.undo()
    studio.add([tmp_path / "cellar.csv"])
    damage(original(studio, tmp_path / "cellar.csv"), way)
    said = studio.undo().sentence
    assert "cellar.csv (logger c): its original" in said
    assert whole in [path.read_bytes() for path in studio.folder.glob("originals/undone/*.csv")]


@pytest.mark.parametrize("way", WAYS)
def test_a_backup_and_what_is_restored_from_it_name_a_harmed_original(studio, tmp_path, way):
    damage(original(studio, tmp_path / "store_1.csv"), way)
    (problem,) = studio.back_up(tmp_path / "kept.zip").problems
    assert NAMED.match(problem)
    restore(tmp_path / "kept.zip", tmp_path / "again")
    with Studio.open(tmp_path / "again") as again:
        assert NAMED.match(again.check().problems[0])
        again.add([tmp_path / "store_1.csv"])
        assert again.check(rebuild=True).problems == ()


@pytest.mark.parametrize("way", WAYS)
def test_a_bundle_leaves_a_harmed_original_out_and_says_so(studio, tmp_path, way):
    damage(original(studio, tmp_path / "store_1.csv"), way)
    stints = studio.place_exposure("room", MONDAY, MONDAY + HALF_DAY).stints
    files = files_behind(studio, stints)
    assert "store_1.csv" in [file.name for file in files]
    names = write_bundle(studio, tmp_path / "b.zip", {}, files, MONDAY)
    assert [bool(NAMED.match(line)) for line in names.problems] == [True]
    with zipfile.ZipFile(tmp_path / "b.zip") as bundle:
        assert not [name for name in bundle.namelist() if name.endswith("store_1.csv")]


def test_a_big_original_is_held_against_its_hash_too(studio, tmp_path, monkeypatch):
    from envwatch.archive.intake import add
    from envwatch.logs.text import encoding

    monkeypatch.setattr(encoding, "BIG_BYTES", 1)  # hashed beside the reading
    monkeypatch.setattr(add, "BIG_BYTES", 1)
    held, path = everything(studio), original(studio, tmp_path / "store_1.csv")
    damage(path, "a later figure")
    with pytest.raises(StudioError, match=NAMED):
        studio.undo()
    assert everything(studio) == held
    assert studio.add([tmp_path / "store_1.csv"]).outcomes[0].status == "already kept"
    assert path.read_bytes() == (tmp_path / "store_1.csv").read_bytes()


def test_the_pages_name_a_harmed_original_and_build_nothing_from_it(studio, tmp_path):
    from dashboards import create_app
    from dashboards.pages import files
    from tests.test_dashboards import dropped, text_of

    held = everything(studio)
    damage(original(studio, tmp_path / "store_1.csv"), "a later figure")
    damage(original(studio, tmp_path / "either.csv"), "one bit")
    app = create_app(studio.folder, now=lambda: MONDAY + 9 * HALF_DAY)

    def undone() -> str:
        """The button that takes back the last add, pressed."""
        try:
            return text_of(files._undone(max(f.batch for f in files.preview.kept_files(studio))))
        except EnvwatchError as error:
            return str(error)

    with app.server.test_request_context("/"):
        home = app.server.config["HOUSE"]
        shown = text_of(files.layout(home, "", {"file": "1"}))
        assert NAMED.search(shown) and "either.csv: its original was changed" in shown
        assert "How store_1.csv was understood" not in shown
        assert NAMED.search(undone())
        with home.writing() as house:
            assert "its original was changed" in text_of(files._answered(house, 1, "dmy"))
        assert everything(studio) == held
        content = (tmp_path / "store_1.csv").read_bytes()
        assert "put back from this file" in text_of(files.take([dropped(content)], ["store_1.csv"], 0))
        assert "is taken back" in undone()
    app.server.config["HOUSE"].close()
