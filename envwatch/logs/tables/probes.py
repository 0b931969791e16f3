"""Which columns belong together as one probe, and what each other column is."""

from __future__ import annotations

import re
from collections import Counter
from string import ascii_lowercase

import numpy as np
import pyarrow as pa

from envwatch.core.errors import BadInput
from envwatch.figures.logs import ROOM_WARM_C
from envwatch.logs.tables import behaviour, others
from envwatch.logs.tables.shapes import Column, Probe, Shape
from envwatch.logs.text import vocabulary
from envwatch.logs.text.cells import looks_numeric, numbers, tidy, unit_in
from envwatch.logs.text.lines import SHEET
from envwatch.logs.text.roles import CODE, ColumnRole, generic, named, own_words, role_of, time_word
from envwatch.logs.text.vocabulary import PROBE, VALUE, plain, tokens
from envwatch.logs.text.words import pattern
from envwatch.logs.times.columns import is_row_number, picked

_OTHER_UNIT = re.compile(r"[(\[{]\s*(?=[^)\]}]*[^\W\d_])[^)\]}]{1,8}[)\]}]")  # where no word names it: (m/s), [mm]
_NOT_KEPT = ("setpoint", "signal", "battery", "other_percent")
_UNIT_OF = re.compile(r"[\W_]*(?:[^\W\d_]*temp[^\W\d_]*)[\W_]*(?:in )?(?:°|deg\w* ?)?[cfk][\W_]*$")


def describe(columns, names, units, taken: tuple[int, ...], preamble: list[str]) -> list[Column]:
    """All columns besides the time, with their roles and contents; a unit may stand above the table."""
    found = []
    for at, column in enumerate(columns):
        if at not in taken:
            name, unit = names[at], units[at]
            role = role_of(f"{name} ({unit})" if unit.strip("-") else name)._replace(label=role_of(name).label)
            timed = not role.unit and time_word(name) in ("stamp", "date")
            none = role.weak and (timed or is_row_number(column, name))
            found.append(Column(at, name, ColumnRole(None) if none else role, *_contents(column)))
    letters = _letters(found)
    silent = "cfk" if "t" in letters else ""  # beside a "t" an "f" is no °F
    silent = letters if letters in ascii_lowercase and letters != "tu" else silent  # "a;b;c;d" tells nothing
    for i, c in enumerate(found):
        if c.numeric > 0.5 and plain(c.name)[:1] in {*silent}:
            found[i] = c._replace(role=ColumnRole(None))
    bare = [c for c in found if c.role.unit is None and c.role.kind in ("temp", "rh") and c.numeric > 0]
    units_beside = {c.at: _unit_beside(c, found, columns) for c in bare}
    found = [c.known_as(unit=units_beside[c.at]) if units_beside.get(c.at) else c for c in found]
    if any(c.role.unit and c.role.kind not in ("temp", "rh") for c in found):
        found = others.rooms(found, columns)
    degrees = [c.role.kind == "temp" or (c.role.kind or "").endswith("_c") for c in found]
    bare = [c for c, warm in zip(found, degrees, strict=True) if warm and c.role.unit is None]
    above = _unit_above(preamble) if bare else None
    return [c.known_as(unit=above) if c in bare else c for c in found]


def _letters(found: list[Column]) -> str:
    """The headers of the columns of numbers, in lower case, where each is another single letter and no unit is given.

    Of one letter with numbers, "v1" and "v2", that letter; but temperatures and humidities are numbered so.
    """
    some = [(c.role.unit, *tokens(plain(c.name))) for c in found if c.numeric > 0.5]
    bare = [re.fullmatch("[a-z]", "".join(n[1:2])) and (not n[0] or n[1] in "cfk") for n in some]
    if len(some) < 2 or not all(bare):
        return ""
    first, behind = {n[1] for n in some}, {n[2:] for n in some}
    if len(first) == 1 and len(behind) == len(some) and not first & {*"thu"}:
        return some[0][1]
    return "".join(n[1] for n in some) if len(first) == len(some) and behind == {()} else ""


def _unit_above(preamble: list[str]) -> str | None:
    """The one unit of temperature that lines above the table name as such: "Unit: °F", "Temperature (°F)"."""
    some = [plain(line.replace(SHEET, " ")) for line in preamble[:60] if len(line) < 200]
    said = [line for line in some if pattern("unit").search(line) or _UNIT_OF.match(line)]
    units = {unit_in(cell) for line in said for cell in re.split(r"[;,\t|:=]", line)} & {"C", "F", "K"}
    return units.pop() if len(units) == 1 else None


def _unit_beside(column: Column, found: list[Column], columns) -> str | None:
    """The unit out of a column of its own, "temp_unit" beside "temp"."""
    for c in found:
        if c.numeric == 0 and c.filled and c.role.kind == column.role.kind and others.all_units(columns[c.at]):
            units = {unit_in(text) for text in others.texts(columns[c.at])}
            if len(units) == 1 and others.bare(c.role.label) == others.bare(column.role.label):
                return units.pop()
    return None


def _contents(column: pa.ChunkedArray) -> tuple[float, float]:
    size = len(column)
    head = column.slice(0, 300).to_pylist() + (column.slice(max(300, size - 100)).to_pylist() if size > 300 else [])
    head += picked(column, range(300, size - 100, max(1, size // 200))) if size > 1000 else []
    counted = [(tidy(cell or ""), times) for cell, times in Counter(head).items()]
    cells = [(cell, times) for cell, times in counted if cell]
    if not cells:
        return 0.0, 0.0
    filled = sum(times for _, times in cells)
    ok = sum(times for cell, times in cells if looks_numeric(cell))
    return ok / filled, filled / max(len(head), 1)


def shape(found: list[Column], columns, names, wall, told: str | None, name: str) -> Shape:
    """How the readings lie, from the roles, the contents and the behaviour of the columns.

    wall : (n,) times as the file writes them. told : the columns of the air, as a person answered.

    Raises
    ------
    BadInput : no column holds a temperature, or extremes alone.
    Question : several columns may be the air's.
    """
    used, by = [c for c in found if c.numeric > 0 or c.filled == 0 or told], None
    if told:
        pairs, notes = _as_told(found, told, name), [f"The columns of the air are {told}, as answered."]
    else:
        temps, hums = _of(used, "temp"), _of(used, "rh")
        open_ = [c for c in found if (c.role.kind is None or c.role.weak) and c not in temps + hums]
        if not (temps and hums) or open_ and others.value_column(found) is not None:
            long = others.long(found, columns, wall)
            if long:
                return long
        temps, hums, notes = _settled(found, used, temps, hums, columns, name)
        if open_ or any(c.role.kind in ("temp", "rh") and c not in temps + hums for c in found):
            by = others.naming(found, columns, {c.at for c in temps + hums}, wall, temps[0])
        pairs: list[tuple[Column, Column | None]] = [(temps[0], next(iter(hums), None))]
        if temps[0].role.label or max(len(temps), len(hums)) > 1:
            pairs = _pairs(*_labels_apart(temps, hums))
    probes, more = _with_others(_labelled(pairs), used, columns, name, bool(told))
    taken = {c.at for p in probes for c in (p.temp, p.rh, *p.others) if c is not None} | {by}
    flags = tuple(c.at for c in found if c.at not in taken and c.numeric < 0.5 and c.filled > 0)
    last = [] if told else _unread(used, probes, notes)
    return Shape(probes, by, None, None, None, flags, (*notes, *more, *last))


def _settled(found: list[Column], used, temps, hums, columns, name: str):
    """The columns of temperature and humidity, each one a reading; by behaviour where no header tells.

    Raises BadInput: the values do not settle it. Question : several are as likely, or a header says what is not known.
    """
    notes: list[str] = []
    weigh = must = bool(_letters(found)) and max(len(temps), len(hums)) < 2
    if not (must or temps and hums):
        temps, hums, notes = _by_units(found, temps, hums, columns)
        must = not temps
        weigh = must or bool(hums) and len(temps) + len(hums) > 2 and not any(c.name for c in (*temps, *hums))
    if weigh:
        open_ = [c for c in used if c.role.kind is None and c.numeric > 0.5 and not is_row_number(columns[c.at], c.name)
                 and not _OTHER_UNIT.search(c.name)]  # fmt: skip
        pair, note = behaviour.likeliest(temps or open_, hums or open_, columns, name)
        if pair is not None:
            return [_as(pair.temp, "temp", pair.temp.role.unit)], [_as(pair.rh, "rh", "%")], [*notes, note]
        if must:
            raise BadInput(_untold(found), place=name)
    temps = _in_one_unit(temps, columns) if len(temps) > 1 else temps
    if max(len(temps), len(hums)) > 1 or any(c.role.statistic for c in (*temps, *hums)):
        temps, more = others.readings(temps, columns, name)
        hums, and_more = others.readings(hums, columns, name)
        notes += [*more, *and_more]
    if len(hums) != 1 or hums[0].role.weak:
        hums, more = _trusted(temps, hums or _namesakes(temps, used), columns, name)
        notes += more
    return temps, hums, notes


def _in_one_unit(temps: list[Column], columns) -> list[Column]:
    """Temperatures without a unit in that of the others of their file; in °C where any can be a room in °C alone."""
    units = {c.role.unit for c in temps} - {None}
    bare = [c for c in temps if c.role.unit is None]
    if not units and len(bare) > 1:
        middle = [behaviour.middle(behaviour.values(columns[c.at])) for c in bare]
        units = {"C"} if min(middle) <= ROOM_WARM_C < max(middle) else set()
    unit = units.pop() if len(units) == 1 else None
    return [c.known_as(unit=unit) if unit and c in bare else c for c in temps]


def _namesakes(temps: list[Column], used: list[Column]) -> list[Column]:
    """Columns in percent that bear a temperature's name, though it is a quantity's."""
    names = {own_words(t.name) for t in temps}
    return [c.known_as(weak=True) for c in used
            if c.role.unit == "%" and c.role.kind in vocabulary.DEVICE and own_words(c.name) in names]  # fmt: skip


def _trusted(temps: list[Column], hums: list[Column], columns, name: str) -> tuple[list[Column], list[str]]:
    """Humidities known by "%" or a letter alone: those that bear a temperature's name, else the likeliest.

    Raises Question: the name says nothing of the air, or two are as likely.
    """
    sure = [c for c in hums if not c.role.weak]
    labels = {plain(t.role.label) for t in temps}
    fits = [c for c in hums if c.role.weak and c.role.kind == "rh" and (
            plain(c.role.label) in labels or generic(c.role.label) or not re.search(r"[^\W\d_]{3,}", c.role.label)
    )]  # fmt: skip
    if sure or fits:
        kept = [c for c in hums if c in sure or (c in fits and (not sure or c.role.label))]
        kept = _one_of_a_name(temps, kept, columns, name) if len(kept) > 1 else kept
        rest = [(c, "not known to be humidity") for c in hums if c not in kept]
        return kept, others.left_out(rest) if rest else []
    some = behaviour.pairs(temps, hums, columns)
    if some:
        raise behaviour.asked(some, columns, name, f"{hums[0].called} is in percent, and not said to be humidity",
                              (str(temps[0].at + 1),))  # fmt: skip
    return [], others.left_out([(c, "no humidity by its values") for c in hums])


def _one_of_a_name(temps: list[Column], hums: list[Column], columns, name: str) -> list[Column]:
    """Of several humidities that bear one temperature's name, the likeliest.

    Raises Question: two are as likely.
    """
    kept, names = list(hums), [plain(t.role.label) for t in temps]
    for t, own in zip(temps, names, strict=True):
        same = [c for c in hums if plain(c.role.label) == own]
        if len(same) > 1 and names.count(own) == 1:
            best, _ = behaviour.likeliest([t], same, columns, name)
            kept = [c for c in kept if c not in same or best is None or c.at == best.rh.at]
    return kept


def _as_told(found: list[Column], told: str, name: str) -> list[tuple[Column, Column | None]]:
    """The temperatures and humidities that a person named by their columns, one after the other.

    Raises BadInput: no such columns, or a header that says otherwise.
    """
    by = {str(c.at + 1): c for c in found}
    some = [by.get(number.strip()) for number in told.split(",")]
    kinds = [("temp", "rh")[i % 2] for i in range(len(some))]
    wrong = [c is None or c.numeric == 0 or (c.role.kind not in (None, kind) and c.role.kind in ("temp", "rh")
             and not c.role.weak) for c, kind in zip(some, kinds, strict=True)]  # fmt: skip
    if any(wrong) or len(set(told.split(","))) < len(some) or len(some) % 2 and len(some) > 1:
        raise BadInput(
            f"⟦columns⟧ {told[:40]} does not fit; seen: {_seen(found)}. Give the numbers of the columns of temperature "
            "and humidity, counted from 1, as in 2,3.", field="columns", place=name)  # fmt: skip
    kept = [_as(c, kind, c.role.unit or {"rh": "%"}.get(kind)) for c, kind in zip(some, kinds, strict=True) if c]
    return [(kept[i], kept[i + 1] if i + 1 < len(kept) else None) for i in range(0, len(kept), 2)]


def _unread(used: list[Column], probes, notes) -> list[str]:
    """A note of what is calculated, or bears a unit of the air, and was not read."""
    taken = {c.at for p in probes for c in (p.temp, p.rh) if c is not None}
    airy = ("C", "F", "K", "%")
    some = [c for c in used if c.at not in taken and (c.role.unit in airy or c.role.kind in vocabulary.CALCULATED)
            and c.numeric > 0 and not any(c.called in note for note in notes)]  # fmt: skip
    if not some:
        return []
    what = [others.WORDS.get(c.role.statistic or c.role.kind or "", c.role.kind or "not known") for c in some]
    return others.left_out(list(zip(some, what, strict=True)))


def _untold(found: list[Column]) -> str:
    silent = next((c.name for c in found if c.role.kind == "temp" and c.filled and not c.numeric), None)
    if silent:
        return f"{silent[:30]!r} holds no number. Look whether the sensor is connected; a file with readings is read."
    worded = any(c.name for c in found) and not _letters(found)
    why = (f"no column holds a temperature; seen: {_seen(found)}" if worded else "no header names the columns, and "
           "their values do not settle which is temperature and which humidity")  # fmt: skip
    return (f"{why}. Give the numbers of the columns of temperature and humidity, counted from 1, as in ⟦columns⟧ 2,3, "
            "or export the temperature too.")  # fmt: skip


def _seen(found: list[Column]) -> str:
    return ", ".join(repr(c.name[:30]) for c in found[:6] if c.name) or f"{len(found)} columns without a name"


def _of(found: list[Column], kind: str) -> list[Column]:
    """Columns of a quantity: those named, or in its unit; a letter alone counts where no other is."""
    some = [c for c in found if c.role.kind == kind and not (named(c.name, VALUE) and c.role.weak)]
    return [c for c in some if not c.role.weak or c.role.unit] or some


def _words(columns: list[Column]) -> list[set[str]]:
    return [set(tokens(plain(c.role.label))) for c in columns]


def _labels_apart(temps: list[Column], hums: list[Column]) -> tuple[list[Column], list[Column]]:
    """Columns whose labels are without what tells no probe from another: a letter code that all of them bear, "QRX" of
    "1 QRX" and "2 QRX"; and words that all of one quantity bear and none of the other, "ambiente" of "Temperatura
    ambiente" beside "Humedad relativa", which say what is measured.
    """
    some = [*temps, *hums]
    if all(c.role.label for c in some):
        for code in filter(CODE.fullmatch, set.intersection(*_words(some))):
            own = rf"(?i)[\W_]*(?<![^\W_]){code}(?![^\W_])[\W_]*"
            some = [c.known_as(label=re.sub(own, " ", c.role.label).strip()) for c in some]
    temps, hums = some[: len(temps)], some[len(temps) :]
    if min(len(temps), len(hums)) < 2:
        return temps, hums
    return _without_own_words(temps, hums), _without_own_words(hums, temps)


def _without_own_words(columns: list[Column], others: list[Column]) -> list[Column]:
    own = set.intersection(*_words(columns)) - set.union(*_words(others))
    kept = [re.sub(r"[^\W\d_]+", lambda word: "" if plain(word[0]) in own else word[0], c.role.label) for c in columns]
    return [c.known_as(label=" ".join(k.split()).strip(" ,;:/-_.")) for c, k in zip(columns, kept, strict=True)]


def _pairs(temps: list[Column], hums: list[Column]) -> list[tuple[Column, Column | None]]:
    """Each temperature with its humidity: that whose name shares most words, else by their order."""
    partner = _by_words(temps, hums)
    left, rest = [t for t in temps if t.at not in partner], [h for h in hums if h not in partner.values()]
    if partner:  # where names tell, another name is another place
        left = [t for t in left if not (t.role.label and all(h.role.label for h in rest))]
    partner |= {t.at: h for t, h in _by_order(left, rest)}
    return [(t, partner.get(t.at)) for t in temps]


def _by_words(temps: list[Column], hums: list[Column]) -> dict[int, Column]:
    """Temperatures by place, with the humidity that is nearest by name where both are each other's nearest."""
    both = [(a, b) for a in _words(temps) for b in _words(hums)]
    near = np.array([len(a & b) / len(a | b) if a or b else 0.5 for a, b in both]).reshape(len(temps), len(hums))
    if not near.size:
        return {}
    best = (near == near.max(axis=1, keepdims=True)) & (near == near.max(axis=0)) & (near > 0)
    sole = best & (best.sum(axis=1, keepdims=True) == 1) & (best.sum(axis=0) == 1)
    return {temps[i].at: hums[j] for i, j in zip(*np.nonzero(sole), strict=True)}


def _by_order(temps: list[Column], hums: list[Column]) -> list[tuple[Column, Column]]:
    """A humidity belongs to the temperature before it, or behind it where humidities come first; a sole one to the
    first, for further temperatures are external."""
    if len(temps) == len(hums) or len(hums) == 1:
        return list(zip(temps, hums, strict=False))
    left, found = list(hums), []
    first = bool(temps and hums and hums[0].at < temps[0].at)
    for t in temps:
        near = [h for h in left if (h.at < t.at) == first]
        mine = near[-1:] if first else [h for h in near if not any(t.at < o.at < h.at for o in temps)][:1]
        for h in mine:
            left.remove(h)
            found.append((t, h))
    return found


def serial_of(label: str) -> str | None:
    """A bare number of four digits and more in a column's name is the logger's serial number, not a probe's name."""
    return label if label.isascii() and label.isdigit() and len(label) >= 4 else None


def _labelled(pairs) -> list[Probe]:
    if len(pairs) == 1:
        t, h = pairs[0]
        own = t.role.label
        worded = own and h is not None and plain(h.role.label) == plain(own) and not serial_of(own) and not generic(own)
        return [Probe(own if worded else "1", t, h)]
    labels = [t.role.label or (h.role.label if h else "") or t.role.statistic or "" for t, h in pairs]
    same = len(set(map(plain, labels))) < len(labels)
    labels = [not same and label or str(i) for i, label in enumerate(labels, 1)]
    if len(set(labels)) < len(labels):
        labels = [str(i) for i in range(1, len(labels) + 1)]
    return [Probe(label, t, h) for label, (t, h) in zip(labels, pairs, strict=True)]


def _with_others(probes: list[Probe], used: list[Column], columns, name: str, sure: bool):
    """Dew point, light and the rest, kept apart, with the probe of the same label, else the first; a dew point with
    the probe from which it follows.

    Raises Question: a dew point follows from no probe. sure : the columns were answered; it is left out.
    """
    extra: list[dict[str, Column]] = [{} for _ in probes]
    notes: list[str] = []
    for c in used:
        kind = c.role.kind
        if kind in (None, "temp", "rh", *_NOT_KEPT) or c.role.statistic in ("min", "max", "spread"):
            continue
        labels = [(plain(p.temp.role.label), p.label) for p in probes]
        same = [i for i, (own, label) in enumerate(labels) if own == plain(c.role.label) or label == c.role.label]
        home = same[0] if same else 0
        if kind == "dew_point_c" and c.numeric > 0:
            found, apart = behaviour.dew_home(c, probes, columns)
            if found is None:
                notes += behaviour.without_dew_point(c, apart, probes, columns, sure, name)
                continue
            home = home if len(same) == 1 or np.isnan(apart) else found
        extra[home].setdefault(kind, c)
    return tuple(p._replace(others=tuple(some.values())) for p, some in zip(probes, extra, strict=True)), notes


def _by_units(found: list[Column], temps: list[Column], hums: list[Column], columns):
    """Columns that no header names, by the units in their cells."""
    some = [c for c in found if c.numeric > 0.5 and c.role.kind is None and not named(c.name, PROBE)]
    both = {c.at: [numbers(columns[c.at].slice(0, 200), mark).unit for mark in ".,"] for c in some}
    unit = {at: point or comma for at, (point, comma) in both.items()}
    more = [_as(c, "temp", unit[c.at]) for c in some if not temps and unit[c.at] in ("C", "F", "K")]
    damp = [_as(c, "rh", "%") for c in some if not hums and unit[c.at] == "%"]
    notes = ["Temperature and humidity were told by the units in the cells."] if more else []
    return (temps or more), (hums or (damp if more or temps else [])), notes


def _as(c: Column, kind: str, unit: str | None) -> Column:
    return c._replace(role=ColumnRole(kind, unit))
