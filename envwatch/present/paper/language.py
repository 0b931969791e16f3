"""The owner's page in the owner's language, from one table a language: its sentences, its months, how it writes a day.

A table that does not name a reader and a day is used and marked: translation not yet checked.
"""

from __future__ import annotations

import pkgutil
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from envwatch.core.errors import BadInput

LANGUAGES = {
    "en": "English", "pt": "português", "es": "español", "fr": "français", "it": "italiano", "de": "Deutsch",
}  # fmt: skip


@dataclass(frozen=True)
class Language:
    """One language. `say` gives a sentence of the page in it; `checked` names its reader and day, or is empty."""

    code: str
    say: Callable[[str], str]
    checked: str
    day: Callable[[date], str]  # a day in words


@lru_cache(maxsize=8)
def language(code: str) -> Language:
    """A language by its two letters.

    Raises
    ------
    BadInput : a language that the page does not have.
    """
    if code not in LANGUAGES:
        raise BadInput(f"the owner's page is in {', '.join(LANGUAGES)}", field="language", seen=code)
    if code == "en":
        return Language(
            "en", lambda text: text, "the language it was written in", lambda when: f"{when.day} {when:%B %Y}"
        )
    table = _table(code)
    return Language(
        code, lambda text: table["sentences"].get(text, text), reader_of(table), lambda when: _day(table, when)
    )


def reader_of(table: dict) -> str:
    """Who read a table and when; empty until both are entered."""
    return f"{table['read_by']}, {table['read_on']}" if table["read_by"] and table["read_on"] else ""


def _day(table: dict, when: date) -> str:
    return table["day"].format(day=when.day, month=table["months"][when.month - 1], year=when.year)


def _table(code: str) -> dict:
    content = pkgutil.get_data("envwatch.present.paper", f"languages/{code}.toml")
    if content is None:
        raise BadInput("its table is not installed", field="language", seen=code)
    return tomllib.loads(content.decode())
