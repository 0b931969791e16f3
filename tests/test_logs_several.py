"""Several tables in one file, small and big: every reading by its own clock, every data row counted once."""

import numpy as np
import pytest

from envwatch.core.errors import BadInput
from envwatch.logs.text import lines as text_lines
from tests.logs_layouts import assert_adds_up, assert_reads, climate, read, rows_of, write

BIG = pytest.mark.parametrize("quick_from", [text_lines.QUICK_FROM, 1000], ids=["small", "big"])
HEADER = "Time,Temp (°C),RH (%)"


@pytest.fixture(autouse=True)
def as_big(request, monkeypatch):
    if "quick_from" in request.fixturenames:
        monkeypatch.setattr(text_lines, "QUICK_FROM", request.getfixturevalue("quick_from"))


@BIG
@pytest.mark.parametrize("fill", ["", ",,,"], ids=["short rows", "empty fields"])
def test_a_second_probes_own_times_are_used(tmp_path, quick_from, fill):
    north, south = climate(n=700, seed=1), climate("2024-03-01T00:03Z", n=640, seed=2)
    left, right = rows_of(north), rows_of(south)
    rows = [row + ("," + right[i] if i < len(right) else fill) for i, row in enumerate(left)]
    head = "Time,T North (°C),RH North (%),Time,T South (°C),RH South (%)"
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows, ""])))
    assert_reads(log, [north, south], ["North", "South"])
    assert (log.counts.data_rows, log.counts.used) == (700, 700)  # a line is one data row


def test_lines_of_two_tables_side_by_side_are_counted_once_whatever_becomes_of_them(tmp_path):
    left, right = rows_of(climate(n=60, seed=1)), rows_of(climate("2024-03-01T00:03Z", n=60, seed=2))
    left[5] = left[5].rsplit(",", 2)[0] + ",err,err"  # used for the other probe
    left[6] = right[6] = "2024-03-01 01:00:00,err,err"  # of no use
    left[8], right[8] = left[7], right[7]  # the line before once more
    rows = [f"{a},{b}" for a, b in zip(left, right, strict=True)]
    head = "Time,T North (°C),RH North (%),Time,T South (°C),RH South (%)"
    log = read(write(tmp_path / "a.csv", "\n".join([head, *rows, ""])))
    assert_adds_up(log)
    assert (log.counts.data_rows, log.counts.used, log.counts.duplicate) == (60, 58, 1)
    assert log.counts.set_aside == {"error code": 1}
    assert any("North: 1" in note for note in log.notes)


@BIG
@pytest.mark.parametrize("head", ["Time,RH (%),Temp (°C)", "Time,RH (%),Temp (°F)", "Time,RH (%),Temp (°C),Lux"])
def test_a_second_table_with_another_header_is_read_to_its_end(tmp_path, quick_from, head):
    whole = climate(n=800)
    rows = rows_of(whole)
    lower = []
    for stamp, temp, rh in (row.split(",") for row in rows[500:]):
        temp = f"{float(temp) * 1.8 + 32:.2f}" if "°F" in head else temp
        lower.append(",".join((stamp, rh, temp, "7")[: head.count(",") + 1]))
    log = read(write(tmp_path / "a.csv", "\n".join([HEADER, *rows[:500], head, *lower, ""])))
    assert_reads(log, whole, tolerance=1e-6)
    assert log.counts.used == 800 and set(log.channels[0].line) == set(range(2, 502)) | set(range(503, 803))


@BIG
def test_another_loggers_record_below_is_a_probe_of_its_own(tmp_path, quick_from):
    north, south = climate(n=500, seed=1), climate("2024-03-01T00:03Z", n=300, seed=2)
    text = ["Serial: 1001", HEADER, *rows_of(north), "", "Serial: 1002", HEADER, *rows_of(south), ""]
    log = read(write(tmp_path / "a.csv", "\n".join(text)))
    assert_reads(log, [north, south], ["1001", "1002"])
    assert log.label is None  # the file is neither logger's alone


@BIG
def test_the_same_loggers_next_download_below_is_one_record(tmp_path, quick_from):
    whole = climate(n=800)
    rows = rows_of(whole)
    text = ["Serial: 1001", HEADER, *rows[:500], "", "Serial: 1001", HEADER, *rows[500:], ""]
    log = read(write(tmp_path / "a.csv", "\n".join(text)))
    assert_reads(log, whole)
    assert log.label == "1001"


@BIG
def test_tables_of_other_probes_at_the_same_times_are_refused(tmp_path, quick_from):
    north, south = climate(n=500, seed=1), climate("2024-03-01T00:03Z", n=300, seed=2)
    text = [HEADER, *rows_of(north), "Time,Temp South (°C),RH South (%)", *rows_of(south), ""]
    with pytest.raises(BadInput, match="line 502: a second table"):
        read(write(tmp_path / "a.csv", "\n".join(text)))


def test_a_small_table_above_the_readings_is_counted(tmp_path):
    rows, more = rows_of(climate("2024-02-01T00:00Z", n=3)), rows_of(climate(n=300))
    text = [HEADER, *rows, "", "Time,RH (%),Temp (°C)", *(",".join(np.take(r.split(","), [0, 2, 1])) for r in more), ""]
    log = read(write(tmp_path / "a.csv", "\n".join(text)))
    assert_adds_up(log)
    assert log.counts.data_rows == 303 and sum(log.counts.set_aside.values()) == 3
