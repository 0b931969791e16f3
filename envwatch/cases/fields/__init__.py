"""What a person may say of a case, once for command and page: a table of inputs for each case; it imports nothing."""

from __future__ import annotations

from dataclasses import dataclass

NUMBER, WHOLE, TEXT, FILE = "number", "whole", "text", "file"


@dataclass(frozen=True)
class Input:
    """One input of a case.

    Attributes
    ----------
    name : in an address, and in what is refused; an option is called after it.
    help : what the command says of its option; "": it has none.
    words, hint : over the field of a page, and in it; words "": the page has none.
    kind : NUMBER, WHOLE, TEXT or FILE, as an option.
    many : the option may be repeated.
    choices : where it is one of a few: each with its words.
    default : where nothing is said.
    """

    name: str
    help: str = ""
    words: str = ""
    hint: str = ""
    kind: str = TEXT
    many: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    default: float | None = None
