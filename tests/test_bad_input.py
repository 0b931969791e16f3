"""Bad input gets one plain line, a code that is not 0, and leaves nothing half kept."""

import os
import shutil
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
from typer.testing import CliRunner

from envwatch.archive import Studio
from envwatch.cases.dehumidifier.machine import data_sheet
from envwatch.cli import app as cli
from envwatch.core.errors import EnvwatchError
from tests.program import run


def started(*words) -> subprocess.CompletedProcess:
    """The command as a user runs it, in a process of its own."""
    env = {key: value for key, value in os.environ.items() if key != "ENVWATCH_DEBUG"}
    return subprocess.run(
        [sys.executable, "-m", "envwatch", *map(str, words)],
        capture_output=True, text=True, encoding="utf-8", env=env | {"PYTHONIOENCODING": "utf-8"}, check=False,
    )  # fmt: skip


@pytest.fixture
def empty(tmp_path):
    """An empty studio."""
    Studio.create(tmp_path / "empty", name="Empty", zone="Europe/Berlin").close()
    return tmp_path / "empty"


def refused(done: subprocess.CompletedProcess) -> str:
    """The one line of a refusal."""
    lines = done.stderr.strip().splitlines()
    assert done.returncode != 0 and len(lines) == 1 and "Traceback" not in done.stderr, done.stderr
    return lines[0]


def tree(folder: Path) -> dict[str, bytes]:
    """All files of a folder but the register's journal."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith("register.sqlite-")
    }


NOT_LOGS = {
    "letter.csv": b"Dear Sir or Madam,\nthe picture has come home safely.\n",
    "empty.csv": b"",
    "page.csv": b"<!DOCTYPE html><html><body>login</body></html>",
    "picture.csv": bytes(range(256)) * 20,
}


def test_files_that_are_no_logs_are_refused_in_one_line_each_and_nothing_is_kept(empty, tmp_path):
    paths = [tmp_path / name for name in NOT_LOGS]
    for path in paths:
        path.write_bytes(NOT_LOGS[path.name])
    before = tree(empty)
    done = started("add", *paths, "--studio", empty)
    assert done.returncode != 0 and "Traceback" not in done.stderr
    assert all(f"refused: {name}" in done.stdout for name in NOT_LOGS)
    assert tree(empty) == before
    assert "letter.csv" in refused(run("read", paths[0], "--zone", "UTC"))


def test_a_half_written_last_row_is_set_aside_and_said(tmp_path):
    path = tmp_path / "cut.csv"
    rows = "".join(f"2026-10-26 0{h}:00:00,19.{h},51.{h}\n" for h in range(9))
    path.write_text("time,temperature (°C),humidity (%)\n" + rows + "2026-10-26 09:0", encoding="utf-8")
    done = run("read", path, "--zone", "UTC")
    assert done.returncode == 0 and len(done.stdout.splitlines()) == 10
    assert "set aside" in done.stderr


def test_an_unknown_painting_is_said_in_one_line(demo_folder):
    assert "haystack" in refused(run("painting", "haystack", "--studio", demo_folder)).lower()


def test_a_move_that_overlaps_another_is_refused_and_nothing_changes(demo_copy):
    before = tree(demo_copy)
    line = refused(run("move", "25-14", "loft", "--on", "2025-12-01", "--until", "2026-03-01", "--studio", demo_copy))
    assert "overlap" in line or "until 2026-01-15" in line
    assert tree(demo_copy) == before


def test_a_week_with_no_data_is_refused_with_the_span_there_is(demo_folder):
    line = refused(run("review", "--week", "2019-W02", "--studio", demo_folder))
    assert "2019-W02" in line and "2025-09-01" in line


def test_a_folder_that_is_no_studio_is_refused(tmp_path):
    assert "studio" in refused(started("review", "--studio", tmp_path))


def test_a_studio_folder_from_a_newer_version_is_refused_and_left_alone(empty):
    import sqlite3

    with sqlite3.connect(empty / "register.sqlite") as register:
        register.execute("PRAGMA user_version = 9999")
    register.close()
    before = tree(empty)
    assert "newer" in refused(run("review", "--studio", empty))
    assert tree(empty) == before


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps permissions in another way")
def test_a_folder_without_permission_is_refused_and_left_alone(demo_folder, demo_copy, tmp_path):
    log = tmp_path / "log.csv"
    rows = "".join(f"2026-11-03 {h:02}:00:00,19.{h},51.{h}\n" for h in range(9))
    log.write_text("time,temperature (°C),humidity (%)\n" + rows, encoding="utf-8")
    other = Path(shutil.copytree(demo_folder, tmp_path / "other"))
    with Studio.open(other) as house:  # whatever is loaded late is loaded by now
        house.add([log], logger="studio")
    for path in (tmp_path, *tmp_path.parents, demo_copy, *demo_copy.rglob("*")):
        if path.stat().st_uid == os.geteuid() and path != Path(path.anchor):
            path.chmod(0o555)
    before = tree(demo_copy)
    with as_nobody(), pytest.raises(EnvwatchError) as refusal, Studio.open(demo_copy) as house:
        house.add([log], logger="studio")
    for path in (tmp_path, demo_copy, *demo_copy.rglob("*")):
        path.chmod(0o755)
    assert str(demo_copy) in str(refusal.value)
    assert tree(demo_copy) == before


@contextmanager
def as_nobody():
    """Root may write anywhere; so for this while we are not root."""
    held = os.geteuid()
    if held == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(held)


def test_demo_into_a_folder_of_something_else_is_refused_and_leaves_it_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("keep", encoding="utf-8")
    refused(run("demo", tmp_path))
    assert tree(tmp_path) == {"mine.txt": b"keep"}


def test_two_ways_of_asking_for_a_period_are_refused(empty):
    assert "--week" in refused(run("review", "--week", "2026-W44", "--today", "--studio", empty))


def test_new_in_a_folder_that_holds_something_is_refused(tmp_path):
    (tmp_path / "mine.txt").write_text("keep", encoding="utf-8")
    refused(run("new", tmp_path, "--zone", "UTC"))
    assert tree(tmp_path) == {"mine.txt": b"keep"}


NO_FIGURES = [
    ("lining", "25-11", "--leave", "2026-12-01", "--vehicle-max"), ("lining", "25-11", "--film-forming"),
    ("lining", "25-11", "--leave", "2026-12-01", "--house-rh"), ("lining", "25-11", "--forecast-rh-min"),
    ("dehumidifier", "store", "--set"), ("dehumidifier", "store", "--machine-litres", "10", "--machine-litres"),
    ("standin", "office", "store", "--rh", "3", "--temp"), ("calibrate", "office", "--rh-accuracy"),
    ("new", "made", "--altitude"),
]  # fmt: skip


@pytest.mark.parametrize("words", NO_FIGURES, ids=lambda words: words[-1])
@pytest.mark.parametrize("figure", ["nan", "inf", "-inf"])
def test_no_option_takes_what_is_no_figure(words, figure, demo_copy, monkeypatch):
    monkeypatch.chdir(demo_copy)
    before = tree(demo_copy)
    with pytest.raises(EnvwatchError, match=f"^{words[-1]} {figure}: not a figure"):
        CliRunner().invoke(cli, [*words, figure], catch_exceptions=False)
    assert tree(demo_copy) == before and not (demo_copy / "made").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("lining", "25-11", "--leave", "2026-12-01", "--house-rh", "300"), "from 0 to 100"),
        (("lining", "25-11", "--leave", "2026-12-01", "--vehicle-max", "-400"), "from -60 to 100"),
        (("new", "made", "--altitude", "1e30"), "-500 to 9000"),
        (("calibrate", "office", "--temp", "nan; 20"), "expected 2 numbers"),
        (("calibrate", "office", "--temp", "90; 20"), r"correction of \+70.0 °C"),
        (("calibrate", "office", "--rh-accuracy", "-3"), "outside 0 to 50"),
    ],
)  # fmt: skip
def test_a_figure_that_cannot_be_is_refused_and_nothing_is_kept(words, told, demo_copy, monkeypatch):
    monkeypatch.chdir(demo_copy)
    before = tree(demo_copy)
    with pytest.raises(EnvwatchError, match=told):
        CliRunner().invoke(cli, list(words), catch_exceptions=False)
    assert tree(demo_copy) == before and not (demo_copy / "made").exists()


@pytest.mark.parametrize("row", ["27,60,nan,2", "27,60,10,inf", "27,160,10,2", "nan,60,10,2"])
def test_a_data_sheet_with_what_is_no_figure_is_refused(row, tmp_path):
    path = tmp_path / "curve.csv"
    path.write_text(f"temp_c,rh_percent,litres_day,litres_per_kwh\n{row}\n", encoding="utf-8")
    with pytest.raises(EnvwatchError, match="data sheet: "):
        data_sheet(path)
