"""Odd delimiters: read where the rows are parted evenly by them, and never preferred to the usual ones."""

import pytest

from envwatch.core.errors import BadInput
from tests.logs_layouts import assert_reads, climate, read, rows_of, write

ODD = ("^", "~", "!", "#", "&", "@", "$", "¦", "§", "¬", "*", "\\", "/", "_", "::", "||")


@pytest.mark.parametrize("delimiter", ODD)
@pytest.mark.parametrize("decimal", [".", ","])
def test_odd_delimiters_part_the_fields(tmp_path, delimiter, decimal):
    truth = climate(n=120)
    rows = rows_of(truth, delimiter=delimiter, decimal=decimal)
    head = delimiter.join(("Time", "Temp (°C)", "RH (%)"))
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["Logger 7", head, *rows, ""]))), truth)


@pytest.mark.parametrize("delimiter", ["^", "~"])
def test_a_big_file_with_an_odd_delimiter(tmp_path, monkeypatch, delimiter):
    from envwatch.logs.text import lines as text_lines

    monkeypatch.setattr(text_lines, "QUICK_FROM", 1000)
    truth = climate(n=3000)
    rows = rows_of(truth, stamp="%d.%m.%Y %H:%M", delimiter=delimiter, decimal=",")
    head = delimiter.join(("Datum/Zeit", "Temperatur (°C)", "Feuchte (%)"))
    assert_reads(read(write(tmp_path / "a.csv", "\n".join([head, *rows, ""]))), truth)


def test_a_date_with_its_months_name_is_not_parted_at_its_blanks(tmp_path):
    truth = climate(n=120)
    rows = rows_of(truth, stamp="%d %b %Y %H:%M", delimiter="~", decimal=",")
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["Date/Time~Temperature (°C)~Humidity (%)", *rows]))), truth)


def test_odd_marks_in_a_usual_file_part_nothing(tmp_path):
    truth = climate(n=120)
    rows = [f"{row};a~b~c^d" for row in rows_of(truth, delimiter=";")]
    assert_reads(read(write(tmp_path / "a.csv", "\n".join(["Time;Temp (°C);RH (%);Note", *rows, ""]))), truth)


def test_rows_that_an_odd_mark_parts_unevenly_are_refused(tmp_path):
    rows = [row.replace("^", "^" * (1 + i % 3)) for i, row in enumerate(rows_of(climate(n=60), delimiter="^"))]
    with pytest.raises(BadInput):
        read(write(tmp_path / "a.csv", "\n".join(["Time^Temp (°C)^RH (%)", *rows, ""])))
