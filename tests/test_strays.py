"""Files that envwatch did not write, in its folder and beside what it writes: they outlive every command unchanged.

What it did write and could not end goes: it was named in a journal before it was there.
"""

import json
import os
import shutil
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.archive.store import building, files, parts, writing
from envwatch.archive.upkeep import backup as backing
from envwatch.archive.upkeep.backup import restore
from envwatch.core.errors import BadInput, StudioError
from tests.long.faults import plainly
from tests.program import beside, run
from tests.test_archive import MONDAY, readings, write_log

DAY = pd.Timedelta(days=1)
SHA = "ab" * 32
STRAYS = (
    "foo.part", "x.tmp", "studio.toml.tmp", "notes.txt", "register.sqlite.0123456789abcdef.tmp",
    "originals/notes.txt", "originals/own.csv", "originals/foo.part", "originals/x.tmp", "originals/own.undone",
    "originals/own.json", f"originals/{SHA}.csv", f"originals/{SHA}.csv.tmp", f"originals/{'cd' * 32}",
    f"originals/{SHA}.csv.0123456789abcdef.tmp", "originals/undone/letter.txt", "originals/mine/photo.jpg",
    "readings/x.tmp", "readings/logger=a/year=2026-v77.parquet", "readings/logger=a/year=2026-v3.parquet.tmp",
    "readings/logger=mine/year=1999-v1.parquet", "sheets/foo.tmp", "sheets/own.pdf", "sheets/week.pdf.tmp",
)  # fmt: skip
UNTOLD = {"notes.txt", "originals/undone/letter.txt", "sheets/own.pdf"}  # nobody would take them for ours


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as made:
        made.add([write_log(tmp_path / "a1.csv", label="A")])
        yield made


def strew(folder: Path, names=STRAYS) -> dict[Path, bytes]:
    """Files of somebody's own; by path."""
    for number, name in enumerate(names):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(f"somebody's own {number}\n".encode())
    return {folder / name: (folder / name).read_bytes() for name in names}


def untouched(strays: dict[Path, bytes]) -> bool:
    return all(path.is_file() and path.read_bytes() == content for path, content in strays.items())


def next_part(studio) -> str:
    """Where the next part of the logger would be written, were nothing there."""
    with studio.reading() as connection:
        last = connection.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = 'parts'").scalar()
    return f"readings/logger=a/year=2026-v{last + 1}.parquet"


def test_every_command_leaves_every_stray_as_it_was_and_check_tells_them(studio, tmp_path):
    strays = strew(studio.folder, (*STRAYS, next_part(studio)))
    beside = strew(tmp_path, ("kept.zip.tmp", "kept.zip.part", "again.part", "again.tmp", "out/places.csv.tmp"))
    register = tmp_path / "register"
    register.mkdir()
    (register / "paintings.csv").write_text("id,title\np1,First\n", encoding="utf-8")
    write_log(tmp_path / "a2.csv", start=MONDAY + DAY / 2, label="A")
    write_log(tmp_path / "b.csv", label="B")
    for said in (
        ("check",), ("add", "a2.csv"), ("add", "b.csv"), ("undo",), ("add", "b.csv"), ("check", "--rebuild"),
        ("import", "register"), ("observe", "First", "leak", "--on", "2026-01-06"), ("export", "out"),
        ("backup", "kept.zip"), ("review", "--week", "2026-W02"),
            ("dossier", "First", "--from", "2026-01-05", "--to", "2026-01-06", "--bundle", "b.zip"), ("undo",),
        ("check",),
    ):  # fmt: skip
        words = [tmp_path / word if word in ("register", "out") or "." in word else word for word in said]
        done = run(*words, "--studio", studio.folder)
        assert done.returncode == 0, (said, done.stdout, done.stderr)
        assert untouched(strays) and untouched(beside), said
    assert "The archive is whole." in done.stdout
    told = "".join(done.stdout.split())
    names = {path.relative_to(studio.folder).as_posix() for path in strays} - UNTOLD - {"originals/mine/photo.jpg"}
    assert {name for name in names if f"notours:{name}:" not in told} == set()
    assert "not ours: originals/mine: a folder" in done.stdout
    report = studio.check()
    assert (report.swept, report.problems) == ((), ()) and len(report.strays) == len(names) + 1
    assert readings(studio, "a") and not any(stray.partition(":")[0] in UNTOLD for stray in report.strays)
    assert plainly(run("restore", tmp_path / "kept.zip", tmp_path / "again")) == "done"
    assert untouched(beside)


def test_an_original_that_only_an_older_register_forgot_is_told_and_stays(studio, tmp_path):
    kept = next(studio.folder.glob("originals/*.csv")).read_bytes()
    studio.undo()
    path = next(studio.folder.glob("originals/undone/*.csv"))
    back = path.rename(studio.folder / "originals" / path.name)  # without its sidecar
    (problem,) = studio.check().problems
    assert "not in the register; if an older register was put back, add it again" in problem
    studio.add([write_log(tmp_path / "b.csv", label="B")])
    assert back.read_bytes() == kept


def test_a_part_is_never_written_over_a_file_that_is_there(studio, tmp_path):
    own = strew(studio.folder, (next_part(studio),))
    studio.add([write_log(tmp_path / "a2.csv", start=MONDAY + DAY / 2, label="A")])
    assert untouched(own) and studio.check(rebuild=True).problems == ()
    assert len(readings(studio, "a")["1"]) == 72


# ------------------------------------------------------------------------------------------- what a kill leaves


def _die(*_args, **_more):
    os._exit(9)


def _killed_backup(folder, target):
    backing._put = _die
    Studio.open(folder).back_up(target)


def _killed_sheet(folder, _target):
    files.name_rough = _die
    reviews.keep_sheet(Studio.open(folder), "week.pdf", b"%PDF")


def _killed_export(folder, target):
    files.name_rough = _die
    Studio.open(folder).export_register(target)


def _killed_add(folder, target):
    real = parts.write_whole

    def die(*args, **more):
        real(*args, **more)
        os._exit(9)  # the part is named, and nothing committed

    parts.write_whole = die
    Studio.open(folder).add([target])


def killed(work, *args):
    process = beside().Process(target=work, args=tuple(map(str, args)))
    process.start()
    process.join(120)
    assert process.exitcode == 9


def everywhere(folder: Path) -> set[str]:
    ours = {
        writing.BESIDE_LOCK,
        "register.sqlite-wal",
        "register.sqlite-shm",
        "writer.lock",
        "writer.lock-journal",
        "writer.json",
    }
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {
        f"studio/{name}" for name in ours
    }


@pytest.mark.parametrize("work", [_killed_backup, _killed_sheet, _killed_export])
def test_what_is_written_beside_the_writing_place_is_swept_after_a_kill(studio, tmp_path, work):
    """Beside it lie files of the same look that nobody named."""
    (tmp_path / "out").mkdir()
    target = tmp_path / ("kept.zip" if work is _killed_backup else "out")
    own = strew(tmp_path, ("kept.zip.0123456789abcdef.tmp", "out/places.csv.tmp", "studio/sheets/week.pdf.tmp"))
    before = everywhere(tmp_path)
    killed(work, studio.folder, target)
    left = everywhere(tmp_path) - before
    assert {name.rpartition(".")[2] for name in left} == {"tmp", "journal"}
    if work is _killed_backup:
        assert studio.back_up(tmp_path / "kept.zip").problems == ()
        (tmp_path / "kept.zip").unlink()
    else:
        assert len(studio.check().swept) == 1
    assert everywhere(tmp_path) == before and untouched(own)


def test_a_killed_add_is_swept_and_what_lies_under_a_named_path_with_other_bytes_is_not(studio, tmp_path):
    before = everywhere(tmp_path) | {"a2.csv"}
    new = write_log(tmp_path / "a2.csv", start=MONDAY + DAY / 2, label="A")
    killed(_killed_add, studio.folder, new)
    left = {name for name in everywhere(tmp_path) - before if not name.endswith(".journal")}
    assert {name.rpartition(".")[2] for name in left} == {"csv", "parquet"}
    own = {tmp_path / name: b"somebody put this here since" for name in left}
    for path, content in own.items():
        path.write_bytes(content)
    report = studio.check()
    assert (report.swept, len(report.strays), untouched(own)) == ((), 2, True)
    assert studio.add([new]).outcomes[0].new == 24
    assert studio.check(rebuild=True).problems == () and b"somebody put this here since" in {
        path.read_bytes() for path in studio.folder.glob("originals/undone/*")
    }


def test_a_backup_under_way_is_not_swept_by_others(studio, tmp_path):
    seen = []

    def meanwhile(*_):
        with Studio.open(studio.folder) as other:
            seen.append(other.check().swept)
            other.back_up(tmp_path / f"other{len(seen)}.zip")

    assert studio.back_up(tmp_path / "kept.zip", progress=meanwhile).problems == ()
    assert seen and set(seen) == {()}
    restore(tmp_path / "kept.zip", tmp_path / "again")


def test_a_copy_of_a_folder_does_not_sweep_what_the_folder_itself_named(studio, tmp_path):
    killed(_killed_backup, studio.folder, tmp_path / "kept.zip")
    shutil.copytree(studio.folder, tmp_path / "copy")
    (left,) = tmp_path.glob("kept.zip.*.tmp")
    with Studio.open(tmp_path / "copy") as copy:
        assert copy.check().swept == ()
    assert left.is_file()
    assert studio.check().swept == (str(left),) and not left.exists()


def test_a_line_cut_short_in_a_journal_names_nothing(studio, tmp_path):
    named = writing.Journal(studio.folder)
    named.name(studio.folder / "ours.tmp")
    (studio.folder / "ours.tmp").write_bytes(b"half")
    with (studio.folder / writing.WRITING).open("a", encoding="utf-8") as file:
        file.write('\n["rough", "studio.to')
    (studio.folder / "studio.to").write_bytes(b"own")
    assert studio.check().swept == ("ours.tmp",)
    assert (studio.folder / "studio.to").read_bytes() == b"own"


def test_what_an_add_wrote_is_named_no_longer_once_it_is_kept(studio, tmp_path):
    """Else a file that was kept, undone and laid back by hand would go with the next sweep."""
    assert not (studio.folder / writing.WRITING).exists()
    studio.add([write_log(tmp_path / "c.csv", label="C")])
    studio.undo()
    (path,) = studio.folder.glob("originals/undone/*.csv")
    back = path.rename(studio.folder / "originals" / path.name)
    studio.add([write_log(tmp_path / "b.csv", label="B")])
    assert back.is_file()
    assert not list(studio.folder.glob("readings/logger=c/*"))  # its part went, by its name


# ------------------------------------------------------------------------------------------------------- restore


def _killed_restore(backup, folder):
    def some(self, path, members):
        self.extract(members[0], path)
        os._exit(9)

    zipfile.ZipFile.extractall = some
    restore(backup, folder)


def test_a_killed_restore_is_cleared_away_by_the_next_and_nothing_else_is(studio, tmp_path):
    studio.back_up(tmp_path / "kept.zip")
    own = strew(tmp_path, ("again.part/letter.txt", "again.restoring-mine/letter.txt", "again.tmp", "kept.zip.part"))
    before = everywhere(tmp_path)
    killed(_killed_restore, tmp_path / "kept.zip", tmp_path / "again")
    (left,) = {name.split("/")[0] for name in everywhere(tmp_path) - before}
    told = restore(tmp_path / "kept.zip", tmp_path / "again")
    assert not (tmp_path / left).exists() and untouched(own)
    assert [Path(line.partition(":")[0]).name for line in told] == ["again.restoring-mine"]
    with Studio.open(tmp_path / "again") as again:
        assert again.check(rebuild=True).problems == () and again.check().strays == ()


def test_a_file_laid_into_what_a_killed_restore_left_stays(studio, tmp_path):
    studio.back_up(tmp_path / "kept.zip")
    killed(_killed_restore, tmp_path / "kept.zip", tmp_path / "again")
    (left,) = tmp_path.glob("again.restoring-*")
    own = strew(left, ("originals/photo.jpg",))
    (line,) = restore(tmp_path / "kept.zip", tmp_path / "again")
    assert str(left) in line and untouched(own)
    assert everywhere(left) == {"originals/photo.jpg"}


def test_a_restore_under_way_is_not_cleared_by_another(studio, tmp_path, monkeypatch):
    studio.back_up(tmp_path / "kept.zip")
    real, seen = zipfile.ZipFile.extractall, []

    def while_another(self, path, members):
        if not seen:
            seen.append(path)
            assert building.clear_dead(tmp_path / "again") == ()
            assert Path(path).is_dir() and json.loads((Path(path) / building.LIST).read_text(encoding="utf-8"))
        real(self, path, members)

    monkeypatch.setattr(zipfile.ZipFile, "extractall", while_another)
    restore(tmp_path / "kept.zip", tmp_path / "again")
    assert seen and (tmp_path / "again" / "studio.toml").is_file()


def test_a_backup_is_not_laid_over_a_file_that_came_meanwhile(studio, tmp_path):
    def meanwhile(*_):
        (tmp_path / "kept.zip").write_bytes(b"another's")

    with pytest.raises(BadInput, match="put there meanwhile"):
        studio.back_up(tmp_path / "kept.zip", progress=meanwhile)
    assert (tmp_path / "kept.zip").read_bytes() == b"another's" and not list(tmp_path.glob("kept.zip.*"))


def test_a_demo_leaves_what_lies_beside_it(tmp_path):
    own = strew(tmp_path, ("demo.part/letter.txt", "demo.making-mine/letter.txt", "demo.tmp"))
    done = run("demo", tmp_path / "demo")
    assert plainly(done) == "done" and untouched(own)
    assert "demo.making-mine: was left by a demo" in done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"demo", "demo.part", "demo.making-mine", "demo.tmp"}


def test_a_full_disk_under_the_journal_is_told_in_one_line(studio, tmp_path):
    (studio.folder / writing.WRITING).mkdir()  # cannot be written to
    with pytest.raises(StudioError, match="could not be written"):
        studio.add([write_log(tmp_path / "b.csv", label="B")])
    (studio.folder / writing.WRITING).rmdir()
    assert set(studio.loggers()) == {"a"} and studio.check(rebuild=True).problems == ()
