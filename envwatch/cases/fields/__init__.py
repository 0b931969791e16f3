"""What a person may say of a case, once for command, page and file: a table of inputs for each case."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

NUMBER, WHOLE, TEXT, FILE, FLAG = "number", "whole", "text", "file", "flag"
YES_NO, TEMP, LENGTH, MONTHS, DAY = "yes or no", "temperature", "length", "months", "day"  # as text on page and in file
PAINTING, ADHESIVE, PLACE, LOGGER, PLACEMENT = "painting", "adhesive", "place", "logger", "placement"  # the studio's
Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Input:
    """One input of a case.

    Attributes
    ----------
    name : in an address, and in what is refused; an option is called after it.
    help : what the command says of its option; "": it has none.
    words, hint : over the field of a page, and in it; words "": the page has none.
    kind : one of the words above.
    many : the option may be repeated.
    choices : where it is one of a few: each with its words.
    default : where nothing is said.
    limits, unit : least and most of a NUMBER, a TEMP [°C] and a LENGTH [m]; and in what a length is kept.
    fills : the option whose input it is on the page, where that is called otherwise.
    """

    name: str
    help: str = ""
    words: str = ""
    hint: str = ""
    kind: str = TEXT
    many: bool = False
    choices: Choices = ()
    default: float | str | None = None
    limits: tuple[float, float] = (0, 0)
    unit: str = ""
    fills: str = ""


def same(words: Iterable[str]) -> Choices:
    """Choices that are called as they are written."""
    return tuple((word, word) for word in words)
