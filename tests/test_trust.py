"""A register that is not as envwatch wrote it is named, table and row; a second one and an older one too.

Bits are changed in the file itself, as a failing disk or another program does. That nothing slips through is held
against SQLite's own reading of the file: whatever it reads otherwise afterwards must have been named.
"""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pandas as pd
import pytest

from envwatch.archive import Studio, reviews
from envwatch.archive.store import schema, sums, writing
from envwatch.core.errors import BadInput, EnvwatchError
from tests.long import archive, refused
from tests.long.archive_harm import register_rows
from tests.long.faults import plainly
from tests.program import run
from tests.test_archive import MONDAY, write_log
from tests.test_migrations import at_layout

REGISTER = {
    "places.csv": "id,name,kind,zone\nroom,The room,store,Europe/Lisbon\n",
    "paintings.csv": "id,title,owner\np1,First,\np2,Second,\n",
    "stays.csv": "painting,place,from,purpose\np1,room,2026-01-01,kept for the autumn show\np2,room,2026-01-01,\n",
}
WEEK = pd.Timedelta(days=7)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with all that a bit may be changed in; nobody writes to it."""
    base = tmp_path_factory.mktemp("trust")
    (base / "register").mkdir()
    for name, text in REGISTER.items():
        (base / "register" / name).write_text(text, encoding="utf-8")
    with Studio.create(base / "studio", name="A studio", zone="UTC") as studio:
        studio.import_register(base / "register")
        studio.add([write_log(base / "a.csv", label="A"), write_log(base / "b.csv", label="B")])
        studio.set_hanging("a", "room", "2026-01-01")
        record, limits = {"findings": [], "text": "The size was too damp."}, {"size": {"source": "a handbook"}}
        reviews.keep_review(studio, MONDAY, MONDAY + WEEK, record, limits, MONDAY)
    return base / "studio"


@pytest.fixture
def folder(made, tmp_path):
    return Path(shutil.copytree(made, tmp_path / "studio"))


def flipped(folder: Path, words: bytes) -> None:
    """One bit of the first letter of some words, wherever the register's file has them."""
    path = folder / schema.REGISTER
    content = bytearray(path.read_bytes())
    assert (at := content.find(words)) >= 0
    while at >= 0:
        content[at] ^= 1
        at = content.find(words, at + 1)
    path.write_bytes(content)


def problems(folder: Path) -> str:
    with Studio.open(folder) as studio:
        return "\n".join(studio.check().problems)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (b"a handbook", "table limits, row .* (limits that a kept review rests on)"),
        (b"autumn show", "table stays, row 1 (stay of painting p1 from 2026-01-01)"),
        (b"Europe/Lisbon", "table places, row room (place room)"),
        (b"The size was", "table reviews, row 1 (kept review of 2026-01-05"),
    ],
)
def test_one_bit_of_the_register_is_named_with_its_table_and_row(folder, words, told):
    assert problems(folder) == ""
    flipped(folder, words)
    said = problems(folder)
    for part in told.split(".*"):
        assert part in said
    assert "was changed by something else than envwatch" in said and "envwatch check --accept" in said
    done = run("check", "--studio", folder)
    assert done.returncode == 1 and "table" in done.stdout and "Nothing was swept" in done.stdout


def test_whatever_bit_is_changed_the_register_reads_the_same_or_it_is_named(folder):
    whole, before, dice = (folder / schema.REGISTER).read_bytes(), register_rows(folder), random.Random(417)
    outcomes = set()
    for _ in range(60):
        spoilt, at = bytearray(whole), dice.randrange(8 * len(whole))
        spoilt[at // 8] ^= 1 << at % 8
        for end in ("-wal", "-shm"):
            Path(f"{folder / schema.REGISTER}{end}").unlink(missing_ok=True)
        (folder / schema.REGISTER).write_bytes(spoilt)
        same = register_rows(folder) == before
        try:
            named = problems(folder) != ""
        except EnvwatchError:
            named = True
        assert named or same, f"bit {at}"
        outcomes.add((named, same))
    assert (True, False) in outcomes and (False, True) in outcomes


def test_a_bit_in_a_columns_name_is_named(folder):
    register = folder / schema.REGISTER
    whole, name = register.read_bytes(), b"volume_m3"
    at = whole.index(name)
    register.write_bytes(whole[:at] + bytes([name[0] ^ 128]) + whole[at + 1 :])
    done = run("check", "--studio", folder)
    said = " ".join((done.stdout + done.stderr).split())  # wherever its lines are broken
    assert done.returncode != 0 and "cannot be read" in said, (done.stdout, done.stderr)


def by_hand(folder: Path, *statements: str) -> None:
    with closing(sqlite3.connect(folder / schema.REGISTER)) as register:
        for statement in statements:
            register.execute(statement)
        register.commit()


def test_a_row_put_in_or_taken_out_by_hand_is_named_and_stays_so_when_envwatch_changes_it(folder):
    by_hand(folder, "INSERT INTO stays (painting, place, \"from\") VALUES ('p2', 'room', '2025-01-01')",
            "UPDATE stays SET \"to\" = '2026-01-01' WHERE id = 3",
            "DELETE FROM observations", "DELETE FROM paintings WHERE id = 'nobody'",
            "UPDATE stays SET purpose = 'sold' WHERE painting = 'p1'")  # fmt: skip
    said = problems(folder)
    assert "row 3 (stay of painting p2 from 2025-01-01): was put in" in said and "row 1 (stay of painting p1" in said
    with Studio.open(folder) as studio:
        studio.enter("place", {"id": "loft", "name": "Loft"})
        studio.move("p1", "loft", "2026-02-01")  # ends the stay that was changed
    assert "row 1 (stay of painting p1 from 2026-01-01): was changed" in problems(folder)
    by_hand(folder, "DELETE FROM stays WHERE id = 2")
    assert "row 2 (row 2): was taken out" in problems(folder)


def test_a_register_that_is_right_again_is_accepted_with_a_reason_that_is_kept(folder):
    by_hand(folder, "UPDATE stays SET purpose = 'sold' WHERE painting = 'p1'")
    with Studio.open(folder) as studio, pytest.raises(BadInput, match="say why"):
        studio.accept("  ")
    done = run("check", "--accept", "the purpose was mended by hand", "--studio", folder)
    assert done.returncode == 0 and "The archive is whole." in done.stdout, done.stdout
    assert "because the purpose was mended by hand" in " ".join(done.stdout.split())
    with Studio.open(folder) as studio, pytest.raises(BadInput, match="nothing is amiss"):
        studio.accept("again")
    assert problems(folder) == ""


@pytest.mark.parametrize(
    "statement", ["UPDATE alembic_version SET version_num = '0099'", "DELETE FROM alembic_version"]
)
def test_a_layout_number_changed_by_hand_is_named_until_it_is_accepted(folder, statement):
    by_hand(folder, statement)
    assert "table alembic_version: says" in problems(folder)
    assert run("check", "--accept", "all reads as it should", "--studio", folder).returncode == 0
    assert problems(folder) == ""


def test_a_layout_number_that_cannot_be_read_is_named(folder):
    with closing(sqlite3.connect(folder / schema.REGISTER)) as register:
        (size,) = register.execute("PRAGMA page_size").fetchone()
        (page,) = register.execute("SELECT rootpage FROM sqlite_master WHERE name = 'alembic_version'").fetchone()
    content = bytearray((folder / schema.REGISTER).read_bytes())
    content[(page - 1) * size] ^= 1  # what kind of page it is
    (folder / schema.REGISTER).write_bytes(content)
    done = run("check", "--studio", folder)
    assert done.returncode in (1, 5) and "malformed" in done.stdout + done.stderr, done
    assert "Traceback" not in done.stderr and "fault in envwatch" not in done.stderr


def test_what_cannot_be_read_is_refused_in_one_line_that_leads_to_check(folder):
    by_hand(folder, "UPDATE places SET zone = 'Europe/Lisbom'")
    done = run("painting", "First", "--studio", folder)
    assert done.returncode == 5 and done.stderr.count("\n") == 1 and "envwatch check names the row" in done.stderr
    assert "table places, row room" in run("check", "--studio", folder).stdout


def test_an_older_register_over_a_newer_folder_is_named_also_when_it_is_written_to(folder, tmp_path):
    shutil.copy2(folder / schema.REGISTER, tmp_path / "older")
    with Studio.open(folder) as studio:
        for day in range(3):
            studio.observe("p1", f"2026-01-1{day}", "a ripple")
    shutil.copy2(tmp_path / "older", folder / schema.REGISTER)
    assert "is older than its folder" in problems(folder)
    with Studio.open(folder) as studio:
        for day in range(5):
            studio.observe("p1", f"2026-01-1{day}", "a bubble")
    assert "is older than its folder" in problems(folder)
    with Studio.open(folder) as studio:
        studio.accept("the ripples were entered by mistake")
    assert problems(folder) == ""


def test_a_second_register_is_named_with_what_it_holds(folder):
    shutil.copy2(folder / schema.REGISTER, folder / "register (conflicted copy 2026-11-30).sqlite")
    shutil.copy2(folder / "studio.toml", folder / "studio-LAPTOP.toml")
    said = problems(folder)
    assert "register (conflicted copy 2026-11-30).sqlite: a second register" in said
    assert "2 files, 2 paintings, 1 kept reviews" in said and "studio-LAPTOP.toml: a second studio.toml" in said


@pytest.mark.parametrize("harm", ["hand", "older", "second", "original"])
def test_nothing_is_swept_while_anything_is_amiss(folder, tmp_path, harm):
    writing.Journal(folder).name(folder / "half.tmp")
    (folder / "half.tmp").write_bytes(b"half")
    kept = (folder / schema.REGISTER).read_bytes()
    if harm == "hand":
        by_hand(folder, "UPDATE parts SET superseded_at = '2020-01-01T00:00:00Z'")
    elif harm == "second":
        (folder / "register-2.sqlite").write_bytes(kept)
    elif harm == "older":
        with Studio.open(folder) as studio:
            studio.observe("p1", "2026-01-10", "a ripple")
        (folder / schema.REGISTER).write_bytes(kept)
    else:
        next(folder.glob("originals/*.csv")).write_bytes(b"")
    parts = set(folder.glob("readings/*/*"))
    with Studio.open(folder) as studio:
        if harm != "original":
            studio.add([write_log(tmp_path / "c.csv", label="C")])
        report = studio.check()
    assert report.problems and report.swept == () and report.only_looked == "something is amiss"
    assert (folder / "half.tmp").is_file() and parts <= set(folder.glob("readings/*/*"))
    assert report.strays == ()  # what is half-written is envwatch's own


def test_readings_that_envwatch_let_go_are_no_strays_while_nothing_may_be_swept(folder, tmp_path):
    with Studio.open(folder) as studio:
        studio.add([write_log(tmp_path / "c.csv", label="C")])
        let_go = set(folder.glob("readings/logger=c/*"))
        studio.undo()
        (folder / "register-2.sqlite").write_bytes((folder / schema.REGISTER).read_bytes())
        report = studio.check()
        assert len(report.problems) == 1 and report.strays == report.swept == ()
        assert let_go and all(path.is_file() for path in let_go)
        (folder / "register-2.sqlite").unlink()
        assert len(studio.check().swept) == 1 and not any(path.exists() for path in let_go)


@pytest.mark.parametrize(
    ("content", "told"),
    [(b"", "was emptied"), (b"{", "was changed and cannot be read"), (None, "was missing"),
     (b'"name": "a.csv"', "said otherwise than the register (name)")],
)  # fmt: skip
def test_a_sidecar_that_is_not_the_registers_is_named_and_written_again(folder, content, told):
    with Studio.open(folder) as studio, studio.reading() as connection:
        sha = connection.exec_driver_sql("SELECT sha256 FROM files WHERE name = 'a.csv'").scalar_one()
    path, other = folder / "originals" / f"{sha}.json", b'"name": "b.csv"'
    whole = path.read_bytes()
    if content is None:
        path.unlink()
    else:
        path.write_bytes(whole.replace(content, other) if content in whole and content else content)
    with Studio.open(folder) as studio:
        report = studio.check()
    (mended,) = report.repaired
    assert told in mended and path.read_bytes() == whole and report.problems == ()
    assert run("check", "--studio", folder).stdout.count("mended") == 0
    path.write_bytes(b"")
    by_hand(folder, "UPDATE files SET name = 'c.csv' WHERE id = 1")
    assert ".json: was emptied; whether it or the register is right" in problems(
        folder
    )  # and which is right, nobody knows
    assert path.read_bytes() == b""


def test_a_logger_registered_later_takes_its_files_sidecars_along(folder, tmp_path):
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name,labels\nmine,Mine,B\n", encoding="utf-8")
    with Studio.open(folder) as studio:
        studio.import_register(tmp_path / "register")
        assert "mine" in studio.state().parts
        report = studio.check()
    assert (report.problems, report.repaired) == ((), ())


def test_an_older_layout_gets_its_checksums_and_a_later_change_by_hand_is_seen(tmp_path):
    folder = at_layout(tmp_path / "old", 7)
    Studio.open(folder).close()
    assert sums.amiss(folder / schema.REGISTER) == []
    by_hand(folder, "UPDATE stays SET purpose = 'x' WHERE id = 2")
    assert [(row.table, row.key) for row in sums.amiss(folder / schema.REGISTER)] == [("stays", "2")]


# ------------------------------------------------------------------------------- a folder that may only be read

DAYS = ("--from", "2026-01-05", "--to", "2026-01-06")
READING = (
    ("review", "--week", "2026-W02"), ("painting", "First"), ("tray",), ("marks",), ("place", "room", *DAYS),
    ("limits",), ("dossier", "First", *DAYS, "--bundle", "b.zip"), ("call", "First", "--sign", "leak"),
    ("lining", "First"), ("export", "out"), ("backup", "kept.zip"), ("check",), ("check", "--rebuild"), ("reread",),
)  # fmt: skip
WRITING = (
    ("observe", "First", "leak", "--on", "2026-01-10"), ("undo",), ("move", "First", "room", "--on", "2026-02-01"),
    ("enter", "place", "id=x", "name=X"), ("limits", "--adopt", "ours"), ("reread", "--apply"),
)  # fmt: skip


def on_read_only_mount(folder: Path, old: Path, out: Path) -> None:
    """In a process with mounts of its own; what is read is copied into a folder that is empty again afterwards."""
    for place in (folder, old):
        subprocess.run(["mount", "--bind", place, place], check=True)
        subprocess.run(["mount", "-o", "remount,ro,bind", place], check=True)
        with pytest.raises(OSError, match="Read-only"):
            (place / "x").touch()
    scratch = out.parent / "scratch"
    scratch.mkdir()
    tempfile.tempdir = str(scratch)
    os.chdir(out)
    for words in READING:
        done = run(*words, "--studio", folder)
        assert done.returncode == 0, (words, done.stdout, done.stderr)
    for words in WRITING:
        done = run(*words, "--studio", folder)
        assert plainly(done) == "refused" and done.returncode == 5, (words, done.stdout, done.stderr)
    with Studio.open(old) as studio, studio.reading() as connection:
        assert schema.version(connection) == schema.VERSION and len(list(scratch.iterdir())) == 1
    assert list(scratch.iterdir()) == []


def in_mounts_of_its_own(*places: Path) -> subprocess.CompletedProcess:
    flags = ["-m"] if os.geteuid() == 0 else ["-Urm"]
    code = f"from pathlib import *; from tests import test_trust; test_trust.on_read_only_mount(*{places!r})"
    return subprocess.run(["unshare", *flags, sys.executable, "-c", code], capture_output=True, text=True, check=False)


@pytest.mark.skipif(sys.platform != "linux", reason="mounts are made by Linux's own tools")
def test_a_folder_on_a_read_only_mount_opens_prints_and_backs_up_and_refuses_what_writes(folder, tmp_path):
    old, out = at_layout(tmp_path / "old", 6), tmp_path / "out"
    out.mkdir()
    with closing(sqlite3.connect(folder / schema.REGISTER)) as register:  # what others have not written into the file
        register.execute("PRAGMA journal_mode = WAL")
        register.execute("INSERT INTO learned (logger, kind, value) VALUES ('a', 'serial', '77')")
        register.execute("DELETE FROM learned WHERE value = '77'")
        register.commit()
        before = contents(folder) | contents(old)
        assert folder / f"{schema.REGISTER}-wal" in before
        done = in_mounts_of_its_own(folder, old, out)
        assert done.returncode == 0, done.stderr
        assert contents(folder) | contents(old) == before
    assert {"kept.zip", "b.zip", "out", "2026-W02-a4.pdf", "dossier-p1-a4.pdf"} <= {p.name for p in out.iterdir()}
    assert run("restore", out / "kept.zip", tmp_path / "again").returncode == 0


def contents(folder: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("cc") is None, reason="calls are made to fail by lines of C"
)
def test_what_is_said_is_so_whichever_call_to_the_disk_fails():
    counted = refused.run(23, 3, "observe,undo")
    assert {name.partition(": ")[2] for name in counted} >= {"done", "refused"}


def test_the_archive_holds_what_a_model_of_it_was_told_through_any_steps():
    counted, failed = archive.run_apart(300, 1)
    assert not failed, failed[0]
    assert counted["steps"] >= 300 and counted["checks"] > 100
