"""A small sample of each long run of `tests/long`."""

import ast
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from envwatch.archive import Studio
from envwatch.archive.intake.summary import mark_notes
from envwatch.cases import timeline
from tests.long import damage, faults, fuzz, hostile, injected, kills, load, orders, scale, wheel

FOUND = Path(__file__).parent / "long" / "found"


def test_nothing_acknowledged_is_lost_when_a_writing_program_is_killed(tmp_path):
    counted = kills.run(5, seed=5, folder=tmp_path)
    assert counted["kills"] >= 5
    assert counted["acknowledged: add"] >= 1


def test_damaged_readings_are_found_refused_and_rebuilt_row_for_row(tmp_path):
    counted = damage.run(4, seed=2, folder=tmp_path)
    assert counted["rows compared"] == 4 * 27_000


def small_disks() -> bool:
    flags = ["-m"] if hasattr(os, "geteuid") and os.geteuid() == 0 else ["-Urm"]
    tried = [*flags, "sh", "-c", "d=$(mktemp -d); mount -t tmpfs small $d"]
    return shutil.which("unshare") is not None and subprocess.run(["unshare", *tried], check=False).returncode == 0


@pytest.mark.skipif(not small_disks(), reason="no small disk can be mounted here")
def test_a_full_disk_refuses_whole_and_loses_nothing(tmp_path):
    counted = faults.full_disk(tmp_path, 9, seed=3)
    assert sum(count for what, count in counted.items() if what.endswith(": refused")) > 1
    assert sum(count for what, count in counted.items() if what.endswith(": done")) > 1


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps permissions in another way")
def test_a_folder_that_may_only_be_read_is_told_and_left_alone(tmp_path):
    assert sum(faults.read_only(tmp_path, 3, seed=0).values()) == 3


def test_files_that_vanish_while_they_are_added_hold_up_no_other(tmp_path):
    counted = faults.vanishing(tmp_path, 4, seed=1)
    assert counted["kept"] > 4 and counted["refused"] > 1


@pytest.mark.skipif(shutil.which("faketime") is None, reason="faketime is not installed")
def test_a_clock_set_back_loses_nothing(tmp_path):
    assert faults.clock(tmp_path, 1, seed=1)["add: done"] == 1


def test_two_writers_take_turns(tmp_path):
    assert faults.writers(tmp_path, 1, seed=1)["adds"] == 4


@pytest.mark.parametrize("target", fuzz.SHARES)
def test_hostile_input_gives_a_result_or_one_plain_line_and_touches_nothing_else(tmp_path, target):
    tally = fuzz.plain(target, 250, seed=7, folder=tmp_path)
    assert tally.found == {} and tally.counts["executions"] == 250
    assert tally.counts["refused"] and tally.counts["refused"] < 250  # neither all refused nor all taken
    assert tally.slowest < fuzz.MOST_S / 4


@pytest.mark.parametrize("name", sorted(path.name for path in FOUND.iterdir()))
def test_hard_input_is_read_or_refused_plainly(tmp_path, name):
    hostile.Hostile(tmp_path / "work").take(name.partition("-")[0], (FOUND / name).read_bytes())


def test_a_dropped_files_name_may_hold_anything(tmp_path):
    from dashboards.pages.files import put_down

    for name in ("\ud800.csv", "a\u202evsc.exe", "\x1b[31m", "\u2028", ""):
        folder = tmp_path / str(len(list(tmp_path.iterdir())))
        folder.mkdir()
        (path,) = put_down(["data:;base64,QUJD"], [name], folder)
        assert path.name.isprintable() and path.read_bytes() == b"ABC"


def test_people_on_the_pages_while_a_file_is_added_get_what_they_ask_for(tmp_path, demo_copy):
    assert demo_copy == tmp_path / "studio"
    found = load.run(0.05, 2, tmp_path)
    assert found["errors"] == [] and found["added"] >= 1
    assert len(found["took"]["page"]) >= 2


def test_an_archive_grows_from_two_loggers_to_four_and_every_step_still_answers(tmp_path):
    found = scale.run(tmp_path, [2, 4], 30, 1, scale.here, say=lambda _text: None)  # counts the readings itself
    assert [took.loggers for took in found["the week's review"]] == [2, 4]
    assert [took.done for took in found["all hazards, whole record"]] == [2, 4]
    with Studio.open(tmp_path / "studio") as studio:  # a place's page and its week read no other place's record
        timeline.of_place(studio, "r0", *timeline.span_of(studio, "r0"))
        mark_notes(studio, scale.END - scale.WEEK, scale.END, "r0")
        assert {path.split("/")[1] for path in studio.reader._read} == {"logger=l0"}


def test_a_wheel_installs_and_runs_the_demo_outside_the_checkout(tmp_path):
    said = wheel.run(tmp_path, fresh=False)
    assert said[0].startswith("envwatch-") and len(said) == 2


def test_a_fault_put_in_changes_one_expression_and_leaves_a_program():
    drawn = injected.drawn(3, 10)
    assert len({fault.kind for fault in drawn}) > 3
    for fault in drawn:
        whole = (injected.ROOT / fault.file).read_text(encoding="utf-8")
        faulty = injected.put(whole, fault.node, fault.after)
        ast.parse(faulty)
        was, places = ast.get_source_segment(whole, fault.node), re.finditer(re.escape(fault.after), faulty)
        assert whole in [faulty[: at.start()] + was + faulty[at.end() :] for at in places] and whole != faulty


def test_any_order_of_adding_gives_the_same_loggers_after_the_same_answers(tmp_path):
    counted = orders.run(3, 3, seed=4, folder=tmp_path)
    assert (counted["sets"], counted["differ"]) == (3, 0)
