"""Commas that part the fields and mark the decimals as well, unquoted: which two fields are one number."""

from __future__ import annotations

import re
from itertools import combinations, islice, pairwise

import numpy as np

from envwatch.core.errors import BadInput, Question
from envwatch.figures.logs import COLUMNS_MARGIN, COLUMNS_WORST, DEW_POINT_AGREES_C
from envwatch.logs.tables.behaviour import as_humidity, as_temperature, dew_point_apart
from envwatch.logs.text.cells import Look, celsius, tidy
from envwatch.logs.text.roles import role_of

NOTE = "Commas part the fields and also mark the decimals; every two fields were read as one number."
SOME = "Commas part the fields and also mark the decimals; fields {} were read as one number each."
MOST_WAYS, ROWS = 5000, 80
_WHOLE = re.compile(r"[+-]?\d{1,4}")
_PART = re.compile(r"\d{1,4}")


def joined(rows: list[Look], names, width: int, decimal: str | None, file_name: str) -> tuple[int, ...]:
    """The fields, counted from 0, that go together with the one behind them; none where commas only part.

    Raises
    ------
    Question : no header says whether a comma parts fields or marks decimals.
    BadInput : it does both, and the rows can be parted in more than one way.
    """
    usual = [row for row in rows if len(row.cells) == width][:ROWS]
    begin = max(usual[0].stamps) + 1
    tail = [[tidy(c) for c in row.cells[begin:]] for row in usual]
    whole_tail = len(tail[0])
    while tail[0] and not any(cells[-1] for cells in tail):  # behind a delimiter at the end of each line is no field
        tail = [cells[:-1] for cells in tail]
    size, header = len(tail[0]), [n for n in names if n][begin:]
    if decimal == "." or size < 2:
        return ()
    if len(header) >= size and decimal != ",":
        if size < whole_tail and _torn(tail, 1):  # not the delimiter at a row's end, but a reading lost
            raise BadInput(
                _unclear(f"the header names {len(header) + begin} columns", usual[0], width), place=file_name
            )
        return ()
    whole = all(_WHOLE.fullmatch(c) for cells in tail for c in cells)
    in_pairs = tuple(range(begin, begin + size, 2))
    if whole and size % 2 == 0 and (2 * len(header) == size or decimal == ","):
        return in_pairs
    if not header:
        if whole and size % 2 == 0 and size >= 4 and len(usual) > 1:
            raise Question(
                f"rows such as {','.join(usual[0].cells)[:60]!r} hold whole numbers only, and no header says "
                "whether a comma parts fields or marks decimals.", "decimal", (",", "."), place=file_name)  # fmt: skip
        if decimal is None and _torn(tail, 2):
            raise BadInput(_unclear("there is no header", usual[0], width), place=file_name)
        return ()
    return _by_behaviour(tail, header, begin, file_name, usual[0])


def _by_behaviour(tail: list[list[str]], header: list[str], begin: int, file_name: str, row: Look) -> tuple[int, ...]:
    """The one way of joining fields that gives every name a number that behaves as it says."""
    size = len(tail[0])
    columns, many = [[cells[i] for cells in tail] for i in range(size)], size - len(header)
    parts = [i for i in range(size - 1) if all(map(_WHOLE.fullmatch, columns[i])) and _fraction(columns[i + 1])]
    if not 0 <= many <= len(header) or len(parts) < many:
        return ()
    ways = [w for w in islice(combinations(parts, many), MOST_WAYS) if all(b - a > 1 for a, b in pairwise(w))]
    weighed = sorted(((_weight(columns, way, header), way) for way in ways), reverse=True)
    unclear = BadInput(_unclear(f"the header names {len(header) + begin} columns", row, size + begin), place=file_name)
    if not weighed or weighed[0][0] < COLUMNS_WORST * (1 + (len(weighed) == 1)):
        if many and any(_jumps(np.array(columns[i + 1], float)) for i in parts):
            raise unclear
        return ()
    nameless = not {role_of(name).kind for name in header} & {"temp", "rh"}
    if nameless or len(weighed) > 1 and weighed[1][0] > weighed[0][0] - COLUMNS_MARGIN:
        raise unclear
    return tuple(begin + i for i in weighed[0][1])


def _unclear(why: str, row: Look, size: int) -> str:
    return (f"{why}, and rows such as {','.join(row.cells)[:60]!r} have {size} fields: a comma parts fields and marks "
            "decimals, and which is which cannot be told. Export the file again with semicolons or tabs, or with "
            "decimal points.")  # fmt: skip


def _torn(tail: list[list[str]], least: int) -> bool:
    """Whether whole numbers that jump stand behind steady ones so often, as what a decimal comma parted."""
    size = len(tail[0])
    columns = [[cells[i] for cells in tail] for i in range(size)]
    whole = [all(map(_WHOLE.fullmatch, column)) for column in columns]
    torn = [i for i in range(1, size) if whole[i - 1] and _fraction(columns[i]) and _jumps(np.array(columns[i], float))]
    return len(torn) >= least and all(whole[i] or not any(columns[i]) for i in range(size))


def _fraction(cells: list[str]) -> bool:
    """Whether fields can be what stood behind a decimal comma: figures, as many in each, and not always the same."""
    return all(map(_PART.fullmatch, cells)) and len({*map(len, cells)}) <= 2 and len({*cells}) > 1


def _weight(columns: list[list[str]], way: tuple[int, ...], header: list[str]) -> float:
    """How well the numbers that a way of joining gives fit their names: a log likelihood."""
    got, at = [], 0
    while at < len(columns):
        pair = at in way
        cells = [f"{a}.{b}" for a, b in zip(columns[at], columns[at + 1], strict=True)] if pair else columns[at]
        got.append(np.array([float(c) if re.fullmatch(r"[+-]?\d+(\.\d+)?", c) else np.nan for c in cells]))
        at += 1 + pair
    kinds = [role_of(name).kind for name in header]
    units = [role_of(name).unit or "C" for name in header]
    got = [celsius(v, unit) if k == "temp" else v for k, unit, v in zip(kinds, units, got, strict=True)]
    by = {kind: got[kinds.index(kind)] for kind in ("temp", "rh", "dew_point_c") if kind in kinds}
    fit = {"temp": as_temperature, "rh": as_humidity}
    total = sum(max(fit[k](v), -30.0) if k in fit else 0.0 for k, v in zip(kinds, got, strict=True))
    # what is behind a decimal comma cannot stand alone as a steady number: a whole number that jumps is a lost fraction
    total -= 4.0 * sum(_jumps(v) for i, v in enumerate(got) if kinds[i] not in fit or (v == np.round(v)).all())
    if len(by) == 3:
        apart = dew_point_apart(by["temp"], by["rh"], by["dew_point_c"])
        total += 12 if apart <= DEW_POINT_AGREES_C else -12 if np.isfinite(apart) else 0
    return total


def _jumps(got: np.ndarray) -> bool:
    """Whether whole numbers below 10 or 100 come and go without any steadiness."""
    return len(got) > 11 and len(np.unique(got)) > 4 and bool(abs(np.corrcoef(got[:-1], got[1:])[0, 1]) < 0.5)
