"""Workbooks: every sheet with readings is read or named, and the workbook's own flag dates its numbers."""

import io
import re
import zipfile

import openpyxl
import pytest
from logs_layouts import Truth, assert_reads, climate, read, write
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from envwatch.core.errors import BadInput

TRUTH = climate()
HEAD = ["Date", "Temp (°C)", "RH (%)"]


def rows(truth: Truth) -> list[list]:
    """Moments, temperatures and humidities as a workbook holds them."""
    times = [t.to_pydatetime().replace(tzinfo=None) for t in truth.time]
    return [list(row) for row in zip(times, truth.temp_c.tolist(), truth.rh_percent.tolist(), strict=True)]


def book(sheets: dict[str, list[list]], *, hidden: str = "", from_1904: bool = False) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    made.epoch = CALENDAR_MAC_1904 if from_1904 else made.epoch
    for title, cells in sheets.items():
        sheet = made.create_sheet(title)
        sheet.sheet_state = "hidden" if title == hidden else "visible"
        for row in cells:
            sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def days(truth: Truth, zero: int) -> list[float]:
    """Day numbers; `zero` is that of 1970-01-01: 25,569 from 1900, 24,107 from 1904 (ECMA-376 part 1, 18.17.4.1)."""
    return [t.timestamp() / 86400 + zero for t in truth.time]


@pytest.mark.parametrize("from_1904", [False, True])
@pytest.mark.parametrize("form", ["number", "text", "pair"])
def test_day_numbers_count_from_the_year_that_the_workbook_states(tmp_path, from_1904, form):
    numbers, head = days(TRUTH, 24_107 if from_1904 else 25_569), HEAD
    cells = [[f"{n:.6f}" if form == "text" else n, *row[1:]] for n, row in zip(numbers, rows(TRUTH), strict=True)]
    if form == "pair":
        cells, head = (
            [[int(n), n % 1, *row[1:]] for n, row in zip(numbers, cells, strict=True)],
            ["Date", "Time", *HEAD[1:]],
        )
    log = read(write(tmp_path / "a.xlsx", book({"Data": [head, *cells]}, from_1904=from_1904)))
    assert_reads(log, TRUTH)
    assert any("1904, as the workbook says" in note for note in log.notes) == from_1904


def test_dates_of_a_workbook_from_1904_are_shifted_once(tmp_path):
    assert_reads(read(write(tmp_path / "a.xlsx", book({"D": [HEAD, *rows(TRUTH)]}, from_1904=True))), TRUTH)


def test_an_answer_goes_before_the_flag(tmp_path):
    cells = [[n, *row[1:]] for n, row in zip(days(TRUTH, 24_107), rows(TRUTH), strict=True)]
    assert_reads(read(write(tmp_path / "a.xlsx", book({"D": [HEAD, *cells]})), dates="1904"), TRUTH)


@pytest.mark.parametrize("end", ["End of data", "Ende", "Fin", "Fine", "Fim", "Einde", "Slut", "Koniec", "— end —"])
@pytest.mark.parametrize("before", [[], [[]], [[], []]], ids=["at once", "after one", "after two"])
def test_a_word_at_the_end_breaks_nothing(tmp_path, end, before):
    log = read(write(tmp_path / "a.xlsx", book({"Data": [HEAD, *rows(TRUTH), *before, [end]]})))
    assert_reads(log, TRUTH)
    assert [text for _, text in log.events] == [end.replace("—", "-")]


def test_merged_and_blank_rows_and_columns_above_and_left_break_nothing(tmp_path):
    made = openpyxl.load_workbook(
        io.BytesIO(
            book({"D": [[], [None, "Store"], [], ["", "", "Air"], [None, *HEAD], *([None, *r] for r in rows(TRUTH))]})
        )
    )
    made["D"].merge_cells("B2:D2")
    made["D"].merge_cells("C4:D4")
    made.save(tmp_path / "a.xlsx")
    assert_reads(read(tmp_path / "a.xlsx"), TRUTH)


@pytest.mark.parametrize("seldom", [5, 40, 250])
def test_rows_trimmed_of_their_empty_cells_keep_their_columns(tmp_path, seldom):
    cells = [[t, a, b if i % seldom == 0 else None] for i, (t, a, b) in enumerate(rows(TRUTH))]
    log = read(write(tmp_path / "a.xlsx", book({"Data": [HEAD, *cells]})))
    (channel,) = log.channels
    assert len(channel.time) == 300
    assert channel.rh_percent[::seldom].tolist() == TRUTH.rh_percent[::seldom].tolist()


@pytest.mark.parametrize("stated", ["A1", "A1:B5", "A1:XFD1048576", ""])
def test_the_size_that_a_sheet_states_is_not_believed(tmp_path, stated):
    new = f'<dimension ref="{stated}"'.encode() if stated else b"<!--"
    with (zipfile.ZipFile(io.BytesIO(book({"D": [HEAD, *rows(TRUTH)]}))) as old,
          zipfile.ZipFile(tmp_path / "a.xlsx", "w") as out):  # fmt: skip
        for name in old.namelist():
            data = old.read(name)
            if name.endswith("sheet1.xml") and stated:
                data = re.sub(rb'<dimension ref="[^"]*"', new, data)
            elif name.endswith("sheet1.xml"):
                data = re.sub(rb'<dimension ref="[^"]*"\s*/>', b"", data)
            out.writestr(name, data)
    assert_reads(read(tmp_path / "a.xlsx"), TRUTH)


def notes(log) -> str:
    return " ".join(log.notes)


def test_a_hidden_sheet_is_left_out_and_named_with_its_rows(tmp_path):
    content = book({"Old": [HEAD, *rows(climate(seed=2))], "Now": [HEAD, *rows(TRUTH)]}, hidden="Old")
    log = read(write(tmp_path / "a.xlsx", content))
    assert_reads(log, TRUTH)
    assert "The hidden sheet 'Old' (301 rows) was left out" in notes(log)
    both = book({"Old": [HEAD, *rows(climate(seed=2))], "Now": [HEAD, *rows(TRUTH)]})  # shown, as the note says
    assert_reads(read(write(tmp_path / "b.xlsx", both)), [climate(seed=2), TRUTH], ["Old", "Now"])


def test_readings_on_a_hidden_sheet_alone_are_read(tmp_path):
    assert_reads(
        read(write(tmp_path / "a.xlsx", book({"Cover": [["Hi"]], "R": [HEAD, *rows(TRUTH)]}, hidden="R"))), TRUTH
    )


def test_a_sheet_that_cannot_be_read_is_named_with_its_rows_and_why(tmp_path):
    hurt = [[t, "05. Jun" if i == 7 else a, b] for i, (t, a, b) in enumerate(rows(climate(seed=2)))]
    content = book(
        {"Attic": [HEAD, *rows(TRUTH)], "Cellar": [HEAD, *hurt], "About": [["made"], ["by"]], "None": [HEAD]}
    )
    told = notes(read(write(tmp_path / "a.xlsx", content)))
    assert "Sheet 'Cellar' (301 rows) was left out: line 9: a spreadsheet has turned readings of 'Temp (°C)'" in told
    assert "Sheet 'About' (2 rows) was left out: no table" in told
    assert "Sheet 'None' (1 rows) was left out: there is a header" in told


def test_a_workbook_is_refused_for_its_longest_sheet(tmp_path):
    with pytest.raises(BadInput, match="temperature"):
        content = book(
            {"About": [["made"], ["by"]], "Data": [["Date", "RH (%)"], *([t, b] for t, _, b in rows(TRUTH))]}
        )
        read(write(tmp_path / "a.xlsx", content))


@pytest.mark.parametrize(
    "titles", [("Jan", "Feb", "März"), ("Sheet3", "Sheet1", "Sheet2"), ("2024-03", "2024-04", "2024-05")]
)
def test_sheets_named_by_time_or_number_that_follow_one_another_are_one_record(tmp_path, titles):
    parts = [rows(TRUTH)[:100], rows(TRUTH)[100:200], rows(TRUTH)[200:]]
    log = read(write(tmp_path / "a.xlsx", book({t: [HEAD, *p] for t, p in zip(titles, parts, strict=True)})))
    assert_reads(log, TRUTH)
    assert "follow one another" in notes(log)


@pytest.mark.parametrize(("titles", "overlap"), [(("Attic", "Cellar"), 0), (("Sheet1", "Sheet2"), 1)])
def test_sheets_of_rooms_or_of_the_same_times_are_probes(tmp_path, titles, overlap):
    parts = [rows(TRUTH)[: 150 + overlap], rows(TRUTH)[150:]]
    log = read(write(tmp_path / "a.xlsx", book({t: [HEAD, *p] for t, p in zip(titles, parts, strict=True)})))
    assert [channel.label for channel in log.channels] == list(titles)


@pytest.mark.parametrize("titles, serials, apart, probes", [
    (("First half", "Second half"), ("10042", "10042"), 0, 1), (("Attic", "Cellar"), ("10042", "10042"), 0, 1),
    (("Attic", "Cellar"), ("10042", "10042"), 9 * 144, 1), (("Depot 2025", "Depot 2026"), ("", ""), 0, 1),
    (("Depot (1)", "Depot (2)"), ("10042", ""), 0, 1), (("Sheet1", "Sheet2"), ("10042", "10043"), 0, 2),
    (("Attic", "Cellar"), ("10042", "10043"), 0, 2), (("Attic", "Cellar"), ("10042", ""), 0, 2),
    (("Attic", "Cellar"), ("10042", "10042"), -1, 2)])  # fmt: skip
def test_sheets_of_one_logger_that_follow_one_another_are_one_record(tmp_path, titles, serials, apart, probes):
    """The second begins `apart` steps of ten minutes later than the first goes on, and is read by the same logger."""
    later = climate("2024-03-01T00:00Z", n=300 + max(apart, 0))
    parts = [rows(later)[:150], rows(later)[150 + apart :]]
    heads = [[["Serial number", serial], HEAD] if serial else [HEAD] for serial in serials]
    content = book({t: [*h, *p] for t, h, p in zip(titles, heads, parts, strict=True)})
    log = read(write(tmp_path / "a.xlsx", content))
    assert len(log.channels) == probes and sum(len(c.time) for c in log.channels) == sum(map(len, parts))
    assert ("follow one another" in notes(log)) == (probes == 1)
    assert log.label == (serials[0] or None if probes == 1 else None) or probes == 2 and len({*serials}) < 3
