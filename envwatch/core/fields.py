"""What may stand in one cell of the register, and how it is written back.

A parser takes the text of a cell (never empty) and returns what the register keeps, or raises ValueError with
what is wrong and what to write. Writing a value and parsing it again gives the same value.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TypeVar
from zoneinfo import ZoneInfo

from envwatch.core.dates import clean, is_bare

# control signs, a carriage return alone, separators of lines, signs that turn the direction of writing, halves
CONTROL = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]|\r(?!\n)"
)
BESIDES = re.compile("[\t\n\r\u061c\u200b\u200e\u200f\ufeff]")  # tabs, line ends, signs without width: in no name
# columns whose text may go over several lines; all other text is a name
LINES = frozenset({"note", "because", "cause", "sign", "where", "purpose", "basis", "limits_told", "removal"})
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")
COMMA = re.compile(r"[+-]?(\d+|\d{1,3}(\.\d{3})+),\d+")  # a decimal comma, with or without points for thousands
THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")  # or so it may be
YES = ("yes", "y", "true", "ja", "j", "oui", "si", "sí", "sì", "sim", "tak", "da", "ano", "kyllä")
NO = ("no", "n", "false", "nein", "nee", "nej", "non", "não", "nie", "ne", "ei")
FORMULA = re.compile(r"'*[=+\-@\t\r]")
Parser = TypeVar("Parser", bound=Callable[[str], object])
LONGEST, LONGEST_ID = 10_000, 100


def closed(parse: Parser) -> Parser:
    """Mark a parser that lets through nothing but numbers, dates and words of a list: no name can stand there."""
    parse.closed = True  # type: ignore[attr-defined]  # a function may bear a mark
    return parse


@dataclass(frozen=True)
class Field:
    """One column: its name, how a cell is read, whether it must be filled, and what an empty cell means.

    A column may hold a person's name unless its parser is `closed`.
    """

    name: str
    parse: Callable[[str], object]
    needed: bool = False
    empty: object = ""

    @property
    def nameless(self) -> bool:
        """Whether no name can stand in it."""
        return getattr(self.parse, "closed", False)

    @property
    def is_id(self) -> bool:
        """Whether it holds an id."""
        return self.parse is ident

    def value(self, cell: str) -> object:
        """What the register keeps of a cell. ValueError: one sentence on what is wrong."""
        cell = unguard(cell).strip()
        if cell:
            return self.parse(cell)
        if self.needed:
            raise ValueError("is empty; it must be filled")
        return self.empty


def text(cell: str) -> str:
    """Free text, on one line or several, without signs that are not seen but change what is shown."""
    if found := CONTROL.search(cell):
        raise ValueError(f"holds a control or direction sign ({_code(found[0])}); type it again without")
    if len(cell) > LONGEST:
        raise ValueError(f"has {len(cell)} characters, at most {LONGEST} are kept")
    if found := WITHHELD.search(cell):
        raise ValueError(
            f"{found[0]!r} stands for a name that was taken out; leave the column out to keep what is there"
        )
    return cell


def line(cell: str) -> str:
    """A name: text on one line, in which nothing stands that is not seen."""
    if found := BESIDES.search(text(cell)):
        raise ValueError(f"goes over a line or holds a sign that is not seen ({_code(found[0])}); write it on one line")
    return cell


def ident(cell: str) -> str:
    """An id: short, on one line."""
    if len(cell) > LONGEST_ID:
        raise ValueError(f"an id is at most {LONGEST_ID} characters on one line")
    return line(cell)


def escaped(cell: str, lines: bool = False) -> str:
    """Text with what is not seen as its code; `lines`: it may go over several.

    >>> escaped("Still life\\u202e\\r"), escaped("one\\ntwo", lines=True)
    ('Still life⟨U+202E⟩⟨U+000D⟩', 'one\\ntwo')
    """
    if cell.isprintable():
        return cell
    seen = CONTROL.sub(lambda found: f"⟨{_code(found[0])}⟩", cell)
    return seen if lines else BESIDES.sub(lambda found: f"⟨{_code(found[0])}⟩", seen)


def _code(sign: str) -> str:
    return f"U+{ord(sign):04X}"


def number(low: float, high: float) -> Callable[[str], float]:
    """A decimal number within what is possible; with a comma where that can be nothing but the decimal one."""

    @closed
    def parse(cell: str) -> float:
        if THOUSANDS.fullmatch(cell):
            raise ValueError(f"{cell!r} could be {cell.replace(',', '.')} or {cell.replace(',', '')}; write which")
        plain = cell.replace(".", "").replace(",", ".") if COMMA.fullmatch(cell) else cell
        if not NUMBER.fullmatch(plain):
            raise ValueError(f"{cell!r} is not a number; write it as 12.5")
        if not low <= float(plain) <= high:
            raise ValueError(f"{cell} is outside {low:g} to {high:g}")
        return float(plain)

    return parse


def integer(low: int, high: int) -> Callable[[str], int]:
    """A whole number within what is possible."""

    @closed
    def parse(cell: str) -> int:
        if not re.fullmatch(r"[+-]?\d{1,15}", cell):
            raise ValueError(f"{cell!r} is not a whole number")
        if not low <= int(cell) <= high:
            raise ValueError(f"{cell} is outside {low} to {high}")
        return int(cell)

    return parse


@closed
def yes_no(cell: str) -> bool:
    """Yes or no, also in a neighbour's language."""
    word = cell.casefold()
    return word in YES or (word not in NO and one_of(("yes", "no"))(cell) == "yes")


def one_of(words: Iterable[str]) -> Callable[[str], str]:
    """One word of a list."""
    known = tuple(map(str, words))  # plain words, also those of a set

    @closed
    def parse(cell: str) -> str:
        if cell.casefold() in known:
            return cell.casefold()
        near = get_close_matches(cell.casefold(), known, 1)
        listed = f"use one of: {', '.join(known)}"
        hint = f"did you mean {near[0]!r}? Or {listed}" if near else listed
        raise ValueError(f"{cell!r} is not known; {hint}")

    return parse


@closed
def day(cell: str) -> str:
    """A date without a clock."""
    cell = clean(cell)
    if not is_bare(cell):
        raise ValueError(f"{cell!r} has a clock; only the day is wanted")
    return cell


@closed
def zone(cell: str) -> str:
    """A time zone by its name in the zone database, so that changes of clock are known."""
    try:
        ZoneInfo(cell)
    except (OSError, ValueError, KeyError):
        raise ValueError(f"{cell!r} is no time zone; write it as Europe/Berlin{_near_zone(cell)}") from None
    return cell


def _near_zone(cell: str) -> str:
    from zoneinfo import available_timezones

    near = get_close_matches(cell, available_timezones(), 1)
    return f" (did you mean {near[0]}?)" if near else ""


def labels(cell: str) -> str:
    """Serial numbers or names, separated by `;`."""
    return ";".join(part.strip() for part in line(cell).split(";") if part.strip())


def several(each: Callable[[str], object]) -> Callable[[str], str]:
    """Figures separated by `;`, kept as one text.

    >>> several(number(0, 100))("65; 66.50;64")
    '65;66.5;64'
    """

    def parse(cell: str) -> str:
        return ";".join(cell_of(each(part.strip())) for part in cell.split(";") if part.strip())

    return closed(parse) if getattr(each, "closed", False) else parse


def file_name(cell: str) -> str:
    """The name of a file, without the folders that it lies in."""
    if "/" in cell or "\\" in cell:
        raise ValueError(f"{cell!r} has folders in it; give the file's name alone")
    return line(cell)


def cell_of(value: object) -> str:
    """A kept value as the text of a cell."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return guard(value) if isinstance(value, str) else str(value)


def guard(cell: str) -> str:
    """Text that a spreadsheet would run as a formula, made harmless with an apostrophe.

    >>> guard("=1+1"), unguard(guard("=1+1")), guard("store")
    ("'=1+1", '=1+1', 'store')
    """
    return "'" + cell if FORMULA.match(cell) else cell


def unguard(cell: str) -> str:
    """Text without the apostrophe that `guard` put before it."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell) else cell


WITHHELD = re.compile(r"owner \d+, withheld|owner-\d+-withheld")
