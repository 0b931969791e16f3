"""From a file's bytes to the lines of its tables, and from a line to its fields.

A workbook's sheets, a text, or a big text that stays bytes; three kinds of line ends, quotes, delimiters.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable
from dataclasses import dataclass
from itertools import zip_longest

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.figures.logs import MAX_COLUMNS, MAX_LINE_BYTES
from envwatch.logs.text import encoding as rawbytes
from envwatch.logs.text.encoding import SHEET

BLANKS, WIDE_BLANKS = "blank", "blanks"
DELIMITERS = (";", "\t", ",", "|", WIDE_BLANKS, BLANKS)
# looked at only where those give no readings; a slash may part dates, an underscore words
ODD_DELIMITERS = ("^", "~", "!", "#", "&", "@", "$", "¦", "§", "¬", "*", "\\", "/", "_", "::")
NAMES = {";": "semicolon", "\t": "tab", ",": "comma", "|": "bar", BLANKS: "blank", WIDE_BLANKS: "blanks",
         SHEET: "spreadsheet cells", "": "none", "^": "caret", "~": "tilde",
         **{mark: mark for mark in ODD_DELIMITERS[2:]}}  # fmt: skip
CHUNK = 50_000
PADDED = "{} NUL bytes at the end of the file were left out."
HEAD_BYTES, QUICK_FROM = 1_000_000, 1_500_000
_WHOLE = re.compile(r'"[^"]{11,}"', re.DOTALL)  # a line that is quoted as a whole
NEWLINE, PIECE_BYTES = ord("\n"), 1 << 18


def split_lines(text: str) -> list[str]:
    """Lines at LF, CRLF or CR, and at nothing else.

    >>> split_lines("a\\r\\nb\\rc\\n")
    ['a', 'b', 'c']
    """
    if "\r" in text:
        text = text.replace("\r\r\n", "\n").replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    return lines[:-1] if lines[-1] == "" else lines


def line_ends(data: bytes, lo: int = 0, hi: int | None = None) -> int:
    """`data.count(b"\\n", lo, hi)`, many bytes at a time; small pieces stay in the processor's cache."""
    letters = np.frombuffer(data, np.uint8)[lo:hi]
    pieces = (letters[at : at + PIECE_BYTES] for at in range(0, len(letters), PIECE_BYTES))
    return sum(int(np.count_nonzero(piece == NEWLINE)) for piece in pieces)


def fields(line: str, delimiter: str) -> list[str]:
    """The fields of one line. A quote that is never closed ends with its line.

    >>> fields('1,"21,5",45', ","), fields("a  b c", "blanks")
    (['1', '21,5', '45'], ['a', 'b c'])
    """
    if delimiter == BLANKS:
        return line.split()
    if delimiter == WIDE_BLANKS:
        return re.split(r"\s{2,}|\t", line.strip())
    if '"' not in line or delimiter == SHEET or len(delimiter) > 1:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [""])
    except csv.Error:
        return line.split(delimiter)


def columns(lines: list[str], delimiter: str, name: str) -> tuple[list[pa.ChunkedArray], np.ndarray]:
    """All lines as columns of text, short rows filled with "", and the number of fields each line had."""
    parts: list[list[pa.Array]] = []
    counts: list[np.ndarray] = []
    sizes: list[int] = []
    for start in range(0, len(lines), CHUNK):
        rows = [fields(line, delimiter) for line in lines[start : start + CHUNK]]
        count = np.fromiter(map(len, rows), np.int32, len(rows))
        width = int(count.max())
        if width > MAX_COLUMNS:
            at = start + int(count.argmax())
            raise BadInput(
                f"a row has {width} fields ({lines[at][:40]!r}...). No logger writes so many; export it again.",
                place=name,
            )
        across = zip(*rows, strict=True) if count.min() == width else zip_longest(*rows, fillvalue="")
        parts.append([pa.array(column, pa.string()) for column in across])
        counts.append(count)
        sizes.append(len(rows))
    width = max((len(part) for part in parts), default=0)
    stacked = [
        pa.chunked_array([part[i] if i < len(part) else pa.array([""] * size, pa.string())
                          for part, size in zip(parts, sizes, strict=True)], pa.string())
        for i in range(width)
    ]  # fmt: skip
    return stacked, np.concatenate(counts) if counts else np.zeros(0, np.int32)


def close_quotes(lines: list[str], limit: int) -> list[str]:
    """Header cells may hold line ends inside quotes: joined within the first `limit` lines, blanks left in place.

    The number of lines stays the same, so that line numbers stay true.
    """
    i = 0
    while i < min(limit, len(lines)):
        span = 1
        while lines[i].count('"') % 2 and span < 6 and i + span < len(lines) and len(lines[i]) < 4000:
            joined = " ".join(lines[i : i + span + 1])
            if joined.count('"') % 2 == 0 and not re.search(r"\d{1,2}:\d\d", " ".join(lines[i + 1 : i + span + 1])):
                lines[i] = joined
                lines[i + 1 : i + span + 1] = [""] * span
                break
            span += 1
        i += 1
    return lines


@dataclass
class TextTable:
    """One table's worth of lines; a spreadsheet's cells are parted by `SHEET`.

    `data` holds a big file's text as UTF-8 instead of lines; `again` gives it once more after it was let go.
    `count` : from which year a workbook's day numbers count, by its own flag. `hidden` : a sheet nobody sees there.
    """

    title: str
    text: list[str]
    ends_clean: bool
    data: bytes | None = None
    again: Callable[[], bytes] = bytes
    count: str | None = None
    hidden: bool = False

    @property
    def rows(self) -> int:
        """Lines that hold anything."""
        return sum(bool(line.strip(SHEET + " ")) for line in self.text)


def of_file(raw: rawbytes.Raw, encoding: str | None) -> tuple[list[TextTable], str, list[str]]:
    """The tables of a file, the encoding it is in, and notes. encoding : the one that was answered."""
    if raw.data.startswith(b"PK"):
        from envwatch.logs.text import workbook

        found, from_1904 = workbook.sheets(raw)
        count = "1904" if from_1904 else "1900"
        return [TextTable(s.title, s.lines, True, count=count, hidden=s.hidden) for s in found], "xlsx", []
    rawbytes.refuse_other_kinds(raw)
    if len(raw.data) > MAX_LINE_BYTES:
        rawbytes.check_lines(raw.name, raw.data)
    data, found, notes = rawbytes.decode(raw, encoding)
    if len(data) > QUICK_FROM:
        data = _regular(data, notes)
        return [TextTable("", [], data.endswith(b"\n"), data)], found, notes
    return [of_text(data, notes)], found, notes


def _regular(data: bytes, notes: list[str]) -> bytes:
    """A big file with LF alone at the ends of lines, no padding at its end and no marks in its middle."""
    if data[-1:] in (b"\x00", b"\x1a"):
        whole, data = data, data.rstrip(b"\x00\x1a")
        notes += [PADDED.format(len(whole) - len(data))] if b"\x00" in whole[len(data) :] else []
    # a return further down makes rows that do not come out one a line, and those are read the general way
    returns = data.count(b"\r") if b"\r" in data[:HEAD_BYTES] else 0
    if returns and returns != data.count(b"\r\n"):
        data = data.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data.replace(b"\xef\xbb\xbf", b"") if b"\xef" in data and b"\xef\xbb\xbf" in data else data


def of_text(data: bytes, notes: list[str]) -> TextTable:
    """One table's lines out of its text in UTF-8; what was left out goes into the notes."""
    text = data.decode("utf-8", "replace").replace("\ufeff", "")
    padded = text.rstrip("\x00\x1a")
    if "\x00" in text[len(padded) :]:
        notes.append(PADDED.format(len(text) - len(padded)))
    some = split_lines(padded)
    some = unwrapped(close_quotes(some, 60)) if '"' in padded else some
    return TextTable("", some, padded.endswith(("\n", "\r")))


def unwrapped(found: list[str]) -> list[str]:
    """Lines that are quoted as a whole lose those quotes."""
    some = [line for line in found[:200] if line.strip()]
    whole = [line for line in some if _WHOLE.fullmatch(line) and any(d in line for d in ",;\t")]
    if len(whole) < 0.8 * len(some) or not whole:
        return found
    return [line[1:-1] if _WHOLE.fullmatch(line) else line for line in found]
