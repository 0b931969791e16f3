"""A spreadsheet's day numbers in a text: from 1900 or from 1904, four years and a day apart."""

import pandas as pd
import pytest
from logs_layouts import assert_adds_up, assert_reads, climate, write

from envwatch import logs
from envwatch.archive import Studio
from envwatch.core.errors import BadInput

NOW = pd.Timestamp("2026-06-01", tz="UTC")
FROM_1900, FROM_1904 = pd.Timestamp("1899-12-30"), pd.Timestamp("1904-01-01")
RECENT, OLD = climate("2025-03-04T00:00Z"), climate("2020-03-04T00:00Z")


def counted(truth, since, above=""):
    rows = [f"{(t.tz_localize(None) - since) / pd.Timedelta('1D'):.5f};{a:.1f};{b:.1f}"
            for t, a, b in zip(truth.time, truth.temp_c, truth.rh_percent, strict=True)]  # fmt: skip
    return "\n".join([*above.splitlines(), "Time;Temp °C;RH %", *rows, ""])


def parted(truth, since):
    """The day in one column and its fraction in the next."""
    rows = []
    for t, a, b in zip(truth.time, truth.temp_c, truth.rh_percent, strict=True):
        day = (t.tz_localize(None) - since) / pd.Timedelta("1D")
        rows.append(f"{int(day)};{day % 1:.5f};{a:.1f};{b:.1f}")
    return "\n".join(["Date;Time;Temp °C;RH %", *rows, ""])


def read(path, dates=None):
    return logs.read(path, logs.Answers(zone="UTC", dates=dates), now=NOW)


def open_notes(log):
    return [note for note in log.notes if "1904" in note]


def test_recent_ones_from_1900_are_certain_for_from_1904_they_would_lie_ahead(tmp_path):
    log = read(write(tmp_path / "a.csv", counted(RECENT, FROM_1900)))
    assert_reads(log, RECENT)
    assert open_notes(log) == []


@pytest.mark.parametrize("written", [counted, parted])
def test_where_both_counts_give_a_past_date_it_is_said_with_both_dates_and_the_answer(tmp_path, written):
    log = read(write(tmp_path / "a.csv", written(OLD, FROM_1900)))
    assert_reads(log, OLD)
    (note,) = open_notes(log)
    assert "2020-03-04" in note and "2024-03-05" in note and "⟦dates⟧ 1904" in note


@pytest.mark.parametrize("written", [counted, parted])
def test_the_answer_is_followed(tmp_path, written):
    log = read(write(tmp_path / "a.csv", written(RECENT, FROM_1904)), "1904")
    assert_reads(log, RECENT)
    assert_adds_up(log)
    assert open_notes(log) == ["Day numbers were counted from 1904, as answered."]
    assert log.layout.date_format == "spreadsheet serial days from 1904"


def test_the_answer_from_1900_ends_the_doubt(tmp_path):
    log = read(write(tmp_path / "a.csv", counted(OLD, FROM_1900)), "1900")
    assert_reads(log, OLD)
    assert open_notes(log) == []


@pytest.mark.parametrize("above", ["Start: 2025-03-04 00:00", "Beginn;04.03.2025", "last reading 14/03/2025"])
def test_a_date_above_the_table_that_fits_one_count_decides(tmp_path, above):
    recent = climate("2025-03-04T00:00Z", n=3 * 288) if above.startswith("last") else RECENT
    above = above.replace("14/03/2025", f"{recent.time[-1]:%d/%m/%Y}")
    log = read(write(tmp_path / "a.csv", counted(recent, FROM_1904, above)))
    assert_reads(log, recent)
    (note,) = open_notes(log)
    assert "above the table" in note


def test_a_date_above_the_table_that_fits_1900_ends_the_doubt(tmp_path):
    log = read(write(tmp_path / "a.csv", counted(OLD, FROM_1900, "Start: 2020-03-04 00:00\nExported: 2024-03-05")))
    assert_reads(log, OLD)
    log = read(write(tmp_path / "a.csv", counted(OLD, FROM_1900, "Start: 2020-03-04 00:00")))
    assert_reads(log, OLD)
    assert open_notes(log) == []


def test_the_answer_says_nothing_of_dates_in_words(tmp_path):
    rows = [f"{t:%d.%m.%Y %H:%M};{a:.1f};{b:.1f}"
            for t, a, b in zip(OLD.time, OLD.temp_c, OLD.rh_percent, strict=True)]  # fmt: skip
    log = read(write(tmp_path / "a.csv", "\n".join(["Time;Temp °C;RH %", *rows, ""])), "1904")
    assert_reads(log, OLD)


def test_an_answer_that_is_none_is_refused_with_all_that_are(tmp_path):
    with pytest.raises(BadInput, match="dmy mdy ymd 1900 1904"):
        read(write(tmp_path / "a.csv", counted(OLD, FROM_1900)), "1905")


def test_what_was_answered_of_one_logger_is_not_taken_for_another_whose_files_are_named_alike(tmp_path):
    def file(day, label, month):
        truth = climate(f"2021-{month:02d}-04T00:00Z")
        text = counted(truth, FROM_1904, f"Serial number;{label}")
        return write(tmp_path / f"loft_2026-02-{day:02d}.csv", text), truth

    with Studio.create(tmp_path / "studio", name="A studio", zone="UTC") as studio:
        (first, _), (other, theirs), (again, _) = file(1, "A1", 3), file(2, "B1", 5), file(3, "A1", 6)
        studio.add([first], logs.Answers(dates="1904"))
        told = [studio.add([path]).outcomes[0] for path in (other, again)]
        assert [(one.status, one.logger_id) for one in told] == [("kept", "b1"), ("kept", "a1")]
        assert any("read from 1900" in note and f"{theirs.time[0]:%Y-%m-%d}" in note for note in told[0].notes)
        assert "dates 1904, as answered for an earlier file of a1" in told[1].notes
