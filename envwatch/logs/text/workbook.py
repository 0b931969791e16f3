"""Spreadsheet workbooks (.xlsx) as lines of cells, within limits of size."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from envwatch.core.errors import BadInput
from envwatch.figures.logs import MAX_CELLS, MAX_COLUMNS, MAX_ENTRIES, MAX_UNPACK_RATIO, MAX_UNPACKED_BYTES
from envwatch.logs.text.encoding import SHEET, Raw

ADVICE = "Open it in a spreadsheet program, choose Save as, CSV UTF-8, and read that file."


class Sheet(NamedTuple):
    """A sheet that holds anything: its lines, and whether it is hidden in the workbook."""

    title: str
    lines: list[str]
    hidden: bool


def sheets(raw: Raw) -> tuple[list[Sheet], bool]:
    """Every sheet that holds anything, and whether the workbook says that its day numbers count from 1904.

    Raises
    ------
    BadInput : no workbook, too big, or packed like a bomb.
    """
    _check_archive(raw)
    import warnings

    from openpyxl.reader.excel import ExcelReader
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            reader = ExcelReader(io.BytesIO(raw.data), read_only=True, data_only=True)
            reader.read_chartsheet = lambda *_: None  # a drawing holds no readings, and may be one that fails
            reader.read()
            book = reader.wb
            found = [Sheet(s.title, _lines(s, raw.name), s.sheet_state != "visible") for s in book.worksheets]
            book.close()
    except BadInput:
        raise
    except Exception as problem:
        raise BadInput(f"the workbook cannot be read ({type(problem).__name__}). {ADVICE}", place=raw.name) from None
    found = [sheet for sheet in found if any(line.strip(SHEET + " ") for line in sheet.lines)]
    if not found:
        raise BadInput(f"the workbook is empty. {ADVICE}", place=raw.name)
    return found, book.epoch == CALENDAR_MAC_1904


def _check_archive(raw: Raw) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(raw.data)) as archive:
            parts = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError, OverflowError):
        raise BadInput(
            "this is a damaged or unknown archive, not a table of readings. Copy or export it again.", place=raw.name
        ) from None
    names = {part.filename for part in parts}
    if names & {"mimetype", "content.xml", "Index/Document.iwa"}:
        raise BadInput(f"this is a spreadsheet that is not opened here. {ADVICE}", place=raw.name)
    if "xl/workbook.xml" not in names:
        raise BadInput(
            "this is a zip archive, not a logger file. Unpack it first, and read the CSV inside.", place=raw.name
        )
    unpacked = sum(part.file_size for part in parts)
    packed = max(sum(part.compress_size for part in parts), 1)
    if (
        len(parts) > MAX_ENTRIES
        or unpacked > MAX_UNPACKED_BYTES
        or (unpacked > 10_000_000 and unpacked / packed > MAX_UNPACK_RATIO)
    ):
        raise BadInput(
            f"the workbook unpacks to {unpacked / 1e6:.0f} MB from {packed / 1e6:.1f} MB, more "
            f"than is opened. {ADVICE}",
            place=raw.name,
        )


def _lines(sheet, name: str) -> list[str]:
    lines, cells = [], 0
    sheet.reset_dimensions()  # what the file states of its size may be wrong
    for row in sheet.iter_rows():
        row = row[: next((i for i in range(len(row), 0, -1) if row[i - 1].value is not None), 0)]
        cells += len(row)
        if len(row) > MAX_COLUMNS or cells > MAX_CELLS:
            raise BadInput(f"sheet {sheet.title!r} is larger than any logger's. {ADVICE}", place=name)
        lines.append(SHEET.join(_text(cell) for cell in row))
    width = max((line.count(SHEET) for line in lines), default=0)  # what is empty at a row's end is not in the file
    return [line + SHEET * (width - line.count(SHEET)) if line else "" for line in lines]


def _text(cell) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, datetime):
        return _rounded(value).isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):  # a time of day counted past midnight of day zero
        seconds = round(value.total_seconds())
        return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"
    if isinstance(value, float):
        return _number(value, getattr(cell, "number_format", "") or "")
    text = str(value).replace(SHEET, " ").replace("\n", " ").replace("\r", " ")
    return text[:2000]


def _rounded(moment: datetime) -> datetime:
    """Serial days resolve about 10 µs; whole seconds come back as such."""
    near = (moment + timedelta(microseconds=500_000)).replace(microsecond=0)
    return near if abs(near - moment) < timedelta(milliseconds=2) else moment


def _number(value: float, number_format: str) -> str:
    """A number as text; a cell shown in percent keeps its sign."""
    if number_format.rstrip().endswith("%"):
        return f"{round(value * 100, 9)!r}%"
    return repr(round(value, 9)) if abs(value) < 1e6 else repr(value)
