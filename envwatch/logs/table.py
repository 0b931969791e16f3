"""Where the table of readings begins: delimiter, preamble, header rows, units row, and the columns' names."""

from __future__ import annotations

import re
from collections import Counter
from typing import NamedTuple

from envwatch.errors import BadInput, Question
from envwatch.figures.logs import MAX_COLUMNS
from envwatch.logs.cells import looks_numeric, stampish, tidy, unit_in
from envwatch.logs.lines import BLANKS, DELIMITERS, NAMES, SHEET, WIDE_BLANKS, fields
from envwatch.logs.roles import named, part_word, role_of, time_word
from envwatch.logs.words import NUMBER, QUANTITY, VALUE, plain

LOOK_AT, LOOK_FOR = 15_000, 80
# a line without any of these cannot hold a time: cheap to tell before its fields are looked at
_DIGITS = re.compile(
    r"\d\s?[:hH時时]\s?\d|\d{6}|\d{5}[.,]\d\d|\d\s?[-/._年년 ]\s?(?:de )?(?:\d{1,2}|[^\W\d_]{3,11}\.?)\s?(?:de "
    r")?[-/._月월, ]\s?\d|"
    r"[^\W\d_]{3}\.?[-/._ ]{1,2}\d{1,2}(?:st|nd|rd|th)?[-/,. ]{1,2}\d{4}"
)


class Start(NamedTuple):
    """How a table begins. Line numbers count from 0 here.

    header : the header lines, topmost first; may be empty. names : one text a column.
    paired : columns were split at an unquoted decimal comma, from this column on.
    """

    delimiter: str
    first: int
    width: int
    header: tuple[int, ...]
    names: tuple[str, ...]
    units: tuple[str, ...]
    notes: tuple[str, ...]
    paired: int | None = None
    parts: bool = False


class _Look(NamedTuple):
    line: int
    cells: list[str]
    stamps: tuple[int, ...]
    kinds: tuple[str, ...]
    numeric: int


def _look(number: int, line: str, delimiter: str) -> _Look | None:
    cells = fields(line, delimiter)
    if len(cells) < 2 or len(cells) > 600:
        return None
    kinds = [(i, stampish(cell)) for i, cell in enumerate(cells[:60])]
    stamps = [(i, kind) for i, kind in kinds if kind]
    if not stamps or all(kind == "time" for _, kind in stamps):
        return None
    taken = {i for i, _ in stamps}
    numeric = sum(i not in taken and looks_numeric(cell) for i, cell in enumerate(cells))
    return _Look(number, cells, tuple(taken), tuple(kind for _, kind in stamps), numeric)


def _candidates(lines: list[str], delimiters: tuple[str, ...]) -> dict[str, list[_Look]]:
    found: dict[str, list[_Look]] = {d: [] for d in delimiters}
    looked = 0
    for number, line in enumerate(lines):
        if len(line) < 8 or not _DIGITS.search(line):
            continue
        looked += 1
        plain_fields = False
        for delimiter in delimiters:
            blank = delimiter in (BLANKS, WIDE_BLANKS)
            if not (plain_fields if blank else delimiter not in line):
                row = _look(number, line, delimiter)
                if row:
                    found[delimiter].append(row)
                    plain_fields |= delimiter in ";\t|" and row.numeric > 0
        if looked > LOOK_AT or (looked > LOOK_FOR and max(map(len, found.values())) > LOOK_FOR):
            break
    return found


def _without_preamble(rows: list[_Look]) -> list[_Look]:
    """Dated lines above or below a short table ("Start; 01.03.2024 10:00") count for nothing beside its rows."""
    table = [row for row in rows if row.numeric and not _wordy(tidy(row.cells[0]))]
    if not table or len(table) == len(rows):
        return rows
    kinds = {(len(row.cells), row.stamps) for row in table}
    return [row for row in rows if (len(row.cells), row.stamps) in kinds]


def _readings(rows: list[_Look]) -> bool:
    return any(row.numeric for row in rows)


def _weight(delimiter: str) -> float:
    return 0.3 if delimiter in (BLANKS, WIDE_BLANKS) else 1


def _score(rows: list[_Look]) -> float:
    if not rows:
        return 0.0
    counts = Counter(len(row.cells) for row in rows)
    usual = counts.most_common(1)[0][1] / len(rows)
    full = sum("full" in row.kinds or "epoch" in row.kinds or {"date", "time"} <= set(row.kinds) for row in rows)
    return (sum(min(row.numeric, 12) for row in rows) + full + 0.2 * len(rows)) * (0.5 + 0.5 * usual)


def find(lines: list[str], name: str, decimal: str | None = None) -> Start:
    """The start of the table in a file's lines.

    Raises
    ------
    BadInput : there is no table of times and numbers, or its header does not fit its rows.
    Question : commas that may part fields or decimals.
    """
    _few_columns(lines, name)
    delimiters = (SHEET,) if any(SHEET in line for line in lines[:50]) else DELIMITERS
    found = _candidates(lines, delimiters)
    scores = {d: _score(_without_preamble(found[d])) * _weight(d) for d in delimiters}
    best = max(delimiters, key=lambda d: (_readings(found[d]), scores[d], -delimiters.index(d)))
    rows = _without_preamble(found[best])
    if not rows or not any(row.numeric for row in rows):
        return _by_parts(lines, name, delimiters)
    width = Counter(len(row.cells) for row in rows).most_common(1)[0][0]
    usual = Counter(row.stamps[0] for row in rows if len(row.cells) == width or len(rows) < 3).most_common(1)[0][0]
    rows = [row for row in rows if usual in row.stamps] or rows
    first = _first(lines, rows, best)
    header, names, units, notes = _header(lines, first, best, width, rows, name)
    if best == ",":
        pairing = _pairing(rows, names, width, decimal, name)
        if pairing is not None:
            names = names[:pairing] + names[pairing : pairing + (width - pairing) // 2]
            names += ("",) * (pairing + (width - pairing) // 2 - len(names))
            note = "Commas part the fields and also mark the decimals; every two fields were read as one number."
            units = tuple(units[: len(names)])
            return Start(best, first, width, header, names, units, (*notes, note), pairing)
    names, units, more = _aligned(names, units, width, rows, name, lines, header, best)
    return Start(best, first, width, header, names, units, (*notes, *more))


def _few_columns(lines: list[str], name: str) -> None:
    most = int(MAX_COLUMNS)
    if max(map(len, lines[:2000]), default=0) <= most:
        return
    for number, line in enumerate(lines[:2000]):
        if len(line) > most and max(line.count(d) for d in (";", "\t", ",", "|", SHEET)) > 2 * most:
            raise BadInput(
                f"{name}, line {number + 1}: over {2 * MAX_COLUMNS:.0f} columns; no logger writes so many. "
                "Export it again."
            )


def _wordy(cell: str) -> bool:
    return bool(cell) and bool(re.match(r"[^\W\d_]{3,}", cell)) and not stampish(cell)


def _first(lines: list[str], rows: list[_Look], delimiter: str) -> int:
    """The first line of the table: dated lines of the preamble ("Start; 01.03.2024 10:00; 600") come before it."""
    wordy = sum(_wordy(tidy(row.cells[0])) for row in rows) > len(rows) / 2
    usual = {count for count, times in Counter(len(row.cells) for row in rows).items() if times > len(rows) * 0.05}
    for at, row in enumerate(rows):
        odd = not wordy and _wordy(tidy(row.cells[0]))
        odd |= len(row.cells) not in usual and at < 10
        if not odd or at == len(rows) - 1:
            return _back_up(lines, row.line, delimiter, row)
    return rows[0].line


def _back_up(lines: list[str], first: int, delimiter: str, usual: _Look) -> int:
    """Rows with a time but no value, or with values but no whole time, may stand before the first reading."""
    stamp = usual.stamps[0]
    while first > 0:
        cells = fields(lines[first - 1], delimiter) if lines[first - 1] else []
        timed = len(cells) > stamp and stampish(cells[stamp]) and not (stamp and _wordy(tidy(cells[0])))
        if not timed and not _reads_like(cells, usual):
            return first
        first -= 1
    return first


def _reads_like(cells: list[str], usual: _Look) -> bool:
    """A row with figures where this table has its readings, and no words where it has its time: no header."""
    if len(cells) != len(usual.cells) or not usual.numeric:
        return False
    figures = [i for i, c in enumerate(usual.cells) if i not in usual.stamps and looks_numeric(c)]
    times = [tidy(cells[i]) for i in usual.stamps]
    telling = [*times, *(cells[i] for i in figures if re.search(r"\d[.,]\d", cells[i]))]
    return (
        all(looks_numeric(cells[i]) for i in figures)
        and any(any(c.isdigit() for c in t) for t in telling)
        and not any(re.search(r"[^\W\d_]{2,}", t) for t in times)
    )


def _uncomment(line: str) -> str:
    """A comment sign before the first name; a column of its own named "#" stays."""
    return re.sub(r"^[ ]*(?:#+|//|%|\*|!)[ ]*(?=[^\W\d_\"])", "", line)


def header_fields(line: str, delimiter: str, width: int) -> tuple[list[str], str]:
    """A header's names and the delimiter it uses, which may be another than the body's."""
    line = _uncomment(line)
    tries = [(delimiter, fields(line, delimiter))]
    if delimiter != SHEET and len(tries[0][1]) != width:
        tries += [(d, fields(line, d)) for d in (";", "\t", ",", "|", WIDE_BLANKS) if d != delimiter]
    fits = [t for t in tries if len(t[1]) == width]
    if fits and len(tries[0][1]) < max(2, width - 2):
        return [tidy(c) for c in fits[0][1]], fits[0][0]
    more = max(tries, key=lambda t: len(t[1]))
    used = more if len(tries[0][1]) == 1 else tries[0]
    return [tidy(c) for c in used[1]], used[0]


def _speaks(cells: list[str]) -> int:
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


def _header(lines, first: int, delimiter: str, width: int, rows, name: str):
    above = [
        i for i in range(first - 1, max(first - 12, -1), -1) if lines[i].strip() and lines[i].strip(" ;,\t|\x1f-=_*")
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
        if block and abs(len(cells) - len(block[0][1])) > 1 and not _speaks(cells) >= 2:
            break
        if _key_value(cells, width):
            break
        block.append((i, cells, used))
    block = _wanted(block, width)
    if not block:
        return (), ("",) * width, ("",) * width, ("The file has no header; its columns were told by what they hold.",)
    names, units = _joined(block)
    notes = []
    if block[-1][2] != delimiter and block[-1][2] in NAMES:
        notes.append(f"The header uses {NAMES[block[-1][2]]}, the rows {NAMES[delimiter]}, as delimiter.")
    return tuple(i for i, _, _ in block[::-1]), tuple(names), tuple(units), tuple(notes)


def _key_value(cells: list[str], width: int) -> bool:
    """A preamble line "Serial: ; 12345 ; ; ;" padded to the table's width."""
    filled = [i for i, c in enumerate(cells) if c]
    if filled and cells[filled[0]].endswith(":") and len(filled) <= 2:
        return True
    return width > 3 and len(filled) <= 2 and filled[0] == 0 and _speaks(cells) < 2


def _wanted(block, width: int):
    """The lines that make the header, nearest first: names, and above them further names where they are needed."""
    if not block:
        return []
    speaking = [at for at, (_, cells, _) in enumerate(block) if _speaks(cells)]
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
        if not _speaks(cells) and not (_repeats([c for _, c, _ in block[:at]]) and _groups(cells)):
            if at > 1 or not _is_units(block[0][1]):
                break
            continue
        deepest = at
    return block[: deepest + 1]


def _complete(rows: list[list[str]]) -> bool:
    """Whether these header rows name a time and a temperature by words, not by units alone."""
    joined = [" ".join(c) for c in _columns(rows)]
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


def _columns(rows: list[list[str]]) -> list[list[str]]:
    width = max(map(len, rows))
    return [[row[i] if i < len(row) else "" for row in rows] for i in range(width)]


def _joined(block) -> tuple[list[str], list[str]]:
    """Names over all header rows; a group's name counts for the columns to its right; units by themselves."""
    rows = [cells for _, cells, _ in block][::-1]
    units = [""] * max(map(len, rows))
    if len(rows) > 1 and _is_units(rows[-1]):
        units = rows[-1] + [""] * (len(units) - len(rows[-1]))
        rows = rows[:-1] if _complete(rows[:-1][::-1]) or _speaks(rows[-2]) else rows
    if len(rows) > 1:
        rows = [_carried(row) for row in rows[:-1]] + [rows[-1]]
    names = [" ".join(dict.fromkeys(c for c in column if c))[:200] for column in _columns(rows)]
    names = ["".join(c for c in name if c.isprintable()) for name in names]
    names += [""] * (len(units) - len(names))
    return names, units


def _carried(row: list[str]) -> list[str]:
    kept, last = [], ""
    for cell in row:
        last = cell or last
        kept.append(last)
    return kept


def _pairing(rows: list[_Look], names, width: int, decimal: str | None, file_name: str) -> int | None:
    """The column from which an unquoted decimal comma has split every number in two; None where none did."""
    usual = [row for row in rows if len(row.cells) == width]
    begin = max(usual[0].stamps) + 1
    tail = [row.cells[begin:] for row in usual]
    if decimal == "." or (width - begin) % 2 or not tail[0]:
        return None
    whole = all(re.fullmatch(r"\s*[+-]?\d{1,4}\s*", c) for cells in tail for c in cells)
    header = [n for n in names if n]
    fits = len(header) == begin + (width - begin) // 2
    if not whole or (header and not fits and decimal != ","):
        return None
    if fits or decimal == ",":
        return begin
    if width - begin >= 4 and len(usual) > 1:
        raise Question(
            f"{file_name}: rows such as {','.join(usual[0].cells)[:60]!r} hold whole numbers only, and no header says "
            "whether a comma parts fields or marks decimals.", "--decimal", (",", "."),
        )  # fmt: skip
    return None


def _aligned(names, units, width: int, rows, file_name: str, lines, header, delimiter):
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
        elif len(names) > width:
            beyond = [
                n for n in names[width:] if role_of(n).kind in ("temp", "rh") or time_word(n) in ("stamp", "date")
            ]
            if beyond or (times and stamp not in times and times[0] != stamp):
                shown = lines[header[-1]].replace(SHEET, " | ")[:60], lines[usual.line].replace(SHEET, " | ")[:60]
                raise BadInput(
                    f"{file_name}, line {usual.line + 1}: the header names {len(names)} columns and the rows "
                    f"have {width}: "
                    f"{shown[0]!r} and {shown[1]!r}. Export the file again, or mend the header."
                )
            notes.append("The header names more columns than the rows hold; the last names were left unused.")
    _verify(names, rows, width, file_name, lines, header)
    size = max(width, len(names))
    pad = [""] * size
    return tuple((names + pad)[:size]), tuple((units + pad)[:size]), tuple(notes)


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


def _split_stamp(names, times, usual: _Look) -> bool:
    """One name, "Date/Time", over a date and a time that blanks or the delimiter parted."""
    if not times or len(usual.kinds) < 2 or usual.kinds[:2] != ("date", "time"):
        return False
    at = times[0]
    return usual.stamps[:2] == (at, at + 1) and not (
        len(names) > at + 1 and time_word(names[at + 1]) in ("time", "date")
    )


def _by_parts(lines: list[str], name: str, delimiters) -> Start:
    """Tables with year, month, day, hour and minute in columns of their own; else the refusal that fits."""
    for number, line in enumerate(lines[:2000]):
        for delimiter in delimiters:
            cells = [tidy(c) for c in fields(_uncomment(line), delimiter)]
            named_parts = {part_word(c) for c in cells}
            if ({"year", "month", "day"} <= named_parts or {"year", "yday"} <= named_parts) and number + 1 < len(lines):
                rest = [i for i in range(number + 1, len(lines)) if lines[i].strip()]
                numeric = [i for i in rest[:20] if sum(map(looks_numeric, fields(lines[i], delimiter))) >= 4]
                if numeric:
                    width = len(fields(lines[numeric[0]], delimiter))
                    pad = ("",) * max(0, width - len(cells))
                    units = [tidy(c) for c in fields(lines[number + 1], delimiter)] if numeric[0] > number + 1 else []
                    size = len(cells) + len(pad)
                    return Start(delimiter, numeric[0], width, (number,), (*cells, *pad),
                                 tuple((units + [""] * size)[:size]), (), None, True)  # fmt: skip
    raise BadInput(_nothing(lines, name, delimiters))


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


def _nothing(lines: list[str], name: str, delimiters) -> str:
    for number, line in enumerate(lines[:2000]):
        best = max((_speaks([tidy(c) for c in fields(_uncomment(line), d)]) for d in delimiters), default=0)
        if best >= 2 and len(line) < 5000:
            below = [text for text in lines[number + 1 :] if text.strip()]
            if not below:
                return f"{name}: there is a header on line {number + 1} but no reading below it; nothing was recorded."
            return (
                f"{name}, line {number + 2}: below the header no row holds a date with a time and a number; "
                f"seen: {below[0].replace(SHEET, ' | ')[:60]!r}. Export it again with date and time in every row."
            )
    return f"{name}: no table of dates, times and numbers was found. Choose the logger's CSV export."


def plausible_number_column(name: str) -> bool:
    """Whether a header text names a row number."""
    return named(name, NUMBER) and role_of(name).kind is None
