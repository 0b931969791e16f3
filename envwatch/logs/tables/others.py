"""Columns beside the readings: what is no reading of the air, and what says of a row which probe or quantity it is.

No readings are extremes, averages, set points, numbers of zones, a second unit.
"""

from __future__ import annotations

import re

import numpy as np

from envwatch.core.errors import BadInput
from envwatch.logs.tables.behaviour import lively, values, whole_and_few
from envwatch.logs.tables.shapes import Column, Shape
from envwatch.logs.text import vocabulary
from envwatch.logs.text.cells import coded, tidy, unit_in
from envwatch.logs.text.roles import ColumnRole, label_of, named, own_words, role_of, time_word
from envwatch.logs.text.vocabulary import NUMBER, PROBE, QUANTITY, UNIT, VALUE, plain, tokens
from envwatch.logs.text.words import pattern, whole
from envwatch.logs.times.columns import is_row_number

PARTS_ROWS = 20_000
ANY = ("serial", "unit id", "name", "device", "logger", "tag", "label", "position", "zone", "local", "point")
WORDS = {
    "min": "minimum", "max": "maximum", "mean": "average", "spread": "spread", "predicted": "predicted value",
    "setpoint": "set point",
    "temp": "temperature", "rh": "humidity without a temperature beside it", "dew_point_c": "dew point",
    "wet_bulb_c": "wet bulb", "heat_index_c": "felt or calculated temperature", "lux": "light", "uv": "ultraviolet",
    "voc": "gas or dust", "co2_ppm": "CO2", "pressure_hpa": "pressure", "wind_rain": "wind or rain",
    "other_percent": "another percentage", "moisture_percent": "moisture of a material",
    "absolute_humidity_g_m3": "absolute humidity", "mixing_ratio_g_kg": "mixing ratio",
    "vapour_pressure": "vapour pressure",
}  # fmt: skip
_HARDWARE = {"sensor", "probe", "logger", "device", "channel", "data", "box", "main"} | {*whole("filler")}
ONLY = "the columns hold the {} of intervals only ({}). Export the readings themselves, or their averages."
AVERAGES = "{} holds averages of intervals, and was read as the readings."
LEFT = "Left out, for they are no readings of the air: {}."
OTHER_UNIT = "{!r} repeats {!r} in another unit and was left out."


def rooms(found: list[Column], columns) -> list[Column]:
    """Columns named by a room in whose name a quantity stands: "Battery Lane °C" with "Battery Lane %".

    The name says more than that quantity, both columns bear it, one in a unit of temperature and one in percent, and
    neither keeps to a few levels.
    """
    by: dict[str, list[Column]] = {}
    for c in found:
        if c.role.unit and c.role.statistic is None and c.numeric > 0.5:
            by.setdefault(own_words(c.name), []).append(c)
    out = list(found)
    for words, some in by.items():
        kinds = ["rh" if c.role.unit in ("%", "1") else "temp" for c in some]
        rest = tokens(pattern(*vocabulary.QUANTITIES, *vocabulary.STATISTICS).sub(" ", words))
        more = any(word not in _HARDWARE and not word.isdigit() for word in rest)
        if sorted(kinds) != ["rh", "temp"] or {c.role.kind for c in some} <= {"temp", "rh"} or not more:
            continue
        if all(lively(values(columns[c.at], c.role.unit)) for c in some):
            for c, kind in zip(some, kinds, strict=True):
                out[found.index(c)] = c._replace(role=ColumnRole(kind, c.role.unit, label_of(c.name, ())))
    return out


def readings(some: list[Column], columns, name: str) -> tuple[list[Column], list[str]]:
    """The readings among the columns of one quantity, and notes of what was left out.

    Raises
    ------
    BadInput : there are extremes alone.
    """
    if len(some) == 1 and some[0].role.statistic is None:
        return some, []
    some, numbered = _without_numbers(some, columns)
    groups: dict[str, list[Column]] = {}
    for c in _with_names(some, columns):
        groups.setdefault(plain(c.role.label), []).append(c)
    kept, left, notes = [], list(numbered), []
    told = any(c.role.statistic is None for group in groups.values() for c in group)
    for group in groups.values():
        usual = [c for c in group if c.role.statistic is None]
        if not (usual or told and not group[0].role.label):  # an average without a name is of all probes
            usual = [c for c in group if c.role.statistic == "mean"]
        notes += [AVERAGES.format(c.called) for c in usual if c.role.statistic]
        kept += usual
        left += [(c, WORDS[c.role.statistic]) for c in group if c not in usual]
    if left and not kept:
        what = " and ".join(dict.fromkeys(word for _, word in left))
        raise BadInput(ONLY.format(what, ", ".join(c.called for c, _ in left[:6])), place=name)
    kept, more = _one_unit(sorted(kept, key=lambda c: c.at))
    return kept, [*notes, *left_out(left), *more]


def left_out(some: list[tuple[Column, str]]) -> list[str]:
    """The note that names columns which were left out, and what each is."""
    return [LEFT.format(", ".join(f"{c.called} ({what})" for c, what in some))] if some else []


def _without_numbers(some: list[Column], columns) -> tuple[list[Column], list[tuple[Column, str]]]:
    """A column that numbers zones or nodes, or flags readings under their header, is none beside one that does not.

    A number of a zone has no unit: what has one is a reading, of a room called so.
    """
    numbered = [c for c in some if not c.role.unit and set(tokens(plain(c.role.label))) & {*PROBE, *NUMBER}
                or any(o is not c and o.name and c.name.startswith(o.name) for o in some)]  # fmt: skip
    odd = [c for c in numbered if len(some) > 1 and whole_and_few(values(columns[c.at]))]
    return ([c for c in some if c not in odd], [(c, "a number") for c in odd]) if len(odd) < len(some) else (some, [])


def _with_names(some: list[Column], columns) -> list[Column]:
    """A word such as "low" or "max" is part of a room's name where nothing is there that it could be the lowest of."""
    out, ends = [], {"min", "max"}
    read = {plain(c.role.label) for c in some if c.role.statistic is None}
    meant = {c.role.statistic for c in some if plain(c.role.label) in read}
    for c in some:
        kin = [o for o in some if o is c or plain(o.role.label) == plain(c.role.label)]
        alone = len(kin) == 1 and c.role.statistic not in meant
        worded = c.role.statistic in {*ends, "mean"} and re.search(r"[^\W\d_]{2,}", c.role.label)
        other = len(kin) > 1 and {o.role.statistic for o in kin} == ends and not _ordered(kin, columns)
        out.append(
            c.known_as(statistic=None, label=label_of(c.name, vocabulary.AIR)) if worded and (alone or other) else c
        )
    return out


def _ordered(some: list[Column], columns) -> bool:
    """Whether the lowest is never above the highest."""
    low, high = (np.array([values(columns[c.at]) for c in some if c.role.statistic == s]) for s in ("min", "max"))
    with np.errstate(invalid="ignore"):
        return bool((low.max(axis=0) > high.min(axis=0)).mean() < 0.01)


def _one_unit(some: list[Column]) -> tuple[list[Column], list[str]]:
    """A second unit of the same readings gives way to the first; to °C and percent in any case."""
    kept: list[Column] = []
    notes = []
    for c in some:
        first = next((k for k in kept if k.role.unit not in (None, c.role.unit) and k.role.label == c.role.label), None)
        if first is None or not c.role.unit:
            kept.append(c)
            continue
        if c.role.unit in ("C", "%"):
            kept[kept.index(first)] = c
            first, c = c, first
        notes.append(OTHER_UNIT.format(c.name, first.name))
    return kept, notes


def bare(label: str) -> str:
    """A label without the words that stand for a unit."""
    return re.sub(r"\s+", " ", " ".join(w for w in tokens(plain(label)) if w not in vocabulary.UNIT))


def naming(found: list[Column], columns, taken: set[int], wall, temp: Column | None = None) -> int | None:
    """The column that names the probe, where several probes share a table row by row.

    temp : readings by which a column shows itself: those under one of its texts go on from one another.
    """
    alone = None
    for c in found:
        numbered = c.numeric > 0.1 and not named(c.name, (*PROBE, *NUMBER))
        if c.at in taken or c.role.kind not in (None, "rh", "temp") or c.role.kind and c.numeric > 0.5 or numbered:
            continue
        size, index = len({*texts(columns[c.at])}), coded(columns[c.at]).which
        if not 1 <= size <= min(1000, max(1, len(index) // 2)) or c.filled < 0.9:
            continue
        if size == 1:
            own = c.numeric > 0.5 and named(c.name, ANY) or is_row_number(columns[c.at], c.name)
            alone = c.at if alone is None and not own and named(c.name, PROBE) else alone
            continue
        if is_row_number(columns[c.at], c.name):
            continue
        words = [word for word in tokens(plain(c.name)) if not word.isdigit()]
        sure = bool(words) and all(word in (*PROBE, *NUMBER) for word in words) and named(c.name, PROBE)
        probe = named(c.name, PROBE) or not c.name
        got = values(columns[temp.at]) if temp else np.zeros(0)
        if sure or probe and _parts(index, wall) or not time_word(c.name) and _gathers(index, got):
            return c.at
    return alone


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
    letters = {c.at for c in found if c.numeric < 0.3 and _letters(c, columns)}
    for c in found:
        if c.at == value.at or c.numeric > 0.2 or c.filled < 0.5 or c.at in letters:
            continue
        own = texts(columns[c.at])
        kinds = [role_of(t).kind for t in own[:300]]
        known, told = "temp" in kinds and sum(map(bool, kinds)) >= 0.5 * len(kinds), any(not _bare_unit(t) for t in own)
        if len(own) <= 300 and known and told:
            best = c if best is None or named(c.name, QUANTITY) else best
    unit = next((c for c in found if c.numeric < 0.2 and (best is None or c.at != best.at) and (named(c.name, UNIT)
                 or all_units(columns[c.at]) and c.at not in letters)), None)  # fmt: skip
    best = best or unit
    if best is None:
        return None
    rest = [c for c in found if c not in (value, best, unit)]
    by = naming(rest, columns, {value.at, best.at}, wall, value if best is unit else None)
    flags = tuple(c.at for c in rest if c.at != by and c.numeric < 0.5)
    return Shape((), by, best.at, value.at, unit.at if unit else None, flags)


def _letters(c: Column, columns) -> bool:
    """Letters alone, under a word for something else, are neither quantities nor units."""
    other = bool(c.name) and not named(c.name, (*QUANTITY, *UNIT))
    return other and all(len(t) < 2 for t in texts(columns[c.at]))


def _bare_unit(text: str) -> bool:
    return len(plain(text)) <= 3 and unit_in(text) is not None


def texts(column) -> list[str]:
    """The distinct texts of a column, without blanks."""
    return [text for text in (tidy(t or "") for t in coded(column).texts) if text]


def all_units(column) -> bool:
    some = texts(column)
    return 0 < len(some) <= 12 and all(unit_in(t) and len(t) <= 12 for t in some)
