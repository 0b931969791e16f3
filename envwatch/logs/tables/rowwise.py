"""Tables whose rows say themselves which probe, or which quantity, they are of."""

from __future__ import annotations

import numpy as np

from envwatch.logs.tables.behaviour import values
from envwatch.logs.tables.shapes import Column, Shape
from envwatch.logs.text.cells import coded, tidy, unit_in
from envwatch.logs.text.roles import named, role_of, time_word
from envwatch.logs.text.vocabulary import NUMBER, PROBE, QUANTITY, UNIT, VALUE, plain, tokens
from envwatch.logs.times.columns import is_row_number

PARTS_ROWS = 20_000
ANY = ("serial", "unit id", "name", "device", "logger", "tag", "label", "position", "zone", "local", "point")


def naming(found: list[Column], columns, taken: set[int], wall, temp: Column | None = None) -> int | None:
    """The column that names the probe, where several probes share a table row by row.

    temp : readings by which a column shows itself: those under one of its texts go on from one another.
    """
    alone = None
    for c in found:
        numbered = c.numeric > 0.1 and not named(c.name, (*PROBE, *NUMBER))
        if c.at in taken or c.role.kind not in (None, "rh", "temp") or c.role.kind and c.numeric > 0.5 or numbered:
            continue
        texts, index = coded(columns[c.at])
        filled = {tidy(t or "") for t in texts} - {""}
        if not 1 <= len(filled) <= min(1000, max(1, len(index) // 2)) or c.filled < 0.9:
            continue
        if len(filled) == 1 and c.numeric > 0.5 and named(c.name, ANY) or is_row_number(columns[c.at], c.name):
            continue
        if len(filled) == 1:
            alone = c.at if alone is None and named(c.name, PROBE) else alone
            continue
        probe = named(c.name, PROBE) or not c.name
        got = values(columns[temp.at]) if temp else np.zeros(0)
        if _sure(c.name) or probe and _parts(index, wall) or not time_word(c.name) and _gathers(index, got):
            return c.at
    return alone


def _sure(name: str) -> bool:
    words = [word for word in tokens(plain(name)) if not word.isdigit()]
    return bool(words) and all(word in (*PROBE, *NUMBER) for word in words) and named(name, PROBE)


def _parts(index: np.ndarray, wall: np.ndarray) -> bool:
    """Whether a column parts a table into records: times of one come again in another, or each keeps its own step.

    A word for the weather or the state of a heating changes now and then, and parts nothing.
    """
    index, wall = index[:PARTS_ROWS], wall[:PARTS_ROWS]
    if len(index) > 1 and (np.diff(wall) <= 0).mean() > 0.2 / len(np.unique(index)):
        return True
    if (index[1:] != index[:-1]).sum() < len(np.unique(index)):
        return bool((np.diff(wall) <= 0).any())
    steps = [np.diff(wall[index == i]) for i in np.unique(index)]
    return all(len(s) > 1 and (s == np.median(s)).mean() > 0.8 for s in steps)


def _gathers(index: np.ndarray, got: np.ndarray) -> bool:
    """Whether readings go on from those under the same text, and jump between texts."""
    index, got = index[: len(got)], got[: len(index)]
    index, got = index[np.isfinite(got)], got[np.isfinite(got)]
    if len(got) < 12 or np.unique(index, return_counts=True)[1].min() < 3:
        return False
    order = np.argsort(index, kind="stable")
    same = index[order][1:] == index[order][:-1]
    return bool(np.abs(np.diff(got[order]))[same].mean() < 0.5 * np.abs(np.diff(got)).mean())


def value_column(found: list[Column]) -> Column | None:
    some = [c for c in found if named(c.name, VALUE) and c.numeric > 0.3 and (c.role.kind is None or c.role.weak)]
    return some[0] if len(some) == 1 else None


def long(found: list[Column], columns, wall) -> Shape | None:
    """A table with one quantity a row: a column of quantities' names and one of values."""
    value = value_column(found)
    if value is None:
        some = [c for c in found if c.numeric > 0.8 and not is_row_number(columns[c.at], c.name)
                and not named(c.name, PROBE) and not named(c.name, QUANTITY)]  # fmt: skip
        if len(some) != 1:
            return None
        value = some[0]
    best = None
    for c in found:
        if c.at == value.at or c.numeric > 0.2 or c.filled < 0.5 or _letters(c, columns):
            continue
        texts = [t for t in (tidy(t or "") for t in coded(columns[c.at]).texts) if t]
        kinds = [role_of(t).kind for t in texts[:300]]
        known = sum(k is not None for k in kinds)
        if (
            len(texts) <= 300
            and "temp" in kinds
            and known >= 0.5 * len(kinds)
            and any(not _bare_unit(t) for t in texts)
        ):
            best = c if best is None or named(c.name, QUANTITY) else best
    unit = next((c.at for c in found if c.numeric < 0.2 and (named(c.name, UNIT) or _says_units(c, columns))
                 and (best is None or c.at != best.at)), None)  # fmt: skip
    if best is None and unit is not None:
        best = next(c for c in found if c.at == unit)
    if best is None:
        return None
    rest = [c for c in found if c.at not in (value.at, best.at, unit)]
    by = naming(rest, columns, {value.at, best.at}, wall, value if best.at == unit else None)
    flags = tuple(c.at for c in rest if c.at != by and c.numeric < 0.5)
    return Shape((), by, best.at, value.at, unit, flags)


def _says_units(c: Column, columns) -> bool:
    return all_units(columns[c.at]) and not _letters(c, columns)


def _letters(c: Column, columns) -> bool:
    """Letters alone, under a word for something else, are neither quantities nor units."""
    other = bool(c.name) and not named(c.name, (*QUANTITY, *UNIT))
    return other and all(len(tidy(t or "")) < 2 for t in coded(columns[c.at]).texts)


def _bare_unit(text: str) -> bool:
    return len(plain(text)) <= 3 and unit_in(text) is not None


def all_units(column) -> bool:
    texts = [t for t in (tidy(t or "") for t in coded(column).texts) if t]
    return 0 < len(texts) <= 12 and all(unit_in(t) and len(t) <= 12 for t in texts)
