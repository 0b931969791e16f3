"""Tables with one line a day and the hours of the day across, opened to one line an hour."""

from __future__ import annotations

import re

import numpy as np

from envwatch.logs.text.cells import stampish, tidy
from envwatch.logs.text.lines import DELIMITERS, SHEET, fields

OPENED = "Each line holds a day, its hours side by side."
LOOK_AT, HOURS = 60, 24


def opened(lines: list[str]) -> tuple[list[str], np.ndarray] | None:
    """One line an hour: what stands before the hours, the date with its hour, and the value; None for other tables.

    Beside them, which line of the file each came from: (n,) 1-based.
    """
    for number, line in enumerate(lines[:LOOK_AT]):
        for delimiter in (*DELIMITERS[:4], SHEET):
            cells = (
                [tidy(cell) for cell in fields(line, delimiter)] if HOURS <= line.count(delimiter) < 4 * HOURS else []
            )
            first = _hours(cells)
            if first:
                return _rows(lines, number + 1, cells[:first], delimiter, _clock(cells[first]))
    return None


def _clock(cell: str) -> int:
    found = re.fullmatch(r"(?:hour|hr|h)?[ _]?(\d{1,2})(?:[:.h]?00|h)?", cell.lower())
    return int(found[1]) if found else -1


def _hours(cells: list[str]) -> int | None:
    """Where 24 hours of a day begin in a header, from 0 or from 1; None where they do not."""
    for at in range(1, len(cells) - HOURS + 1):
        found = [_clock(cell) for cell in cells[at : at + HOURS]]
        if found in (list(range(HOURS)), list(range(1, HOURS + 1))):
            return at
    return None


def _rows(lines: list[str], begin: int, names: list[str], delimiter: str, hour: int):
    split = [(at, [tidy(cell) for cell in fields(lines[at], delimiter)]) for at in range(begin, len(lines))]
    rows = [(at, row) for at, row in split if len(row) >= len(names) + HOURS]
    some = [row for _, row in rows[:20]]
    dates = [i for i in range(len(names)) if some and all(stampish(row[i]) in ("date", "full") for row in some)]
    if not dates:
        return None
    at = dates[0]
    out, of = [SHEET.join([*names[:at], names[at] or "date", *names[at + 1 :], "value"])], [begin]
    for number, row in rows:
        day = re.sub(r"[T ]0?0:00(:00)?$", "", row[at])
        for i, value in enumerate(row[len(names) : len(names) + HOURS]):
            out.append(SHEET.join([*row[:at], f"{day} {hour + i:02d}:00", *row[at + 1 : len(names)], value]))
            of.append(number + 1)
    return out, np.array(of, np.int32)
