"""Lines and fields: three kinds of line ends, quotes, and the delimiters a file may use."""

from __future__ import annotations

import csv
import re
from itertools import zip_longest

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.figures.logs import MAX_COLUMNS

SHEET = "\x1f"  # between the cells of a spreadsheet row
BLANKS, WIDE_BLANKS = "blank", "blanks"
DELIMITERS = (";", "\t", ",", "|", WIDE_BLANKS, BLANKS)
# looked at only where those give no readings; a slash may part dates, an underscore words
ODD_DELIMITERS = ("^", "~", "!", "#", "&", "@", "$", "¦", "§", "¬", "*", "\\", "/", "_", "::")
NAMES = {";": "semicolon", "\t": "tab", ",": "comma", "|": "bar", BLANKS: "blank", WIDE_BLANKS: "blanks",
         SHEET: "spreadsheet cells", "": "none", "^": "caret", "~": "tilde",
         **{mark: mark for mark in ODD_DELIMITERS[2:]}}  # fmt: skip
CHUNK = 50_000
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
