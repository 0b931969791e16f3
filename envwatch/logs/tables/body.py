"""The rows below the header as columns of text, each with its line number; and their numbers."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pc_csv

from envwatch.core.errors import BadInput
from envwatch.logs.model import Answers
from envwatch.logs.tables.find import Start
from envwatch.logs.tables.shapes import Column
from envwatch.logs.text import lines as text_lines
from envwatch.logs.text.cells import DAMAGE, Numbers, decimal_marks, looks_numeric, numbers, tidy
from envwatch.logs.times.columns import picked

# threads only for big files: they pay there alone, and a process may not end while they run
BLOCK_BYTES, THREADS_FROM, MOST_ODD = 1 << 26, 1 << 23, 50_000


UNEVEN = "fields that do not fit the others"
_WHOLE = re.compile(r"[<>≤≥]?=? ?[+-]?\d+")


class Body(NamedTuple):
    """All lines from the first reading on, blank and odd ones too.

    columns : text. n_fields : (n,) fields the line had. line : (n,) 1-based.
    """

    columns: list[pa.ChunkedArray]
    n_fields: np.ndarray
    line: np.ndarray


def of_lines(all_lines: list[str], start: Start, name: str) -> Body:
    """The general way: any delimiter, quotes, ragged rows."""
    rows = all_lines[start.first :]
    plain = len(start.delimiter) == 1 and start.delimiter.isascii() and start.delimiter != text_lines.SHEET
    if len(rows) < 50 or not plain or start.width < 2:
        columns, count = text_lines.columns(rows, start.delimiter, name)
    else:
        data = "\n".join([*rows, ""]).encode("utf-8", "replace")
        columns, count = _block(data, 0, len(data), start, set(), name)
    line = np.arange(start.first + 1, start.first + 1 + len(rows), dtype=np.int32)
    body = Body(columns, count, line)
    return _paired(body, start) if start.paired else body


def _paired(body: Body, start: Start) -> Body:
    """Numbers that an unquoted decimal comma split in two, put together again.

    In a row with another number of fields, what is missing, or a bound, may stand in one field instead of two; where
    that does not come out even in one way alone, its readings are unreadable.
    """
    odd = np.flatnonzero((body.n_fields != start.width) & (body.n_fields > 1)).tolist()
    cells = {row: [c[row].as_py() or "" for c in body.columns[: body.n_fields[row]]] for row in odd}
    ways = {row: {_walked(some, start, alone) for alone in (False, True)} - {None} for row, some in cells.items()}
    own = {row: ways[row].pop() if len(ways[row]) == 1 else None for row in odd}
    columns, at = [], 0
    while at < start.width:
        whole = body.columns[at].combine_chunks()
        if at in start.paired:
            part = pc.utf8_trim_whitespace(body.columns[at + 1].combine_chunks())
            joined = pc.binary_join_element_wise(pc.utf8_trim_whitespace(whole), part, ",")
            whole = pc.if_else(pc.equal(part, ""), whole, joined)
        if odd and at >= start.paired[0]:
            texts = np.array(whole.to_pylist(), object)
            texts[odd] = [UNEVEN if own[row] is None else own[row][len(columns)] for row in odd]
            whole = pa.array(texts, pa.string())
        columns.append(pa.chunked_array([whole]))
        at += 1 + (at in start.paired)
    n_fields = body.n_fields.copy()
    n_fields[odd] = [1 if own[row] is None else start.width for row in odd]
    return Body(columns, n_fields, body.line)


def _walked(cells: list[str], start: Start, bounds_alone: bool) -> tuple[str, ...] | None:
    """The fields of one row put together, one number after the other; None where they do not come out even."""
    out, at = [], 0
    for place in range(start.width):
        if place - 1 in start.paired:
            continue
        here, behind = ([*cells[at : at + 2], "", ""][i].strip() for i in (0, 1))
        bound = here[:1] in ("<", ">", "≤", "≥")
        two = place in start.paired and bool(_WHOLE.fullmatch(here)) and not (bound and bounds_alone)
        if two and not behind.isdigit():
            return None
        out.append(f"{here},{behind}" if two else here)
        at += 1 + two
    return tuple(out) if at == len(cells) else None


def of_bytes(data: bytes, begin: int, start: Start, name: str) -> Body:
    """The quick way for big files: blocks of whole lines through pyarrow.

    A block whose rows do not come out one a line (an open quote, a ragged or blank row) is read the
    general way, so that nothing can be swallowed.

    Parameters
    ----------
    data : the file as UTF-8. begin : where the first row of the table starts.
    """
    spans = _whole_lines(data, begin)
    few = _few_texts(data, begin, start, name)
    blocks = [_block(data, lo, hi, start, few, name) for lo, hi in spans]
    width = max(len(columns) for columns, _ in blocks)
    columns = [_stacked([(got[i] if i < len(got) else None, len(count)) for got, count in blocks], i in few)
               for i in range(width)]  # fmt: skip
    count = np.concatenate([count for _, count in blocks])
    line = np.arange(start.first + 1, start.first + 1 + len(count), dtype=np.int32)
    return Body(columns, count, line)


def _few_texts(data: bytes, begin: int, start: Start, name: str) -> set[int]:
    """Columns whose texts repeat: kept as the distinct texts and, per row, which."""
    lo, hi = _whole_lines(data[begin : begin + 400_000], 0)[0]
    columns, count = _block(data, begin + lo, begin + hi, start, set(), name)
    return {i for i, c in enumerate(columns) if i < start.width and len(c.unique()) < 0.5 * max(len(count), 1)}


def _stacked(parts: list[tuple[pa.ChunkedArray | None, int]], few: bool) -> pa.ChunkedArray:
    kind = pa.dictionary(pa.int32(), pa.string()) if few else pa.string()
    chunks = []
    for column, size in parts:
        for chunk in column.chunks if column is not None else [pa.array([""] * size, pa.string())]:
            chunks.append(chunk if chunk.type == kind else chunk.dictionary_encode() if few else chunk.cast(kind))
    return pa.chunked_array(chunks, kind)


def _whole_lines(data: bytes, begin: int) -> list[tuple[int, int]]:
    cuts = [begin]
    while cuts[-1] < len(data):
        end = data.rfind(b"\n", cuts[-1], cuts[-1] + BLOCK_BYTES) + 1
        cuts.append(end if end > cuts[-1] and cuts[-1] + BLOCK_BYTES < len(data) else len(data))
    return list(pairwise(cuts))


def _block(
    data: bytes, lo: int, hi: int, start: Start, few: set[int], name: str
) -> tuple[list[pa.ChunkedArray], np.ndarray]:
    expected = text_lines.line_ends(data, lo, hi) + (data[hi - 1 : hi] != b"\n")
    for ragged in (False, True):
        odd: list[tuple[int, str]] = []
        try:
            table = _parsed(data, lo, hi, start, few, odd if ragged else None)
        except (pa.ArrowInvalid, ValueError):
            continue
        if table.num_rows + len(odd) == expected:
            return _woven(table, odd, start, name) if odd else (table.columns, np.full(expected, start.width, np.int32))
    lines = text_lines.split_lines(data[lo:hi].decode("utf-8", "replace"))
    return text_lines.columns(lines, start.delimiter, name)


def _parsed(data: bytes, lo: int, hi: int, start: Start, few: set[int], odd: list[tuple[int, str]] | None) -> pa.Table:
    """Rows by pyarrow; with a list for `odd`, rows with another number of fields go there with their place."""
    names = [str(i) for i in range(start.width)]
    kinds = {n: pa.dictionary(pa.int32(), pa.string()) if int(n) in few else pa.string() for n in names}

    def put_aside(row) -> str:
        if row.number is None or odd is None or len(odd) > MOST_ODD:
            return "error"
        odd.append((row.number - 1, row.text))
        return "skip"

    return pc_csv.read_csv(
        pa.BufferReader(pa.py_buffer(data).slice(lo, hi - lo)),
        read_options=pc_csv.ReadOptions(
            column_names=names, block_size=1 << 22, use_threads=odd is None and hi - lo > THREADS_FROM
        ),
        parse_options=pc_csv.ParseOptions(
            delimiter=start.delimiter,
            ignore_empty_lines=odd is None,
            invalid_row_handler=None if odd is None else put_aside,
        ),
        convert_options=pc_csv.ConvertOptions(column_types=kinds, strings_can_be_null=False),
    )


def _woven(table: pa.Table, odd: list[tuple[int, str]], start: Start, name: str) -> tuple[list, np.ndarray]:
    """The odd rows back in their places among the others."""
    size = table.num_rows + len(odd)
    at = np.array([number for number, _ in odd])
    if len(set(at.tolist())) != len(odd) or at.max() >= size:
        raise BadInput("rows of different length cannot be told apart. Export the file again.", place=name)
    extra, counts = text_lines.columns([text for _, text in odd], start.delimiter, name)
    place = np.empty(size, np.int64)
    usual = np.ones(size, bool)
    usual[at] = False
    place[usual], place[at] = np.arange(table.num_rows), table.num_rows + np.arange(len(odd))
    order, columns = pa.array(place), []
    for i in range(max(start.width, len(extra))):
        whole = table.column(i) if i < start.width else pa.chunked_array([[""] * table.num_rows], pa.string())
        rest = extra[i] if i < len(extra) else pa.chunked_array([[""] * len(odd)], pa.string())
        columns.append(_stacked([(whole, 0), (rest, 0)], pa.types.is_dictionary(whole.type)).take(order))
    n_fields = np.full(size, start.width, np.int32)
    n_fields[at] = counts
    return columns, n_fields


class Reader:
    """The readings of a table on their way from text to numbers: which rows, each column with its decimal mark.

    main : the mark of the file: as told, by the cells of the columns used, else a point. notes : on marks and tenths.
    """

    def __init__(self, body: Body, start: Start, rows: np.ndarray, used: list[int], answers: Answers, name: str):
        """rows : those that may still be used. used : columns of readings."""
        whole = len(rows) == len(body.line)
        self.body, self.temp_unit, self.name = body, answers.temp_unit, name
        self.rows, self.line = (None, body.line) if whole else (pa.array(rows), body.line[rows])
        self.told = answers.decimal or ("," if start.paired else None)
        marked = [self._marked(at) for at in used]
        points, commas = (sum(n) for n in list(zip(*marked, strict=True))[:2])
        self.main = self.told or ("," if commas > points else ".")
        if not (self.told or points or commas):  # a mark with three figures behind it, in all cells
            figures = "".join(cell for _, _, cells in marked for cell in cells if looks_numeric(tidy(cell)))
            self.main = "," if "," in figures and "." not in figures else "."
        mixed = "Some values have a decimal point and others a decimal comma; each column was read by its own."
        self.notes = [mixed] if points and commas else []

    def _marked(self, at: int) -> tuple[int, int, list[str]]:
        """Of a sample of a column's cells how many can only have a decimal point, and a comma; the sample."""
        column = self.body.columns[at]
        cells = [cell or "" for cell in picked(column, range(0, len(column), max(1, len(column) // 150)))]
        return *decimal_marks(cells), cells

    def column(self, at: int) -> pa.ChunkedArray:
        """The rows of a column; all of it uncopied, where every row is used."""
        column = self.body.columns[at]
        return column if self.rows is None else column.take(self.rows)

    def numbers(self, c: Column) -> Numbers:
        """One column's numbers, by its own decimal mark where its cells tell it.

        Raises
        ------
        BadInput : a spreadsheet turned readings of it into dates.
        """
        points, commas, _ = self._marked(c.at)
        mark = self.told or (self.main if points == commas else "," if commas > points else ".")
        got = numbers(self.column(c.at), mark)
        hurt = np.flatnonzero(got.code == DAMAGE)
        if len(hurt):
            raise BadInput(
                f"{self.name}, line {int(self.line[hurt[0]])}: a spreadsheet has turned readings of "
                f"{c.name or 'a column'!r} into dates ({len(hurt)} rows). Export the file again from the logger and do "
                "not open it in between."
            )
        if c.role.tenths and (got.values[np.isfinite(got.values)] % 1 == 0).all():
            self.notes.append(f"{c.called} is in tenths, as its header says, and was divided by 10.")
            return got._replace(values=np.round(got.values / 10, 6))
        return got
