"""A last row without a line end: cut inside a number it is set aside, whole it is read."""

import numpy as np
import pytest

from tests.logs_layouts import assert_adds_up, climate, read, rows_of, write

CUT = "cut off at the end of the file"
HEADER = "Time,Temperature (°C),Humidity (%)\n"


def numbered(temps, hums):
    """Rows with these texts, ten minutes apart."""
    return [f"2024-03-{13 + i // 144:02d} {i // 6 % 24:02d}:{i % 6}0,{t},{h}"
            for i, (t, h) in enumerate(zip(temps, hums, strict=True))]  # fmt: skip


def of(tmp_path, lines, header=HEADER):
    return read(write(tmp_path / "a.csv", header + "\n".join(lines)))


def was_cut(log, rows):
    assert_adds_up(log)
    assert log.counts.data_rows == rows
    return log.counts.set_aside == {CUT: 1} and any("breaks off in line" in note for note in log.notes)


@pytest.mark.parametrize("last", ["5", "4", "21.", "2", ""])
def test_whole_numbers_cut_in_the_middle_are_not_read(tmp_path, last):
    rows = numbered([f"{20 + i % 3 / 10:.1f}" for i in range(60)], [49 + i % 3 for i in range(60)])
    rows[-1] = rows[-1].rsplit(",", 1)[0] + f",{last}" if last != "21." else rows[-1].rsplit(",", 2)[0] + ",21."
    log = of(tmp_path, rows)
    if last == "":  # no humidity was written: the temperature stands whole before its delimiter
        assert log.counts.used == 60 and np.isnan(log.channels[0].rh_percent[-1])
    else:
        assert was_cut(log, 60), log.notes


def test_a_number_cut_before_its_point_is_not_read_where_half_of_the_others_are_whole(tmp_path):
    rows = numbered(["20.1"] * 60, ["50.5" if i % 2 else "51" for i in range(59)] + ["5"])
    assert was_cut(of(tmp_path, rows), 60)


@pytest.mark.parametrize("last", ["50", "49", "51", "9", "100"])
def test_whole_numbers_left_whole_are_read(tmp_path, last):
    hums = [49 + i % 3 for i in range(59)] if last in ("50", "49", "51") else []
    hums = hums or ([12 - i // 20 for i in range(59)] if last == "9" else [97 + i // 20 for i in range(59)])
    log = of(tmp_path, numbered(["20.1"] * 60, [*hums, last]))
    assert log.counts.used == 60 and log.channels[0].rh_percent[-1] == float(last)


def test_a_hundred_cut_to_ten_is_not_read(tmp_path):
    assert was_cut(of(tmp_path, numbered(["20.1"] * 60, [*[98 + i % 3 for i in range(59)], "10"])), 60)


@pytest.mark.parametrize(("last", "cut"), [("50", True), ("50.", True), ("5", True), ("50.1", False), ("50.12", False)])
def test_numbers_written_without_their_last_nought(tmp_path, last, cut):
    """To 0.01 with noughts left off: a tenth of the rows has one place, a hundredth none."""
    hums = [f"{5000 + (37 * i) % 100:d}" for i in range(199)]
    rows = numbered(["20.1"] * 200, [*(f"{int(h) / 100:g}" for h in hums), last])
    log = of(tmp_path, rows)
    assert was_cut(log, 200) == cut
    assert log.counts.used == 200 - cut


def test_a_value_without_places_among_many_such_is_read_and_told(tmp_path):
    """Noughts left off, to 0.1: every tenth row has no places, so nothing shows that the last was cut."""
    rows = numbered(["20.1"] * 60, [f"{(500 + i) / 10:g}" for i in range(59)] + ["56"])
    log = of(tmp_path, rows)
    assert log.counts.used == 60
    assert any("no line end" in note for note in log.notes)


def test_a_last_row_that_is_whole_is_not_remarked_upon(tmp_path):
    log = of(tmp_path, rows_of(climate()))
    assert log.counts.used == 300 and not log.counts.set_aside
    assert not any("line end" in note or "breaks off" in note for note in log.notes)


@pytest.mark.parametrize("last", ["2024-03-13 09:5", "2024-03-13 09:50:", "2024-03-13 09:50:0", "2024-03-13 09:50"])
def test_a_time_in_the_last_column_cut_short_is_not_read(tmp_path, last):
    rows = [f"20.{i % 10},50.{i % 7},2024-03-13 {i // 6:02d}:{i % 6}0:05" for i in range(60)]
    rows[-1] = f"20.1,50.3,{last}"
    assert was_cut(of(tmp_path, rows, "Temperature (°C),Humidity (%),Time\n"), 60)


def test_a_cell_that_lost_its_unit_is_not_read(tmp_path):
    rows = numbered([f"{20 + i % 3 / 10:.1f}°C" for i in range(60)], [f"{49 + i % 3} %" for i in range(60)])
    whole = of(tmp_path, rows)
    assert whole.counts.used == 60
    assert was_cut(of(tmp_path, [*rows[:-1], rows[-1].removesuffix(" %")]), 60)


def test_readings_before_a_cut_in_a_later_column_stand(tmp_path):
    rows = [f"{row},{i % 5 + 10},3.{i % 10}1" for i, row in enumerate(rows_of(climate(n=60)))]
    header = "Time,Temperature (°C),Humidity (%),Lux,Battery (V)\n"
    log = of(tmp_path, [*rows[:-1], rows[-1][:-3]], header)
    assert log.counts.used == 60 and not log.counts.set_aside
    assert any("breaks off in line 61" in note for note in log.notes)


def test_a_cut_in_a_row_of_one_quantity_is_told_by_its_own_kind(tmp_path):
    rows = []
    for row in rows_of(climate(n=60)):
        stamp, temp, rh = row.split(",")
        rows += [f"{stamp},temperature,{temp}", f"{stamp},humidity,{rh.split('.')[0]}"]
    log = of(tmp_path, rows, "time,quantity,value\n")
    assert not log.counts.set_aside
    log = of(tmp_path, [*rows[:-1], rows[-1][:-1]], "time,quantity,value\n")
    assert log.counts.set_aside[CUT] == 1
    assert_adds_up(log)


def test_newest_first_the_last_row_is_the_oldest(tmp_path):
    rows = numbered(["20.1"] * 60, [49 + i % 3 for i in range(60)])[::-1]
    assert was_cut(of(tmp_path, [*rows[:-1], rows[-1][:-1]]), 60)


def test_a_big_file_cut_in_its_last_number(tmp_path, monkeypatch):
    from envwatch.logs.text import lines as text_lines

    monkeypatch.setattr(text_lines, "QUICK_FROM", 1000)
    rows = numbered(["20.1"] * 600, [49 + i % 3 for i in range(600)])
    assert was_cut(of(tmp_path, [*rows[:-1], rows[-1][:-1]]), 600)
    assert of(tmp_path, rows).counts.used == 600


def test_the_lower_of_two_tables_may_be_cut_too(tmp_path):
    rows = numbered(["20.1"] * 100, [49 + i % 3 for i in range(100)])
    swapped = [*rows[:50], "Time,Humidity (%),Temperature (°C)"]
    swapped += [",".join((t, h, c)) for t, c, h in (row.split(",") for row in rows[50:])]
    assert read(write(tmp_path / "b.csv", HEADER + "\n".join(swapped))).counts.used == 100
    log = read(write(tmp_path / "c.csv", HEADER + "\n".join(swapped)[:-1]))
    assert was_cut(log, 100)
