"""The header above a table: its rows, the columns' names and units, and whether they fit the rows below."""

from __future__ import annotations

import re
from itertools import zip_longest

from envwatch.core.errors import BadInput
from envwatch.logs.text.cells import Look, looks_numeric, stampish, tidy, unit_in
from envwatch.logs.text.lines import NAMES, SHEET, WIDE_BLANKS, fields
from envwatch.logs.text.roles import named, role_of, time_word
from envwatch.logs.text.vocabulary import MISSING, QUANTITY, VALUE, plain
from envwatch.logs.text.words import pattern

# a comment sign before the first name; a column of its own named "#" stays
COMMENT = re.compile(r"^[ ]*(?:#+|//|%|\*|!)[ ]*(?=(?:\d+:)?[^\W\d_\"])")


def header_fields(line: str, delimiter: str, width: int) -> tuple[list[str], str]:
    """A header's names and the delimiter it uses, which may be another than the body's."""
    line = COMMENT.sub("", line)
    tries = [(delimiter, fields(line, delimiter))]
    if delimiter != SHEET and len(tries[0][1]) != width:
        tries += [(d, fields(line, d)) for d in (";", "\t", ",", "|", WIDE_BLANKS) if d != delimiter]
    fits = [t for t in tries if len(t[1]) == width]
    if fits and len(tries[0][1]) < max(2, width - 2):
        return [tidy(c) for c in fits[0][1]], fits[0][0]
    more = max(tries, key=lambda t: len(t[1]))
    used = more if len(tries[0][1]) == 1 else tries[0]
    return [tidy(c) for c in used[1]], used[0]


def speaks(cells: list[str]) -> int:
    """How many cells of a line name a quantity or a time."""
    return sum(
        bool(cell) and len(cell) < 90 and not stampish(cell) and not looks_numeric(cell)
        and (role_of(cell).kind is not None or time_word(cell) is not None or named(cell, VALUE + QUANTITY))
        for cell in cells
    )  # fmt: skip


def _is_units(cells: list[str]) -> bool:
    filled = [c for c in cells if c]
    return (
        bool(filled)
        and all(len(c) <= 24 for c in filled)
        and any(unit_in(c) for c in filled)
        and not any(len(plain(c)) > 10 and time_word(c) is None and unit_in(c) is None for c in filled)
    )


def header_of(lines, first: int, delimiter: str, width: int, rows, name: str):
    above = [
        i
        for i in range(first - 1, max(first - 12, -1), -1)
        if lines[i].strip() and lines[i].strip(" ;,\t|\x1f-=_*^~" + delimiter)
    ]
    block: list[tuple[int, list[str], str]] = []
    for i in above[:5]:
        if block and block[-1][0] - i > 2:
            break
        cells, used = header_fields(lines[i], delimiter, width)
        if any(stampish(c) in ("full", "date") for c in cells) or not any(cells):
            break
        if sum(bool(c) for c in cells) < 2 and not _is_units(cells):
            break
        if block and abs(len(cells) - len(block[0][1])) > 1 and not speaks(cells) >= 2:
            break
        if _key_value(cells, width):
            break
        block.append((i, cells, used))
    block = _wanted(block, width)
    if not block:
        return (), ("",) * width, ("",) * width, ("The file has no header; its columns were told by what they hold.",)
    names, units = _joined(block)
    if not any(units) and not any(map(unit_in, names)) and len(above) > len(block):
        units = _units_above(lines[above[len(block)]], delimiter, width) or units
    if len(names) > 2 and all(re.match(r"\d+[:.)]\s*[^\W\d_]", n) for n in names):  # "1:Date 2:Time"
        names = [re.sub(r"^\d+[:.)]\s*", "", n) for n in names]
    notes = []
    if block[-1][2] != delimiter and block[-1][2] in NAMES:
        notes.append(f"The header uses {NAMES[block[-1][2]]}, the rows {NAMES[delimiter]}, as delimiter.")
    return tuple(i for i, _, _ in block[::-1]), tuple(names), tuple(units), tuple(notes)


def _units_above(line: str, delimiter: str, width: int) -> list[str]:
    """Units over the names, where they stand column by column."""
    cells = header_fields(line, delimiter, width)[0]
    return cells if len(cells) == width and sum(map(bool, cells)) > 1 and _is_units(cells) else []


def _key_value(cells: list[str], width: int) -> bool:
    """A preamble line "Serial: ; 12345 ; ; ;" padded to the table's width."""
    filled = [i for i, c in enumerate(cells) if c]
    if filled and ":" in cells[filled[0]] and pattern("unit").match(plain(cells[filled[0]])):
        return True  # "Units: °C, % RH"
    if filled and cells[filled[0]].endswith(":") and len(filled) <= 2:
        return True
    return width > 3 and len(filled) <= 2 and filled[0] == 0 and speaks(cells) < 2


def _wanted(block, width: int):
    """The lines that make the header, nearest first: names, and above them further names where they are needed."""
    if not block:
        return []
    speaking = [at for at, (_, cells, _) in enumerate(block) if speaks(cells)]
    if not speaking:
        first = block[0][1]
        return (
            block[:1]
            if len(first) >= width - 1 and sum(map(bool, first)) >= 2 and not any(map(looks_numeric, first))
            else []
        )
    deepest = 0
    for at, (_, cells, _) in enumerate(block):
        if at == 0:
            continue
        whole = _complete([c for _, c, _ in block[:at]])
        if whole and not _repeats([c for _, c, _ in block[:at]]):
            break
        if not speaks(cells) and not (_repeats([c for _, c, _ in block[:at]]) and _groups(cells)):
            if at > 1 or not _is_units(block[0][1]):
                break
            continue
        deepest = at
    return block[: deepest + 1]


def _complete(rows: list[list[str]]) -> bool:
    """Whether these header rows name a time and a temperature by words, not by units alone."""
    joined = [" ".join(c) for c in zip_longest(*rows, fillvalue="")]
    time = any(time_word(c) for c in joined)
    worded = any(role_of(c).kind in ("temp", "rh") and len(plain(c)) > 3 and not _unit_only(c) for c in joined)
    return worded and (time or any(named(c, VALUE) for c in joined))


def _unit_only(cell: str) -> bool:
    return not re.search(r"[^\W\d_]{3,}", re.sub(r"(?i)celsius|fahrenheit|kelvin|deg|percent|prozent|grad", "", cell))


def _repeats(rows: list[list[str]]) -> bool:
    kinds = [role_of(c).kind for c in rows[0] if c]
    labels = [(role_of(c).kind, role_of(c).label) for c in rows[0] if c and role_of(c).kind in ("temp", "rh")]
    return kinds.count("temp") > 1 and len(set(labels)) < len(labels)


def _groups(cells: list[str]) -> bool:
    return len([c for c in cells if c and not looks_numeric(c)]) >= 2 or len([c for c in cells if c]) >= 2


def _joined(block) -> tuple[list[str], list[str]]:
    """Names over all header rows; a group's name counts for the columns to its right; units by themselves."""
    rows = [cells for _, cells, _ in block][::-1]
    units = [""] * max(map(len, rows))
    if len(rows) > 1 and _is_units(rows[-1]):
        units = rows[-1] + [""] * (len(units) - len(rows[-1]))
        rows = rows[:-1] if _complete(rows[:-1][::-1]) or speaks(rows[-2]) else rows
    if len(rows) > 1:
        rows = [_carried(row) for row in rows[:-1]] + [rows[-1]]
    names = [" ".join(dict.fromkeys(c for c in column if c))[:200] for column in zip_longest(*rows, fillvalue="")]
    names = ["".join(c for c in name if c.isprintable()) for name in names]
    names += [""] * (len(units) - len(names))
    return names, units


def _carried(row: list[str]) -> list[str]:
    kept, last = [], ""
    for cell in row:
        last = cell or last
        kept.append(last)
    return kept


def aligned(names, units, width: int, rows, file_name: str, lines, header, delimiter):
    """Names and rows brought to the same number of columns, or a refusal that shows both."""
    names, units = list(names), list(units)
    while len(names) > width and not names[-1]:
        names.pop()
    notes: list[str] = []
    if header and any(names):
        usual = next((row for row in rows if len(row.cells) == width), rows[0])
        stamp = usual.stamps[0]
        times = [i for i, n in enumerate(names) if time_word(n) in ("stamp", "date", "time")]
        shift = 0
        if len(names) < width:
            if times and stamp - times[0] == 1 or (not times and stamp == 0 and names[0]):
                shift = 1
            elif _split_stamp(names, times, usual):
                names.insert(times[0] + 1, "")
                units.insert(times[0] + 1, "")
        if shift:
            names, units = [""] + names, [""] + units
            notes.append(
                "The rows have one more column than the header, at the left; the names were moved accordingly."
            )
        elif any(looks_numeric(c) or c and c.lower() in MISSING for row in rows[:80]
                 for c in map(tidy, row.cells[len(names) : width])):  # fmt: skip
            raise BadInput(unfitting(file_name, usual.line, len(names), width, lines, header))
        elif len(names) > width:
            beyond = [
                n for n in names[width:] if role_of(n).kind in ("temp", "rh") or time_word(n) in ("stamp", "date")
            ]
            if beyond or (times and stamp not in times and times[0] != stamp):
                raise BadInput(unfitting(file_name, usual.line, len(names), width, lines, header))
            notes.append("The header names more columns than the rows hold; the last names were left unused.")
    _verify(names, rows, width, file_name, lines, header)
    size = max(width, len(names))
    pad = [""] * size
    return tuple((names + pad)[:size]), tuple((units + pad)[:size]), tuple(notes)


def unfitting(file_name: str, row: int, named_: int, width: int, lines, header) -> str:
    """The refusal of a header that does not name as many columns as its rows hold."""
    shown = lines[header[-1]].replace(SHEET, " | ")[:60], lines[row].replace(SHEET, " | ")[:60]
    return (
        f"{file_name}, line {row + 1}: the header names {named_} columns and the rows have {width}: "
        f"{shown[0]!r} and {shown[1]!r}. Export the file again, or mend the header."
    )


def _verify(names, rows, width: int, file_name: str, lines, header) -> None:
    """The time stands under a time's name, or at least not under a quantity's."""
    usual = next((row for row in rows if len(row.cells) == width), rows[0])
    under = [names[i] for i in usual.stamps if i < len(names)]
    if not header or not any(under) or any(time_word(n) for n in under):
        return
    wrong = [n for n in under if n and role_of(n).kind in ("temp", "rh") and not role_of(n).weak]
    if wrong:
        shown = lines[header[-1]].replace(SHEET, " | ")[:60], lines[usual.line].replace(SHEET, " | ")[:60]
        raise BadInput(
            f"{file_name}, line {usual.line + 1}: the time stands under the header {wrong[0]!r}; header and "
            "rows do not fit: "
            f"{shown[0]!r} and {shown[1]!r}. Export the file again, or mend the header."
        )


def _split_stamp(names, times, usual: Look) -> bool:
    """One name, "Date/Time", over a date and a time that blanks or the delimiter parted."""
    if not times or len(usual.kinds) < 2 or usual.kinds[:2] != ("date", "time"):
        return False
    at = times[0]
    return usual.stamps[:2] == (at, at + 1) and not (
        len(names) > at + 1 and time_word(names[at + 1]) in ("time", "date")
    )
