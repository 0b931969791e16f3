"""Tables whose times run across: the hours of a day side by side, or one time a column."""

from __future__ import annotations

import re

import numpy as np

from envwatch.logs.text.cells import looks_numeric, stampish, tidy
from envwatch.logs.text.lines import DELIMITERS, SHEET, fields
from envwatch.logs.text.roles import role_of

OPENED = "Each line holds a day, its hours side by side."
TURNED = "The table has one time a column; it was turned, and line numbers count its columns."
LOOK_AT, HOURS = 60, 24
_HOUR = re.compile(r"(?:hour|hr|h)?[ _]?(\d{1,2})(?:[:.h]?00|h)?")


def opened(lines: list[str]) -> tuple[list[str], np.ndarray] | None:
    """One line an hour: what stands before the hours, the date with its hour, and the value; None for other tables.

    Beside them, which line of the file each came from: (n,) 1-based.
    """
    for number, line in enumerate(lines[:LOOK_AT]):
        for delimiter in (*DELIMITERS[:4], SHEET):
            if HOURS <= line.count(delimiter) < 4 * HOURS:
                cells = [tidy(cell) for cell in fields(line, delimiter)]
                hours = [int(found[1]) if (found := _HOUR.fullmatch(cell.lower())) else -1 for cell in cells]
                for at in range(1, len(cells) - HOURS + 1):  # from 0 or from 1
                    if hours[at : at + HOURS] in (list(range(HOURS)), list(range(1, HOURS + 1))):
                        return _rows(lines, number + 1, cells[:at], delimiter, hours[at])
    return None


def _rows(lines: list[str], begin: int, names: list[str], delimiter: str, hour: int):
    split = [(at, [tidy(cell) for cell in fields(lines[at], delimiter)]) for at in range(begin, len(lines))]
    rows = [(at, row) for at, row in split if len(row) >= len(names) + HOURS]
    at = next((i for i in range(len(names)) if all(stampish(row[i]) in ("date", "full") for _, row in rows[:20])), -1)
    if at < 0 or not rows:
        return None
    out, of = [SHEET.join([*names[:at], names[at] or "date", *names[at + 1 :], "value"])], [begin]
    for number, row in rows:
        day = re.sub(r"[T ]0?0:00(:00)?$", "", row[at])
        for i, value in enumerate(row[len(names) : len(names) + HOURS]):
            out.append(SHEET.join([*row[:at], f"{day} {hour + i:02d}:00", *row[at + 1 : len(names)], value]))
            of.append(number + 1)
    return out, np.array(of, np.int32)


def turned(lines: list[str], delimiters: tuple[str, ...] = (*DELIMITERS[:4], SHEET)) -> list[str] | None:
    """A table with one quantity a row and one time a column, turned to one time a row; None where there is none."""
    for number, line in enumerate(lines[:200]):
        for delimiter in delimiters:
            cells = [tidy(c) for c in fields(line, delimiter)]
            times = [i for i, c in enumerate(cells[:5000]) if stampish(c) == "full"]
            if len(times) < 3 or len(times) < 0.6 * len(cells):
                continue
            rows = [[tidy(c) for c in fields(text, delimiter)] for text in lines[number + 1 :] if text.strip()]
            rows = [
                row
                for row in rows
                if len(row) == len(cells) and sum(map(looks_numeric, row[times[0] :])) > len(times) / 2
            ]
            names = [" ".join(c for c in row[: times[0]] if c) for row in rows]
            if rows and any(role_of(n).kind == "temp" for n in names):
                return [
                    SHEET.join(["time", *names]),
                    *(SHEET.join([cells[i], *(row[i] for row in rows)]) for i in times),
                ]
    return None
