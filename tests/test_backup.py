"""A backup made at any time gives the same studio elsewhere; a plain copy of a quiet folder does too."""

import shutil
import zipfile

import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.archive.upkeep.backup import restore
from envwatch.core.errors import BadInput
from tests.test_archive import MONDAY, readings, write_log

HALF_DAY = pd.Timedelta(hours=12)


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        made.add([write_log(tmp_path / "a1.csv", label="A")])
        made.add([write_log(tmp_path / "a2.csv", start=MONDAY + HALF_DAY, label="A"),
                  write_log(tmp_path / "b.csv", label="B")])  # fmt: skip
        yield made


def rows(studio):
    return {logger: readings(studio, logger) for logger in studio.loggers()}


def test_a_backup_restored_elsewhere_holds_the_same_rows_and_rebuilds(studio, tmp_path):
    reviews.keep_sheet(studio, "week.pdf", b"%PDF")
    (studio.folder / "materials.toml").write_text("", encoding="utf-8")
    report = studio.back_up(tmp_path / "kept.zip")
    assert report.problems == ()
    restore(report.path, tmp_path / "elsewhere" / "again")
    with Studio.open(tmp_path / "elsewhere" / "again") as again:
        assert rows(again) == rows(studio)
        assert again.check(rebuild=True).problems == ()
        assert (again.folder / "sheets" / "week.pdf").read_bytes() == b"%PDF"
        assert (again.folder / "materials.toml").is_file()


def test_a_backup_taken_while_an_add_is_undone_and_another_made_is_of_one_state(studio, tmp_path):
    before, done = rows(studio), []

    def meanwhile(_done, _of, _what):
        if not done:
            done.append(True)
            with Studio.open(studio.folder) as other:
                other.undo()  # takes an original and a logger away that the backup still has to copy
                other.add([write_log(tmp_path / "c.csv", label="C")])

    report = studio.back_up(tmp_path / "kept.zip", progress=meanwhile)
    restore(report.path, tmp_path / "again")
    with Studio.open(tmp_path / "again") as again:
        assert report.problems == ()
        assert rows(again) in (before, rows(studio))  # one or the other, nothing between
        assert again.check(rebuild=True).problems == ()


def test_a_changed_original_is_told_and_kept_as_it_is(studio, tmp_path):
    original = next((studio.folder / "originals").glob("*.csv"))
    original.write_bytes(original.read_bytes() + b"\n")
    (problem,) = studio.back_up(tmp_path / "kept.zip").problems
    assert "was changed since it was kept" in problem
    with zipfile.ZipFile(tmp_path / "kept.zip") as archive:
        assert archive.read(f"originals/{original.name}") == original.read_bytes()


def test_a_plain_copy_while_nothing_writes_is_a_backup(studio, tmp_path):
    shutil.copytree(studio.folder, tmp_path / "copy")
    with Studio.open(tmp_path / "copy") as copy:
        assert rows(copy) == rows(studio)
        assert copy.check(rebuild=True).problems == ()


@pytest.mark.parametrize("where", ["kept.zip", "studio/kept.zip", "nowhere/kept.zip"])
def test_a_backup_goes_to_a_new_file_outside_the_folder(studio, tmp_path, where):
    (tmp_path / "kept.zip").write_bytes(b"of last week")
    with pytest.raises(BadInput, match="there already|would be lost with it|no such folder"):
        studio.back_up(tmp_path / where)
    assert (tmp_path / "kept.zip").read_bytes() == b"of last week"
    assert not list(tmp_path.rglob("*.tmp"))


def test_what_is_no_whole_backup_restores_nothing(studio, tmp_path):
    whole = studio.back_up(tmp_path / "kept.zip").path.read_bytes()
    (tmp_path / "half.zip").write_bytes(whole[: len(whole) // 2])
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("holiday.txt", "no studio")
    for name in ("half.zip", "other.zip", "a1.csv"):
        with pytest.raises(BadInput):
            restore(tmp_path / name, tmp_path / "again")
    assert not (tmp_path / "again").exists() and not (tmp_path / "again.part").exists()
    with pytest.raises(BadInput, match="ever restored over"):
        restore(tmp_path / "kept.zip", studio.folder)


def test_names_that_point_out_of_the_folder_are_not_unpacked(studio, tmp_path):
    path = studio.back_up(tmp_path / "kept.zip").path
    with zipfile.ZipFile(path, "a") as archive:
        for name in ("../out.txt", "originals/../../out.txt", "/out.txt", "run.bat", "C:/out.txt"):
            archive.writestr(name, "x")
    restore(path, tmp_path / "deep" / "again")
    assert not list(tmp_path.rglob("out.txt")) and not list(tmp_path.rglob("run.bat"))


def test_a_byte_changed_in_a_backup_is_found(studio, tmp_path):
    path = studio.back_up(tmp_path / "kept.zip").path
    with zipfile.ZipFile(path) as archive:
        info = next(i for i in archive.infolist() if i.filename.endswith(".parquet"))
    content = bytearray(path.read_bytes())
    content[info.header_offset + 30 + len(info.filename) + 200] ^= 1
    path.write_bytes(bytes(content))
    with pytest.raises(BadInput, match="not a whole backup"):
        restore(path, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_the_folder_one_stands_in_is_not_put_in_place_of(studio, tmp_path, monkeypatch):
    studio.back_up(tmp_path / "kept.zip")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    for said in (".", tmp_path / "here"):
        with pytest.raises(BadInput, match="is the folder you stand in"):
            restore(tmp_path / "kept.zip", said)
    restore(tmp_path / "kept.zip", "new")
    assert [path.name for path in tmp_path.joinpath("here").iterdir()] == ["new"]
