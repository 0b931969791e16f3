"""Lines, headings and shapes of the terminal's text."""

from __future__ import annotations

import textwrap

from envwatch.core.findings import Finding, Level

SHAPE = {Level.CLEAR: "○", Level.UNKNOWN: "[?]", Level.WATCH: "◐", Level.ACT: "●", Level.URGENT: "[●]"}


def wrap(text: str, width: int, indent: str = "", hang: str | None = None) -> list[str]:
    """Lines of at most `width`, the first behind `indent`, the others behind `hang`."""
    hang = " " * len(indent) if hang is None else hang
    return textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=hang) or [indent.rstrip()]


def shortened(text: str, room: int) -> str:
    """A text in one line of at most `room` columns; cut between words, or in one too long, with "…" behind it.

    >>> shortened("Portrait of a Pharmacist", 18), shortened("Rheinuferpromenade", 10)
    ('Portrait of a…', 'Rheinufer…')
    """
    text = " ".join(text.split())
    if len(text) <= room:
        return text
    cut = text[: max(room - 1, 0)]
    words = cut if text[len(cut)] == " " else cut.rpartition(" ")[0]
    return f"{words.rstrip() if len(words) > room / 2 else cut.rstrip()}…"


def heading(text: str, width: int) -> list[str]:
    """A heading with a rule under it, and a blank line before."""
    return ["", text, "─" * min(width, max(len(text), 12))]


def ask(finding: Finding) -> str:
    """The number to ask `why` with."""
    return f" (why {finding.number})" if finding.number is not None else ""
