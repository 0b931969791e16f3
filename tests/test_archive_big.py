"""Big files: their bytes are put down while they are read, and their years are written two at a time."""

import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.intake import add, merge
from envwatch.archive.intake.merge import decimals
from envwatch.archive.store import parts, stream
from envwatch.core.errors import StudioError
from envwatch.core.readings import Series
from envwatch.logs.model import Answers
from tests.program import beside
from tests.test_archive import MONDAY, readings, write_log

TURN_OF_THE_YEAR = pd.Timestamp("2024-12-20", tz="UTC")


@pytest.fixture
def studio(tmp_path, monkeypatch):
    """A studio for which every file is a big one."""
    monkeypatch.setattr(add, "BIG_BYTES", 1)
    monkeypatch.setattr(merge, "MANY_ROWS", 1)
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        yield made


def in_originals(studio) -> list[str]:
    return sorted(path.name for path in (studio.folder / "originals").iterdir() if path.suffix != ".json")


def test_a_big_file_is_kept_byte_for_byte_and_reads_as_a_small_one(studio, tmp_path, monkeypatch):
    file = write_log(tmp_path / "store.csv", start=TURN_OF_THE_YEAR, rows=48 * 400, label="A")  # over two turns
    big = studio.add([file]).outcomes[0]
    assert [path.read_bytes() for path in studio.folder.glob("originals/*.csv")] == [file.read_bytes()]
    assert len(studio.state().parts["a"]) == 3
    monkeypatch.undo()
    with Studio.create(tmp_path / "other", name="Another", zone="Europe/Berlin") as other:
        small = other.add([file]).outcomes[0]
        assert (big.notes, big.new, big.set_aside, big.marked) == (
            small.notes,
            small.new,
            small.set_aside,
            small.marked,
        )
        assert readings(other, "a") == readings(studio, "a")
        assert in_originals(other) == in_originals(studio)
        held = [[(p.year, p.sha256) for p in each.state().parts["a"]] for each in (studio, other)]
        assert held[0] == held[1]
    assert studio.check(rebuild=True).problems == ()


def test_lines_after_the_last_reading_are_counted_in_a_big_file_too(studio, tmp_path):
    file = write_log(tmp_path / "store.csv", label="A")
    file.write_text(file.read_text(encoding="utf-8") + "2026-01-06T00:00:00Z,,\n" * 7, encoding="utf-8")
    studio.add([file])
    with studio.reading() as connection:
        assert list(connection.exec_driver_sql("SELECT lines_after FROM files").scalars()) == [7]


def test_nothing_is_left_of_a_big_file_that_is_refused(studio, tmp_path):
    file = tmp_path / "letter.csv"
    file.write_text("Dear all,\nthe room is damp.\n" * 50, encoding="utf-8")
    assert studio.add([file]).outcomes[0].status == "refused"
    assert in_originals(studio) == []


def test_a_big_file_with_a_question_waits_whole_in_the_tray(studio, tmp_path):
    lines = [f"03/04/2026 {hour:02d}:00,18.{hour % 10},50.{hour % 10}" for hour in range(24)]
    file = tmp_path / "either.csv"
    file.write_text("Date,Temperature (°C),RH (%)\n" + "\n".join(lines) + "\n", encoding="utf-8")
    assert studio.add([file]).outcomes[0].status == "in the tray"
    assert [path.read_bytes() for path in studio.folder.glob("originals/*.csv")] == [file.read_bytes()]
    assert [name for name in in_originals(studio) if name.endswith(".tmp")] == []


def test_the_same_big_file_again_is_not_read_again(studio, tmp_path, monkeypatch):
    file = write_log(tmp_path / "store.csv", label="A")
    studio.add([file])
    monkeypatch.setattr(add, "read_log", lambda *_: pytest.fail("read again"))
    assert studio.add([file]).outcomes[0].status == "already kept"


def test_a_big_file_twice_in_one_add_is_kept_once(studio, tmp_path):
    file = write_log(tmp_path / "store.csv", label="A")
    twin = tmp_path / "twin.csv"
    twin.write_bytes(file.read_bytes())
    assert [outcome.status for outcome in studio.add([file, twin]).outcomes] == ["kept", "already kept"]


def test_what_was_read_is_kept_though_the_file_went_away_behind_the_reading(studio, tmp_path, monkeypatch):
    file = write_log(tmp_path / "store.csv", label="A")
    written = file.read_bytes()
    real = add.keeping.keep

    def gone(*args):
        file.unlink()
        return real(*args)

    monkeypatch.setattr(add.keeping, "keep", gone)
    assert studio.add([file]).outcomes[0].status == "kept"
    assert [path.read_bytes() for path in studio.folder.glob("originals/*.csv")] == [written]


def test_a_file_that_grows_into_one_that_is_kept_holds_up_no_other(studio, tmp_path, monkeypatch):
    file = write_log(tmp_path / "store.csv", label="A")
    studio.add([file])
    whole, half, other = file.read_bytes(), tmp_path / "half.csv", write_log(tmp_path / "loft.csv", label="B")
    half.write_bytes(whole[: len(whole) // 2])

    class Late(stream.HashingCopy):
        """The rest of the file arrives between the look at its size and the reading."""

        def __enter__(self):
            half.write_bytes(whole)
            return super().__enter__()

    monkeypatch.setattr(add, "HashingCopy", Late)
    told = studio.add([half, other]).outcomes
    assert [one.status for one in told] == ["refused", "kept"] and "changed while it was read" in told[0].reason
    assert sorted(studio.loggers()) == ["a", "b"] and len(in_originals(studio)) == 2


@pytest.mark.parametrize("writes", range(1, 7))
def test_a_disk_that_fills_up_under_a_big_file_leaves_the_archive_as_it_was(
    studio, tmp_path, monkeypatch, disk_fills_up, writes
):
    studio.add([write_log(tmp_path / "store_1.csv", label="A")])
    before, held = readings(studio, "a"), studio.state().parts
    new = write_log(tmp_path / "store_2.csv", start=TURN_OF_THE_YEAR, rows=48 * 400, label="A")
    disk_fills_up(writes)
    with pytest.raises(StudioError, match="no space left"):  # at its original, or at one of its three parts
        studio.add([new])
    monkeypatch.undo()
    assert (readings(studio, "a"), studio.state().parts) == (before, held)
    known = {part.path for of_logger in held.values() for part in of_logger}
    assert {p.relative_to(studio.folder).as_posix() for p in studio.folder.glob("readings/*/*")} == known
    assert studio.add([new]).outcomes[0].status == "kept"
    assert studio.check(rebuild=True).problems == ()


def _add_and_die(folder: str, file: str, when: str) -> None:
    add.BIG_BYTES = 1
    if when == "put down":
        add.keeping.keep = lambda *_: os._exit(9)
    else:
        real = stream.files.name_rough

        def die(path, *more):
            real(path, *more)
            os._exit(9)  # as a power cut would, the original named and nothing committed

        stream.files.name_rough = die
    Studio.open(folder).add([Path(file)])


@pytest.mark.parametrize("when", ["put down", "named"])
def test_a_big_file_whose_add_is_killed_is_swept_and_can_be_added_again(studio, tmp_path, when):
    file = write_log(tmp_path / "store.csv", start=MONDAY, label="A")
    process = beside().Process(target=_add_and_die, args=(studio.folder, file, when))
    process.start()
    process.join(120)
    assert process.exitcode == 9
    assert len(in_originals(studio)) == 1 and studio.loggers() == {}
    assert studio.check().problems == ()
    assert in_originals(studio) == []
    assert studio.add([file]).outcomes[0].status == "kept"


# -------------------------------------------------------------------------------------------- years and decimals


@pytest.mark.parametrize("seed", range(20))
def test_series_are_cut_at_the_turns_of_the_year_and_nowhere_else(seed):
    rng = np.random.default_rng(seed)
    time = np.sort(rng.integers(-(10**15), 2 * 10**15, 300)) // rng.choice([1, 50])
    turn = np.datetime64("2000-01-01T00:00", "us").astype(np.int64)
    time = np.sort(np.concatenate([time, [turn - 1, turn, turn + 1]]))
    rows = Series(*(time if n == 0 else np.arange(len(time)) for n in range(6)))
    cut = parts.by_year({"1": rows, "none": rows.take(slice(0))})
    for year, channels in cut.items():
        stamps = pd.to_datetime(channels["1"].time, unit="us")
        assert channels.keys() == {"1"} and set(stamps.year) == {year}
    assert np.concatenate([channels["1"].line for channels in cut.values()]).tolist() == list(range(len(time)))


@pytest.mark.parametrize(
    ("values", "places"),
    [([20.0, 21.0] * 60, 0), ([20.0, 21.5] * 60, 1), ([20.0] * 99_000 + [20.25], 2), ([20.0] * 99_000 + [20.125], 3),
     ([20.0, 21.0], 2), ([np.nan] * 200, 2), ([np.nan] * 200 + [20.0] * 49, 2), ([np.nan] * 200 + [20.0] * 50, 0),
     ([], 2), ([20.0625] * 60, 3)],
)  # fmt: skip
def test_decimals_are_those_of_the_finest_reading(values, places):
    assert decimals(np.array(values, float)) == places


def test_a_big_file_that_grows_while_it_is_read_a_second_time_is_refused(studio, tmp_path, monkeypatch):
    rows = [f"{MONDAY + pd.Timedelta(minutes=n):%Y-%m-%d %H:%M},18.{n % 10},50.{n % 7}" for n in range(70_000)]
    head = "Time,Temp C,RH %"
    file = tmp_path / "two.csv"
    file.write_text("\n".join([head, *rows[:50_000], "Time,RH %,Temp C", *rows[50_000:]]) + "\n", encoding="utf-8")
    seen = stream.HashingCopy.hashing

    def more_comes_in(self, data):
        first = seen(self, data)
        with file.open("a", encoding="utf-8") as more:
            more.write("2026-06-01 00:00,50.1,18.0\n")
        return first

    monkeypatch.setattr(stream.HashingCopy, "hashing", more_comes_in)
    outcome = studio.add([file]).outcomes[0]
    assert (outcome.status, in_originals(studio)) == ("refused", [])
    assert "still being written" in outcome.reason


def test_a_file_that_waits_keeps_its_number_when_it_is_added_again(studio, tmp_path):
    file = tmp_path / "either.csv"
    rows = "".join(f"03/04/2026 {hour:02d}:00,18.{hour % 10},50.{hour % 10}\n" for hour in range(24))
    file.write_text("Time,Temp C,RH\n" + rows, encoding="utf-8")
    assert [studio.add([file]).outcomes[0].number for _ in range(2)] == [1, 1]
    assert studio.add([1], Answers(dates="dmy")).outcomes[0].status == "kept"
    assert studio.tray() == ()
