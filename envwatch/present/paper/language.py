"""The owner's page in the owner's language, from one Babel catalogue a language.

A catalogue whose head does not name a reader and a day is used and marked: translation not yet checked.
"""

from __future__ import annotations

import io
import pkgutil
import re
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

    def day(self, when: date) -> str:
        """A day in words."""
        from babel.dates import format_date

        return format_date(when, format="long", locale="en_GB" if self.code == "en" else self.code)


@lru_cache(maxsize=8)
def language(code: str) -> Language:
    """A language by its two letters.

    Raises
    ------
    BadInput : a language that the page does not have.
    """
    if code not in LANGUAGES:
        raise BadInput(f"--language {code}: the owner's page is in {', '.join(LANGUAGES)}")
    if code == "en":
        return Language("en", lambda text: text, "the language it was written in")
    catalogue = _catalogue(code)
    told = {message.id: message.string for message in catalogue if message.id and message.string}
    return Language(code, lambda text: told.get(text, text), reader_of(catalogue))


def reader_of(catalogue) -> str:
    """Who read a catalogue and when, from the comment at its head; empty until both are entered."""
    comment = catalogue.header_comment
    reader, day = (re.search(rf"^# Read {what}:[ \t]*(\S.*)$", comment, re.MULTILINE) for what in ("by", "on"))
    return f"{reader[1].strip()}, {day[1].strip()}" if reader and day else ""


def _catalogue(code: str):
    from babel.messages.pofile import read_po

    content = pkgutil.get_data("envwatch.present.paper", f"languages/{code}.po")
    if content is None:
        raise BadInput(f"--language {code}: its catalogue is not installed")
    return read_po(io.BytesIO(content), locale=code)
