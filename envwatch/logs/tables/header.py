"""What stands above a table: its header, and whether that fits the rows below; the logger's own number or name.

A label that any logger's file may bear, or that stands where nothing was filled in, is none: two files with the same
label are taken for the same logger's.
"""

from __future__ import annotations

import re
from itertools import accumulate, zip_longest

from envwatch.core.errors import BadInput
from envwatch.logs.text.cells import Look, looks_numeric, stampish, tidy, unit_in
from envwatch.logs.text.lines import NAMES, SHEET, WIDE_BLANKS, fields
from envwatch.logs.text.roles import named, role_of, time_word
from envwatch.logs.text.vocabulary import EMPTY, GENERAL, MISSING, NUMBERED, QUANTITY, UNSPACED, VALUE, plain, tokens
from envwatch.logs.text.words import pattern
from envwatch.logs.times.preamble import written

# a comment sign before the first name; a column of its own named "#" stays
COMMENT = re.compile(r"^[ ]*(?:#+|//|%|\*|!)[ ]*(?=(?:\d+:)?[^\W\d_\"])")
_SERIAL_LABEL = re.compile(
    r"(?:serial(?:\s?(?:number|no\.?|nr\.?|#))?|s/n|\bsn\b|seriennummer|serien-?nr\.?|geratenummer|gerate-?nr\.?|"
    r"n(?:umero|°|o|\.)? ?de serie|numero di serie|matricola|serienummer|logger ?(?:id|no\.?|nr\.?|number)|"
    r"device ?(?:id|no\.?)|"
    r"シリアル(?:番号|no\.?)?|製造番号|序列号|设备编号|编号)\s*[\"']?\s*[:=#;,\t|\x1f "
    r"]\s*[\"']?\s*(?P<it>[A-Za-z0-9][\w./-]{1,39})",
    re.IGNORECASE,
)
_NAME = re.compile(
    r"^[\"'#\s]*(?:logger(?: ?name)?|device(?: ?name)?|(?:[^\W\d_]+ )?title|name|station(?: ?name)?|geratename|gerat|"
    r"loggername|datenlogger|messstelle|standort|bezeichnung|appareil|enregistreur|nom|nombre|dispositivo|nome|"
    r"apparaat|naam|"
    r"location|site|sensor(?: ?name)?|description|設備名|機器名|ロガー名|设备名称|名称|仪器名称|"
    r"description)\s*[\"']?\s*"
    r"[:=;,\t|\x1f]\s*[\"']?\s*(?P<it>[^\"';,\t|\x1f]{1,60})",
    re.IGNORECASE,
)
_ACCENTS = str.maketrans("äöüéèêíóáçãõúàìòùñÄÖÜÉ", "aoueeeioacaouaiounAOUE")
_BARE = re.compile(r"(?P<it>\d+)")
_KEYED = re.compile(r"[^\W\d_][^:\d]*:")  # "Interval: 10 min" stands in any file
_IN_HEADER = re.compile(r"\bs/?n\s*[:.#]\s*(?P<it>[\w-]+)", re.IGNORECASE)
_SHORT = re.compile(r"(?<!\w)(?:n\. ?v\. ?t|n[./] ?[abcdv]|k\. ?a|s[./] ?[do])\.?(?!\w)")  # n.a., k. A., n.v.t., s/d


def header_fields(line: str, delimiter: str, width: int) -> tuple[list[str], str]:
    """A header's names and the delimiter it uses, which may be another than the body's."""
    line = COMMENT.sub("", line)
    first = fields(line, delimiter)
    tries = [(first, delimiter)]
    if delimiter != SHEET and len(first) != width:
        tries += [(fields(line, d), d) for d in (";", "\t", ",", "|", WIDE_BLANKS) if d != delimiter]
    cells, used = max(tries, key=lambda t: len(t[0])) if len(first) == 1 else tries[0]
    if len(first) < max(2, width - 2):
        cells, used = next((t for t in tries if len(t[0]) == width), (cells, used))
    return [tidy(c) for c in cells], used


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
    """The header above a table's first line: its lines, names and units a column, and notes; empty where none is."""
    above = [
        i
        for i in range(first - 1, max(first - 12, -1), -1)
        if lines[i].strip() and lines[i].strip(" ;,\t|\x1f-=_*^~" + delimiter)
    ]
    block: list[tuple[int, list[str], str]] = []
    for i in above[:5]:
        cells, used = header_fields(lines[i], delimiter, width)
        far = block and (block[-1][0] - i > 2 or abs(len(cells) - len(block[0][1])) > 1 and speaks(cells) < 2)
        if far or any(stampish(c) in ("full", "date") for c in cells) or not any(cells) or _key_value(cells, width):
            break
        if block and len(cells) < len(block[0][1]) and role_of(cells[0]).kind and time_word(block[0][1][0]):
            break  # a line of its own: its quantity would stand over the times
        if sum(map(bool, cells)) < 2 and not _is_units(cells):
            break
        block.append((i, cells, used))
    block = block[: _deep([cells for _, cells, _ in block], width)]
    if not block:
        return (), ("",) * width, ("",) * width, ("The file has no header; its columns were told by what they hold.",)
    names, units = _joined([cells for _, cells, _ in block])
    if not any(units) and not any(map(unit_in, names)) and len(above) > len(block):  # units over the names
        cells = header_fields(lines[above[len(block)]], delimiter, width)[0]
        units = cells if len(cells) == width and sum(map(bool, cells)) > 1 and _is_units(cells) else units
    if len(names) > 2 and all(re.match(r"\d+[:.)]\s*[^\W\d_]", n) for n in names):  # "1:Date 2:Time"
        names = [re.sub(r"^\d+[:.)]\s*", "", n) for n in names]
    used, notes = block[-1][2], []
    if used != delimiter and used in NAMES:
        notes.append(f"The header uses {NAMES[used]}, the rows {NAMES[delimiter]}, as delimiter.")
    return tuple(i for i, _, _ in block[::-1]), tuple(names), tuple(units), tuple(notes)


def _key_value(cells: list[str], width: int) -> bool:
    """A preamble line "Serial: ; 12345 ; ; ;" padded to the table's width, or "Units: °C, % RH"."""
    filled = [i for i, c in enumerate(cells) if c]
    first = cells[filled[0]]
    if ":" in first and (pattern("unit").match(plain(first)) or first.endswith(":") and len(filled) <= 2):
        return True
    return width > 3 and len(filled) <= 2 and filled[0] == 0 and speaks(cells) < 2


def _deep(rows: list[list[str]], width: int) -> int:
    """How many lines above a table make its header, nearest first: names, and further names where they are needed."""
    if not any(map(speaks, rows)):
        first = rows[0] if rows else []
        names = len(first) >= width - 1 and sum(map(bool, first)) >= 2 and not any(map(looks_numeric, first))
        return int(bool(rows) and names)
    deepest = 0
    for at, cells in enumerate(rows[1:], 1):
        repeated = _repeats(rows[0])
        if not repeated and _complete(rows[:at]):
            break
        if speaks(cells) or repeated and sum(map(bool, cells)) >= 2:
            deepest = at
        elif at > 1 or not _is_units(rows[0]):
            break
    return deepest + 1


def _complete(rows: list[list[str]]) -> bool:
    """Whether these header rows name a time and a temperature by words, not by units alone."""
    joined = [" ".join(c) for c in zip_longest(*rows, fillvalue="")]
    if not any(time_word(c) or named(c, VALUE) for c in joined):
        return False
    bare = {c: re.sub(r"(?i)celsius|fahrenheit|kelvin|deg|percent|prozent|grad", "", c) for c in joined}
    return any(role_of(c).kind in ("temp", "rh") and len(plain(c)) > 3 and re.search(r"[^\W\d_]{3,}", bare[c])
               for c in joined)  # fmt: skip


def _repeats(row: list[str]) -> bool:
    """Whether a row names several temperatures without telling them apart."""
    roles = [role_of(c) for c in row if c]
    labels = [(r.kind, r.label) for r in roles if r.kind in ("temp", "rh")]
    return [r.kind for r in roles].count("temp") > 1 and len(set(labels)) < len(labels)


def _joined(rows: list[list[str]]) -> tuple[list[str], list[str]]:
    """Names over all header rows; a group's name counts for the columns to its right; units by themselves."""
    size, rows = max(map(len, rows)), rows[::-1]
    units = [""] * size
    if len(rows) > 1 and _is_units(rows[-1]):
        units = rows[-1] + [""] * (size - len(rows[-1]))
        rows = rows[:-1] if _complete(rows[:-1][::-1]) or speaks(rows[-2]) else rows
    if len(rows) > 1:
        rows = [list(accumulate(row, lambda last, cell: cell or last)) for row in rows[:-1]] + [rows[-1]]
    names = [" ".join(dict.fromkeys(c for c in column if c))[:200] for column in zip_longest(*rows, fillvalue="")]
    names = ["".join(c for c in name if c.isprintable()) for name in names]
    return names + [""] * (size - len(names)), units


def aligned(names, units, width: int, rows, file_name: str, lines, header, delimiter):
    """Names and rows brought to the same number of columns, or a refusal that shows both.

    Raises
    ------
    BadInput : the header does not name as many columns as the rows hold, or names a quantity where the time stands.
    """
    names, units = list(names), list(units)
    while len(names) > width and not names[-1]:
        names.pop()
    notes: list[str] = []
    usual = next((row for row in rows if len(row.cells) == width), rows[0])
    if header and any(names):
        stamp, times = usual.stamps[0], [i for i, n in enumerate(names) if time_word(n) in ("stamp", "date", "time")]
        shift = len(names) < width and (stamp - times[0] == 1 if times else stamp == 0 and bool(names[0]))
        if shift:
            names, units = [""] + names, [""] + units
            notes.append(
                "The rows have one more column than the header, at the left; the names were moved accordingly."
            )
        elif len(names) < width and _split_stamp(names, times, usual):
            names.insert(times[0] + 1, "")
            units.insert(times[0] + 1, "")
        if not shift and any(looks_numeric(c) or c and c.lower() in MISSING for row in rows[:80]
                             for c in map(tidy, row.cells[len(names) : width])):  # fmt: skip
            raise BadInput(unfitting(file_name, usual.line, len(names), width, lines, header))
        if not shift and len(names) > width:
            read = [n for n in names[width:] if role_of(n).kind in ("temp", "rh") or time_word(n) in ("stamp", "date")]
            if read or (times and stamp not in times and times[0] != stamp):
                raise BadInput(unfitting(file_name, usual.line, len(names), width, lines, header))
            notes.append("The header names more columns than the rows hold; the last names were left unused.")
    under = [names[i] for i in usual.stamps if i < len(names)] if header else []
    wrong = [n for n in under if n and role_of(n).kind in ("temp", "rh") and not role_of(n).weak]
    if wrong and not any(map(time_word, under)):
        shown = (text.replace(SHEET, " | ")[:60] for text in (lines[header[-1]], lines[usual.line]))
        raise BadInput(
            f"{file_name}, line {usual.line + 1}: the time stands under the header {wrong[0]!r}; header and rows do "
            f"not fit: {next(shown)!r} and {next(shown)!r}. Export the file again, or mend the header."
        )
    size = max(width, len(names))
    names, units = ((some + [""] * size)[:size] for some in (names, units))
    return tuple(names), tuple(units), tuple(notes)


def unfitting(file_name: str, row: int, named_: int, width: int, lines, header) -> str:
    """The refusal of a header that does not name as many columns as its rows hold."""
    shown = lines[header[-1]].replace(SHEET, " | ")[:60], lines[row].replace(SHEET, " | ")[:60]
    return (
        f"{file_name}, line {row + 1}: the header names {named_} columns and the rows have {width}: "
        f"{shown[0]!r} and {shown[1]!r}. Export the file again, or mend the header."
    )


def _split_stamp(names, times, usual: Look) -> bool:
    """One name, "Date/Time", over a date and a time that blanks or the delimiter parted."""
    if not times or usual.kinds[:2] != ("date", "time"):
        return False
    at = times[0]
    behind = time_word(names[at + 1]) if len(names) > at + 1 else None
    return usual.stamps[:2] == (at, at + 1) and behind not in ("time", "date")


def label_in(preamble: list[str], names: list[str], serial: str | None = None) -> str | None:
    """A serial number before a name before a title; None where the file gives none, or leaves it empty.

    `serial` is the number that stands bare in the columns' names.

    >>> label_in(["Seriennummer: 10042", "Messstelle: Depot"], []), label_in(["Title: North store"], [])
    ('10042', 'North store')
    >>> label_in(["Messdaten des Geräts"], []), label_in(["Operator: none"], []), label_in(["Logger 7"], [])
    (None, None, 'Logger 7')
    >>> label_in(["Serial no.;", "Device name: not set"], []), label_in(["Serial no.;N/A", "Location;Attic"], [])
    (None, 'Attic')
    """
    texts = [line.translate(_ACCENTS) for line in preamble[:200] if len(line) < 500]
    for places, fits, some in (
        (_SERIAL_LABEL, is_serial, texts),
        (_IN_HEADER, is_serial, names[:100]),
        (_BARE, is_serial, [serial or ""]),
        (_NAME, _is_name, texts),
    ):
        for text in some:
            for found in places.finditer(text):
                if fits(found["it"]):
                    return "".join(c for c in found["it"].strip() if c.isprintable())
    return title(preamble)


def title(preamble: list[str]) -> str | None:
    """A single short first line such as "Logger 10042"."""
    filled = [re.sub(r"[;,\t|\x1f\"\s]+$", "", line).strip('"# ') for line in preamble[:3] if line.strip(" ;,\t\x1f")]
    if not filled or re.match(r"(?i)sep=", filled[0]) and len(filled) < 2:
        return None
    first = filled[1] if re.match(r"(?i)sep=", filled[0]) else filled[0]
    plain_ = plain(first)
    if len(first) > 60 or re.search(r"[;,\t|=\x1f]|\d:\d|https?:|export|created|report|version", plain_):
        return None
    signs = sum(c.isalnum() for c in first)
    return first if signs > 1 and not _KEYED.match(plain_) and not nameless(first) else None


def _is_name(text: str) -> bool:
    return bool(text.strip(" .-")) and not nameless(text)


def nameless(text: str) -> bool:
    """Whether a label names no logger, for any logger's file may bear it.

    >>> some = "N/A", "Seriennummer", "°C", "0000", "7", "unknown 1", "01.03.2024", "未設定", "Logger 7", "10042"
    >>> [text for text in some if not nameless(text)]
    ['Logger 7', '10042']
    """
    bare = plain(text)
    if bare.strip(" \"'()[]<>{}!¡¿?") in MISSING:
        return True
    bare = _SHORT.sub(" none ", bare)
    for date in written([bare]) if any(map(str.isdigit, bare)) else ():
        bare = bare.replace(date.text, " ")
    for word in UNSPACED:
        bare = bare.replace(word, " ")
    found = tokens(bare)
    letters = [word for word in found if not word.isdigit() and not (word in {*"cfk"} and {*found} & {*"°%"})]
    if len(letters) == 1 and letters == [*found] and len(letters[0]) == 1:
        return letters[0] in "x°%#"  # loggers are called A and B
    if any(word not in GENERAL for word in letters):
        return False
    digits = "".join(word for word in found if word.isdigit())  # do they tell one logger from another?
    if not digits or len(digits) > 1 and set(digits) == {"0"} or len(digits) > 3 and set(digits) == {"9"}:
        return True
    if not letters:
        return len(digits) == 1
    return len(digits) < 3 and any(w in EMPTY for w in letters) or len(digits) == 1 and NUMBERED.issuperset(letters)


def is_serial(text: str) -> bool:
    """Whether a text can be a serial number: with a digit, or capitals alone; "not" of "not set" is none.

    >>> [text for text in ("no.", "N/A", "not", "brak", "0000", "7", "A-17/3", "KQXW") if is_serial(text)]
    ['A-17/3', 'KQXW']
    """
    signs = [c for c in text if c.isalnum()]
    known = any(c.isdigit() for c in signs) or len(signs) > 3 and text.isupper()
    return len(signs) > 1 and known and not nameless(text)
