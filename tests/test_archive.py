"""The studio folder: made, opened, locked; files taken in, asked about, undone; checked and rebuilt."""

import json
import os
import sqlite3
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from envwatch.archive import Studio
from envwatch.archive.intake.summary import arrivals
from envwatch.archive.store import writing
from envwatch.core.errors import BadInput, NotThere, StudioError
from envwatch.logs import Answers
from envwatch.logs.quality.marks import CONFLICT
from tests.program import beside

MONDAY = pd.Timestamp("2026-01-05", tz="UTC")


def write_log(path, start=MONDAY, rows=48, temp_c=18.0, rh_percent=50.0, label=None, minutes=30, digits=1):
    """A plain logger file: ISO times in UTC, slowly moving values that no two files share by chance."""
    head = [f"Logger: {label}"] if label else []
    lines = [*head, "Time,Temperature (°C),Relative humidity (%)"]
    for at in pd.date_range(start, periods=rows, freq=f"{minutes}min"):
        wave = np.sin((at.value // 10**9) / 20_000)
        values = f"{temp_c + wave:.{digits}f},{rh_percent + 2 * wave:.{digits}f}"
        lines.append(f"{at:%Y-%m-%dT%H:%M:%S}Z,{values}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def studio(tmp_path):
    with Studio.create(tmp_path / "studio", name="A studio", zone="Europe/Berlin") as made:
        yield made


def readings(studio, logger):
    """All stored rows of a logger, as text that can be compared."""
    found = studio.reader.series(studio.state().parts.get(logger, []))
    return {
        name: [*zip(s.time.tolist(), s.temp_c.tolist(), s.rh_percent.tolist(), s.marks.tolist(), strict=True)]
        for name, s in found.items()
    }


# ------------------------------------------------------------------------------------------ making and opening


def test_a_studio_opens_with_what_it_was_made_with(tmp_path):
    name = 'Workshop "Ö" \\ north'
    Studio.create(tmp_path / "s", name=name, zone="America/New_York", altitude_m=120.5).close()
    with Studio.open(tmp_path / "s") as studio:
        assert (studio.name, studio.zone, studio.altitude_m) == (name, "America/New_York", 120.5)
        assert studio.places() == studio.loggers() == studio.paintings() == {}


def test_a_folder_that_is_no_studio_is_told_in_one_line(tmp_path):
    with pytest.raises(StudioError, match="not a studio folder") as told:
        Studio.open(tmp_path)
    assert "\n" not in str(told.value)


def test_a_folder_with_other_things_is_not_made_a_studio(tmp_path):
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(StudioError, match="letter.txt"):
        Studio.create(tmp_path, name="x", zone="UTC")
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_an_unknown_zone_is_refused_with_a_near_one(tmp_path):
    with pytest.raises(BadInput, match="did you mean Europe/Berlin"):
        Studio.create(tmp_path / "s", name="x", zone="Europe/Berlim")
    assert not (tmp_path / "s").exists()


def test_a_folder_from_a_newer_version_is_refused_and_not_touched(studio):
    studio.close()
    register = studio.folder / "register.sqlite"
    with sqlite3.connect(register) as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    before = register.read_bytes()
    with pytest.raises(StudioError, match="newer envwatch"):
        Studio.open(studio.folder)
    assert register.read_bytes() == before


def test_a_damaged_register_is_told_in_one_line(studio):
    studio.close()
    (studio.folder / "register.sqlite").write_bytes(b"not a database at all" * 100)
    with pytest.raises(StudioError, match="register.sqlite"):
        Studio.open(studio.folder)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps permissions in another way")
def test_a_folder_without_permission_is_told_in_one_line(tmp_path):
    (tmp_path / "shut").mkdir(mode=0o500)
    for path in (tmp_path, *tmp_path.parents[:3]):
        path.chmod(0o755)
    held = os.geteuid()
    if held == 0:  # root may write anywhere; so not as root
        os.seteuid(65534)
    try:
        with pytest.raises(StudioError, match="permission"):
            Studio.create(tmp_path / "shut" / "s", name="x", zone="UTC")
    finally:
        os.seteuid(held)


def test_the_migrations_make_the_tables_that_the_code_knows(studio):
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext

    from envwatch.archive.store.tables import META

    with studio.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), META) == []


def _hold(folder, held, done):
    with writing.writer(Path(folder), "adding logger files"):
        held.set()
        done.wait(30)


def test_a_second_writer_is_told_who_writes_and_a_dead_one_leaves_no_lock(studio, tmp_path):
    held, done = beside().Event(), beside().Event()
    other = beside().Process(target=_hold, args=(str(studio.folder), held, done))
    other.start()
    assert held.wait(60)
    held_up = writing.writer(studio.folder, "x", wait_s=0.1)
    with pytest.raises(StudioError, match="is adding logger files since"), held_up:
        pass
    other.kill()
    other.join()
    with writing.writer(studio.folder, "x", wait_s=5):
        pass


# ------------------------------------------------------------------------------------------------- taking files


def test_a_file_is_kept_byte_for_byte_and_read_back_as_it_was_written(studio, tmp_path):
    file = write_log(tmp_path / "Picture store 2026-01-06.csv", label="A-17")
    report = studio.add([file])
    (outcome,) = report.outcomes
    assert (outcome.status, outcome.new, outcome.duplicate, outcome.conflict) == ("kept", 48, 0, 0)
    (kept,) = (p for p in (studio.folder / "originals").iterdir() if p.suffix == ".csv")
    assert kept.read_bytes() == file.read_bytes()
    sidecar = json.loads(kept.with_suffix(".json").read_text(encoding="utf-8"))
    assert (sidecar["name"], sidecar["logger"]) == (file.name, outcome.logger_id)
    ((_, rows),) = readings(studio, outcome.logger_id).items()
    written = [line.split(",") for line in file.read_text(encoding="utf-8").splitlines()[2:]]
    assert [(t, h) for _, t, h, _ in rows] == [(float(t), float(h)) for _, t, h in written]
    assert rows[0][0] == MONDAY.value // 1000


def test_what_else_a_file_holds_is_said_not_to_be_kept(studio, tmp_path):
    path = tmp_path / "lux.csv"
    rows = [f"2026-03-01T{n:02d}:00:00Z,18.{n % 10},5{n % 10}.0,{100 + n}" for n in range(24)]
    path.write_text("\n".join(["Logger: LX-1", "Time,Temperature (°C),Humidity (%),Light (lux)", *rows, ""]),
                    encoding="utf-8")  # fmt: skip
    (outcome,) = studio.add([path]).outcomes
    assert any("not kept as readings: lux" in note for note in outcome.notes), outcome.notes


def test_the_same_file_twice_changes_nothing(studio, tmp_path):
    file = write_log(tmp_path / "a.csv")
    logger = studio.add([file]).outcomes[0].logger_id
    before, parts = readings(studio, logger), studio.state().parts
    assert file.read_bytes() == write_log(tmp_path / "copy of a.csv").read_bytes()
    again = studio.add([file, tmp_path / "copy of a.csv"])
    assert [outcome.status for outcome in again.outcomes] == ["already kept", "already kept"]
    assert (readings(studio, logger), studio.state().parts, again.batch) == (before, parts, None)


def test_one_file_under_two_names_in_one_add_is_kept_once(studio, tmp_path):
    report = studio.add([write_log(tmp_path / "a.csv"), write_log(tmp_path / "a (1).csv")])
    assert [outcome.status for outcome in report.outcomes] == ["kept", "already kept"]
    assert report.totals.readings == 48


def test_overlapping_downloads_merge_and_each_reading_is_counted_once(studio, tmp_path):
    first = write_log(tmp_path / "store_1.csv", rows=48, label="A")
    second = write_log(tmp_path / "store_2.csv", start=MONDAY + pd.Timedelta(hours=12), rows=48, label="A")
    report = studio.add([first, second])
    assert [(o.new, o.duplicate, o.conflict, o.readings) for o in report.outcomes] == [(48, 0, 0, 48), (24, 24, 0, 48)]
    (rows,) = readings(studio, report.outcomes[0].logger_id).values()
    assert len(rows) == 72
    assert len({time for time, *_ in rows}) == 72


def test_the_order_in_which_files_come_does_not_matter(tmp_path):
    starts = pd.date_range("2025-12-30", periods=4, tz="UTC")
    files = [write_log(tmp_path / f"store_{n}.csv", start=at, rows=96, label="A") for n, at in enumerate(starts)]
    kept = []
    for number, order in enumerate(([0, 1, 2, 3], [3, 1, 0, 2])):
        with Studio.create(tmp_path / f"s{number}", name="x", zone="UTC") as studio:
            for at in order:
                studio.add([files[at]])
            kept.append(readings(studio, "a"))
            assert [part.year for part in studio.state().parts["a"]] == [2025, 2026]
    assert kept[0] == kept[1]
    assert len(kept[0]["1"]) == 48 * 5


def test_readings_that_differ_for_one_instant_are_both_kept_and_the_harsher_counts(studio, tmp_path):
    plain = write_log(tmp_path / "store_1.csv", label="A", temp_c=18, rh_percent=55)
    other = write_log(tmp_path / "store_2.csv", label="A", temp_c=17, rh_percent=62, rows=24)
    studio.add([plain])
    report = studio.add([other], logger="a")
    assert report.outcomes[0].conflict == 24
    (rows,) = readings(studio, "a").values()
    assert len(rows) == 72
    assert sum(bool(marks & CONFLICT) for *_, marks in rows) == 48
    place(studio, "a")
    climate = studio.climate("room", MONDAY, MONDAY + pd.Timedelta(hours=1))
    wave = np.sin(MONDAY.value // 10**9 / 20_000)
    assert climate.temp_c[0] == pytest.approx(18 + wave, abs=0.06)  # the hotter, of the one file
    assert climate.rh_percent[0] == pytest.approx(62 + 2 * wave, abs=0.06)  # the farther from 50 %, of the other
    assert climate.suspect.all()
    assert any("give differently" in note for note in climate.notes)
    trace = studio.trace("room", MONDAY)
    assert (trace.file_name, [other.file_name for other in trace.others]) == ("store_1.csv", ["store_2.csv"])
    assert "conflict" in trace.marks


def test_the_same_reading_written_to_fewer_decimals_is_no_conflict(studio, tmp_path):
    fine = write_log(tmp_path / "store_1.csv", label="A", digits=2, rows=200)
    coarse = write_log(tmp_path / "store_2.csv", label="A", digits=1, rows=200)
    report = studio.add([coarse, fine])
    assert [(o.new, o.duplicate, o.conflict) for o in report.outcomes] == [(200, 0, 0), (0, 200, 0)]
    (rows,) = readings(studio, "a").values()
    assert len(rows) == 200
    assert any(round(t, 1) != t for _, t, *_ in rows)  # the finer ones stay


def test_a_file_that_is_no_log_is_refused_in_one_line_and_leaves_nothing(studio, tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "page.csv").write_text("<html><body>Log in</body></html>", encoding="utf-8")
    (tmp_path / "in" / "empty.csv").write_bytes(b"")
    (tmp_path / "in" / ".hidden.csv").write_text("x", encoding="utf-8")
    write_log(tmp_path / "in" / "good.csv")
    report = studio.add([tmp_path / "in", tmp_path / "gone.csv"])
    status = {outcome.name: outcome.status for outcome in report.outcomes}
    assert status == {"page.csv": "refused", "empty.csv": "refused", "good.csv": "kept", "gone.csv": "refused"}
    assert all(
        "\n" not in outcome.reason and outcome.reason for outcome in report.outcomes if outcome.status == "refused"
    )
    assert not report.ok
    assert len([p for p in (studio.folder / "originals").iterdir() if p.suffix == ".csv"]) == 1


def test_the_studio_folder_does_not_take_in_its_own_files(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv")])
    before = studio.add([tmp_path])
    assert [outcome.name for outcome in before.outcomes] == ["a.csv"]


def test_a_questioned_file_waits_in_the_tray_and_holds_up_no_other(studio, tmp_path):
    unclear = tmp_path / "loft.csv"
    rows = [f"0{m}/0{d}/2026 12:00,18.{d},5{m}.0" for m, d in ((1, 2), (2, 1))]
    unclear.write_text("Time,Temperature (°C),Humidity (%)\n" + "\n".join(rows) + "\n", encoding="utf-8")
    report = studio.add([unclear, write_log(tmp_path / "b.csv")])
    asked, kept = report.outcomes
    assert (asked.status, kept.status) == ("in the tray", "kept")
    assert asked.option == "dates"
    (item,) = studio.tray()
    assert item.name in item.sentence
    assert studio.loggers().keys() == {kept.logger_id}
    answered = studio.add([item.number], Answers(dates="dmy"))
    assert [(o.status, o.name) for o in answered.outcomes] == [("kept", "loft.csv")]
    assert studio.tray() == ()
    (rows,) = readings(studio, "loft").values()
    assert pd.Timestamp(rows[0][0], unit="us", tz="Europe/Berlin").date().isoformat() == "2026-01-02"


def test_an_answer_is_remembered_for_the_loggers_next_file_and_said(studio, tmp_path):
    for name, day in (("loft_1.csv", 5), ("loft_2.csv", 6)):
        rows = [f"2026-01-{day:02d} {hour:02d}:00,18.{hour % 10},50.0" for hour in range(24)]
        (tmp_path / name).write_text("Time,Temperature (°C),Humidity (%)\n" + "\n".join(rows), encoding="utf-8")
    studio.add([tmp_path / "loft_1.csv"], Answers(zone="Asia/Tokyo"), logger="new")
    (logger,) = studio.loggers()
    (outcome,) = studio.add([tmp_path / "loft_2.csv"], logger=logger).outcomes
    assert any("Asia/Tokyo" in note and "as answered" in note for note in outcome.notes)
    (rows,) = readings(studio, logger).values()
    assert pd.Timestamp(rows[-1][0], unit="us", tz="UTC") == pd.Timestamp("2026-01-06 23:00", tz="Asia/Tokyo")


def test_answering_a_kept_file_otherwise_reads_it_again(studio, tmp_path):
    rows = [f"2026-01-05 {hour:02d}:00,18.{hour % 10},50.0" for hour in range(24)]
    file = tmp_path / "loft.csv"
    file.write_text("Time,Temperature (°C),Humidity (%)\n" + "\n".join(rows), encoding="utf-8")
    studio.add([file])
    (outcome,) = studio.add([file], Answers(zone="UTC")).outcomes
    assert (outcome.status, outcome.new) == ("kept", 24)
    (rows,) = readings(studio, "loft").values()
    assert len(rows) == 24
    assert rows[0][0] == MONDAY.value // 1000


def test_two_labels_are_never_joined_even_under_one_file_name(studio, tmp_path):
    for folder, label in (("x", "A-1"), ("y", "B-2")):
        (tmp_path / folder).mkdir()
        write_log(tmp_path / folder / "export.csv", label=label, temp_c=10 if folder == "x" else 20)
    report = studio.add([tmp_path / "x", tmp_path / "y"])
    assert len({outcome.logger_id for outcome in report.outcomes}) == 2


def test_a_file_named_after_a_logger_and_labelled_otherwise_inside_is_anothers(studio, tmp_path):
    studio.add([write_log(tmp_path / "x.csv", label="A-1")])
    (outcome,) = studio.add([write_log(tmp_path / "A-1 2026-01-06.csv", label="B-2", temp_c=20)]).outcomes
    assert outcome.logger_id == "b-2"
    assert any("has another label" in note for note in outcome.notes)


def test_a_file_with_a_loggers_name_and_other_readings_is_asked_about(studio, tmp_path):
    studio.add([write_log(tmp_path / "export 2026-01-06.csv", temp_c=12)])
    (outcome,) = studio.add([write_log(tmp_path / "export 2026-01-07.csv", temp_c=21)]).outcomes
    assert (outcome.status, outcome.option) == ("in the tray", "logger")
    (kept,) = studio.add([outcome.number], logger="new").outcomes
    assert kept.status == "kept"
    assert len(studio.loggers()) == 2


def test_a_logger_that_is_not_known_is_refused_with_near_ones(studio, tmp_path):
    studio.add([write_log(tmp_path / "store.csv")])
    with pytest.raises(NotThere, match="store"):
        studio.add([write_log(tmp_path / "b.csv")], logger="stroe")


def test_files_added_before_their_logger_was_registered_become_its_own(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv", label="TH-20417"), write_log(tmp_path / "b.csv", label="TH-99")])
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name,labels\nrack,Rack,20417\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    assert studio.loggers().keys() == {"rack", "th-99"}
    assert [len(rows) for rows in readings(studio, "rack").values()] == [48]
    (outcome,) = studio.add([write_log(tmp_path / "c.csv", label="TH-20417", rows=60)]).outcomes
    assert (outcome.logger_id, outcome.new, outcome.duplicate) == ("rack", 12, 48)
    assert studio.check(rebuild=True).problems == ()


def test_a_file_that_waits_goes_in_with_the_answer_to_another_of_its_logger(studio, tmp_path):
    for name, months in (("loft 1.csv", (1, 2)), ("loft 2.csv", (3, 4))):
        rows = [f"0{m}/0{m + 1}/2026 12:00,18.{m},5{m}.0" for m in months]
        (tmp_path / name).write_text("Time,Temperature (°C),Humidity (%)\n" + "\n".join(rows) + "\n", encoding="utf-8")
    (tmp_path / "register").mkdir()
    (tmp_path / "register" / "loggers.csv").write_text("id,name\nloft,Loft\n", encoding="utf-8")
    studio.import_register(tmp_path / "register")
    studio.add([tmp_path / "loft 1.csv", tmp_path / "loft 2.csv"])
    assert len(studio.tray()) == 2
    report = studio.add([studio.tray()[0].number], Answers(dates="mdy"))
    assert [outcome.status for outcome in report.outcomes] == ["kept", "kept"]
    assert studio.tray() == ()


def test_a_file_can_be_taken_out_of_the_tray_unread(studio, tmp_path):
    file = tmp_path / "loft.csv"
    file.write_text(
        "Time,Temperature (°C),Humidity (%)\n01/02/2026 12:00,18,50\n02/03/2026 12:00,18,51\n", encoding="utf-8"
    )
    (outcome,) = studio.add([file]).outcomes
    assert studio.discard(outcome.number).name == "loft.csv"
    assert studio.tray() == ()
    assert studio.check().problems == ()
    assert len(list((studio.folder / "originals" / "undone").glob("*.csv"))) == 1
    with pytest.raises(NotThere):
        studio.discard(outcome.number)


def test_an_undone_add_leaves_what_was_there_before(studio, tmp_path):
    first = write_log(tmp_path / "store_1.csv", label="A")
    studio.add([first])
    before = readings(studio, "a")
    added = studio.add([write_log(tmp_path / "store_2.csv", start=MONDAY + pd.Timedelta(hours=12), label="A"),
                        write_log(tmp_path / "loft.csv", label="L")])  # fmt: skip
    assert studio.loggers().keys() == {"a", "l"}
    report = studio.undo()
    assert (report.batch, report.readings, len(report.files)) == (added.batch, 96, 2)
    assert readings(studio, "a") == before
    assert studio.loggers().keys() == {"a"}
    assert len(list((studio.folder / "originals" / "undone").glob("*.csv"))) == 2  # set apart, not lost
    assert studio.check(rebuild=True).problems == ()
    with pytest.raises(BadInput, match="add 77"):
        studio.undo(77)


def test_undoing_a_file_gives_its_overlap_back_to_the_other_file(studio, tmp_path):
    first = studio.add([write_log(tmp_path / "store_1.csv", label="A")]).batch
    studio.add([write_log(tmp_path / "store_2.csv", start=MONDAY + pd.Timedelta(hours=12), label="A")])
    studio.undo(first)
    (rows,) = readings(studio, "a").values()
    assert len(rows) == 48
    assert rows[0][0] == (MONDAY + pd.Timedelta(hours=12)).value // 1000


# ------------------------------------------------------------------------------------------ crashes and checks


@pytest.mark.parametrize("writes", [1, 3, 5, 7])
def test_a_disk_that_fills_up_leaves_the_archive_as_it_was(studio, tmp_path, monkeypatch, disk_fills_up, writes):
    studio.add([write_log(tmp_path / "store_1.csv", label="A")])
    before, parts = readings(studio, "a"), studio.state().parts
    new = [write_log(tmp_path / "store_2.csv", start=MONDAY + pd.Timedelta(hours=12), label="A"),
           write_log(tmp_path / "loft.csv", label="L")]  # fmt: skip
    disk_fills_up(writes)
    with pytest.raises(StudioError, match="no space left"):
        studio.add(new)
    monkeypatch.undo()
    assert (readings(studio, "a"), studio.state().parts, studio.loggers().keys()) == (before, parts, {"a"})
    held = {part.path for of_logger in parts.values() for part in of_logger}
    assert {p.relative_to(studio.folder).as_posix() for p in studio.folder.glob("readings/*/*")} == held
    assert studio.check(rebuild=True).problems == ()
    assert [outcome.status for outcome in studio.add(new).outcomes] == ["kept", "kept"]


def _add_and_die(folder, file, after):
    import envwatch.archive.intake.keep as keeping

    real = keeping.recompose

    def die(*args):
        real(*args)
        os._exit(9)  # as a power cut would, parts written and nothing committed

    keeping.recompose = die
    Studio.open(folder).add([Path(file)])


def test_a_killed_add_leaves_no_half_and_its_litter_is_swept(studio, tmp_path):
    studio.add([write_log(tmp_path / "store_1.csv", label="A")])
    before = readings(studio, "a")
    second = write_log(tmp_path / "store_2.csv", start=MONDAY + pd.Timedelta(hours=12), label="A")
    process = beside().Process(target=_add_and_die, args=(str(studio.folder), str(second), 0))
    process.start()
    process.join(120)
    assert process.exitcode == 9
    assert readings(studio, "a") == before
    swept = studio.check().swept
    assert any(name.endswith(".parquet") for name in swept)
    assert any(name.startswith("originals/") for name in swept)
    assert studio.add([second]).outcomes[0].new == 24


def test_an_archive_rebuilds_to_the_same_readings_marks_and_sources(studio, tmp_path):
    studio.add(
        [write_log(tmp_path / f"s{n}.csv", start=MONDAY + pd.Timedelta(hours=9 * n), label="A") for n in range(4)]
    )
    report = studio.check(rebuild=True)
    assert (report.problems, report.repaired) == ((), ())
    assert report.counts["readings"] == 48 + 3 * 18


def test_a_changed_original_and_a_lost_part_are_named_and_the_part_comes_back(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv", label="A"), write_log(tmp_path / "b.csv", label="B")])
    part = studio.folder / studio.state().parts["a"][0].path
    held = readings(studio, "a")
    part.unlink()
    assert any("is gone" in line for line in studio.check().problems)
    report = studio.check(rebuild=True)
    assert (report.problems, len(report.repaired)) == ((), 1)
    assert readings(studio, "a") == held
    original = next((studio.folder / "originals").glob("*.csv"))
    original.write_bytes(original.read_bytes() + b"\n")
    assert any("was changed" in line for line in studio.check().problems)


def test_a_part_that_was_tampered_with_is_found(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv", label="A")])
    part = studio.folder / studio.state().parts["a"][0].path
    content = bytearray(part.read_bytes())
    content[40] ^= 1
    part.write_bytes(bytes(content))
    assert any("was changed" in line for line in studio.check().problems)


def test_a_missing_sidecar_is_written_again(studio, tmp_path):
    studio.add([write_log(tmp_path / "a.csv")])
    (sidecar,) = (studio.folder / "originals").glob("*.json")
    before = sidecar.read_bytes()
    sidecar.unlink()
    report = studio.check()
    assert (report.problems, len(report.repaired)) == ((), 1)
    assert sidecar.read_bytes() == before


def test_two_studios_on_one_folder_see_each_others_changes(studio, tmp_path):
    with Studio.open(studio.folder) as other:
        assert other.loggers() == {}
        studio.add([write_log(tmp_path / "a.csv", label="A")])
        assert other.loggers().keys() == {"a"}
        assert len(readings(other, "a")["1"]) == 48


# ------------------------------------------------------------------------------------------------- looking back


def place(studio, logger, **hanging):
    """A room with one logger in it from the beginning of the year."""
    folder = studio.folder.parent / "register"
    folder.mkdir(exist_ok=True)
    (folder / "places.csv").write_text("id,name,kind\nroom,The room,store\nloft,The loft,loft\n", encoding="utf-8")
    studio.import_register(folder)
    studio.set_hanging(logger, "room", "2026-01-01", **hanging)


def test_a_reading_is_traced_to_its_file_and_line(studio, tmp_path):
    file = write_log(tmp_path / "store.csv", label="A")
    studio.add([file])
    place(studio, "a")
    moment = MONDAY + pd.Timedelta(hours=5)
    trace = studio.trace("room", moment)
    line = file.read_text(encoding="utf-8").splitlines()[trace.line - 1]
    assert line == f"2026-01-05T05:00:00Z,{trace.raw_temp_c},{trace.raw_rh_percent}"
    assert (trace.file_name, trace.time, trace.logger_id) == ("store.csv", moment, "a")
    assert studio.trace("a", moment) == trace
    with pytest.raises(NotThere, match="nothing was read"):
        studio.trace("room", moment + pd.Timedelta(days=90))
    with pytest.raises(NotThere, match="neither a place nor a logger"):
        studio.trace("attic", moment)


def test_a_check_corrects_readings_from_its_day_on_and_raw_ones_stay(studio, tmp_path):
    studio.add([write_log(tmp_path / "store.csv", label="A", rows=96)])
    place(studio, "a")
    raw = studio.climate("room", MONDAY, MONDAY + pd.Timedelta(days=2))
    studio.calibrate("a", "2026-01-06", rh_points=((33.0, 35.0), (75.0, 77.0)), temp_point=(20.0, 20.5),
                     rh_accuracy_percent=1.0, temp_accuracy_c=0.2, basis="two saturated salts")  # fmt: skip
    corrected = studio.climate("room", MONDAY, MONDAY + pd.Timedelta(days=2))
    since = corrected.time >= pd.Timestamp("2026-01-06", tz="Europe/Berlin")
    np.testing.assert_allclose(raw.rh_percent - corrected.rh_percent, np.where(since, 2.0, 0.0), atol=1e-9)
    np.testing.assert_allclose(raw.temp_c - corrected.temp_c, np.where(since, 0.5, 0.0), atol=1e-9)
    assert (corrected.sensor.rh_bias_percent, corrected.sensor.temp_bias_c) == (1.0, 0.2)
    assert "two saturated salts" in corrected.sensor.basis
    trace = studio.trace("room", MONDAY + pd.Timedelta(days=1, hours=5))
    assert trace.raw_rh_percent - trace.rh_percent == pytest.approx(2.0)


def test_loggers_not_fetched_are_told_from_loggers_that_stopped_and_flat_ones(studio, tmp_path):
    fetched = write_log(tmp_path / "store 2026-01-06.csv", label="A")
    stopped = write_log(tmp_path / "crate 2026-01-20.csv", label="C")
    flat = tmp_path / "office.csv"
    rows = [f"{at:%Y-%m-%dT%H:%M:%S}Z,18.{min(n, 48) % 10},50.{min(n, 47) % 9}"
            for n, at in enumerate(pd.date_range(MONDAY, periods=144, freq="30min"))]  # fmt: skip
    flat.write_text("Time,Temperature (°C),Relative humidity (%)\n" + "\n".join(rows), encoding="utf-8")
    studio.add([fetched, stopped, flat])
    seen = studio.seen(now=MONDAY + pd.Timedelta(days=20))
    assert (seen["a"].late, seen["a"].stopped_inside_file) == (True, False)
    assert (seen["c"].late, seen["c"].stopped_inside_file) == (False, True)
    assert seen["office"].stuck_since == MONDAY + pd.Timedelta(days=1)
    assert seen["a"].cadence == pd.Timedelta(minutes=30)
    assert not studio.seen(now=MONDAY + pd.Timedelta(days=2))["a"].late


def test_arrivals_say_what_came_since_a_moment(studio, tmp_path):
    studio.add([write_log(tmp_path / "store.csv", label="A")])
    (told,) = arrivals(studio).came_in
    assert "1 file, 48 readings" in told
    assert arrivals(studio, pd.Timestamp.now(tz="UTC") + pd.Timedelta(minutes=1)).came_in == ()


def _undo_and_die(folder, when):
    import envwatch.archive.intake.keep as keeping

    def die(*_args):
        os._exit(9)

    if when == "before the register forgets":
        keeping._forget_loggers = die
    elif when == "before any is set apart":
        keeping.originals.set_apart = die
    else:
        Path.replace = die  # the original is set apart, its sidecar not yet
    Studio.open(folder).undo()


@pytest.mark.parametrize(
    "when", ["before the register forgets", "before any is set apart", "before its sidecar is set apart"]
)
def test_an_undo_that_was_killed_is_ended_or_forgotten_by_the_next_check(studio, tmp_path, when):
    """Before the register forgets a file it stays kept; after that it is set apart, and never deleted."""
    studio.add([write_log(tmp_path / "store_1.csv", label="A")])
    originals = studio.folder / "originals"
    names = {path.name for path in originals.iterdir()}
    process = beside().Process(target=_undo_and_die, args=(str(studio.folder), when))
    process.start()
    process.join(120)
    assert process.exitcode == 9
    found = studio.check(rebuild=True)
    assert (found.problems, found.strays) == ((), ())
    kept = when == "before the register forgets"
    assert bool(found.swept) != kept
    assert {path.name for path in (originals if kept else originals / "undone").iterdir()} == names
    assert bool(studio.loggers()) == kept


@pytest.mark.parametrize("title", ["Klimadaten", "Operator: Anne"])
def test_a_title_that_any_logger_bears_does_not_join_two_of_them(studio, tmp_path, title):
    for name, temp_c in (("cellar", 12.0), ("attic", 24.0)):
        file = write_log(tmp_path / f"{name}.csv", temp_c=temp_c)
        file.write_text(f"{title}\n{file.read_text(encoding='utf-8')}", encoding="utf-8")
        studio.add([file])
    assert sorted(studio.loggers()) == ["attic", "cellar"]


def test_a_file_that_changes_between_being_read_and_being_kept_is_refused_whole(studio, tmp_path):
    """The second file's turn comes when the first is read and not yet kept."""
    first = write_log(tmp_path / "A1.csv", label="A")
    second = write_log(tmp_path / "B1.csv", label="B")

    def change(done: int, _of: int, name: str) -> None:
        if name == second.name:
            first.write_text(first.read_text(encoding="utf-8").replace("18.", "19."), encoding="utf-8")

    report = studio.add([first, second], progress=change)
    assert [one.status for one in report.outcomes] == ["refused", "kept"], report
    assert "changed while it was read" in report.outcomes[0].reason
    assert len(list((studio.folder / "originals").glob("*.csv"))) == 1 and studio.check().problems == ()
