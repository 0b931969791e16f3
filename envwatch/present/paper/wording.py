"""Words and figures as they stand on paper."""

from __future__ import annotations

import re
import unicodedata

from envwatch.core.errors import named
from envwatch.core.findings import judgement, ours, outside
from envwatch.core.quantities import Confidence
from envwatch.core.text import date, first_sentence, number, several, span, stamp  # fmt: skip
from envwatch.present.words import measure, nowhere, unseen

LONGEST_WORD = 28  # a longer one gets places where it may break
BREAK_HERE = "\u200b"
BEFORE_UNIT = re.compile(r"(?<=\d) (?=[%°])|(?<=%) (?=RH\b)")  # a figure stays with its unit
TRUST = {
    Confidence.PUBLISHED: "published (a publication gives it)",
    Confidence.COMMON_PRACTICE: "common practice (the trade keeps to it, without a source)",
    Confidence.FROM_MEMORY: "from memory, not checked against the text",
    Confidence.OUR_JUDGEMENT: "our judgement",
}


def clean(text: str) -> str:
    """Text fit for a page: no control or direction marks; very long words may break, units stay with figures.

    >>> clean("Still life\\u202e with\\tpears")
    'Still life with pears'
    """
    told = named(str(text), lambda field: f"“{field.replace('_', ' ')}”")
    kept = (" " if c in "\t\n\r\x0b\x0c\u2028\u2029" else c for c in told)
    shown = "".join(c for c in kept if unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co", "Cn"))
    return BEFORE_UNIT.sub("\u00a0", " ".join(_breakable(word) for word in shown.split()))


def _breakable(word: str) -> str:
    if len(word) <= LONGEST_WORD:
        return word
    return BREAK_HERE.join(word[i : i + 8] for i in range(0, len(word), 8))


def clean_all(content):
    """`clean` on every string of nested dicts and lists; numbers and None stay."""
    if isinstance(content, str):
        return clean(content)
    if isinstance(content, dict):
        return {key: value if key == "svg" else clean_all(value) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [clean_all(item) for item in content]
    return content


__all__ = [
    "TRUST", "clean", "clean_all", "date", "first_sentence", "judgement", "measure", "nowhere", "number", "ours",
    "outside", "several", "span", "stamp", "unseen",
]  # fmt: skip
