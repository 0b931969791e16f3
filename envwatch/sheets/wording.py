"""Words and figures as they stand on paper."""

from __future__ import annotations

import math
import re
import unicodedata

import numpy as np
import pandas as pd

from envwatch.period import day
from envwatch.records import Certainty, Confidence, Finding, Verdict

LONGEST_WORD = 28  # a longer one gets places where it may break
BREAK_HERE = "\u200b"
BEFORE_UNIT = re.compile(r"(?<=\d) (?=[%°])|(?<=%) (?=RH\b)")  # a figure stays with its unit
TRUST = {
    Confidence.PUBLISHED: "published (a publication gives it)",
    Confidence.COMMON_PRACTICE: "common practice (the trade keeps to it, without a source)",
    Confidence.FROM_MEMORY: "from memory (a publication gives it, not looked up again)",
    Confidence.OUR_JUDGEMENT: "our judgement (no publication gives it)",
}


def clean(text: str) -> str:
    """Text fit for a page: no control or direction marks; very long words may break, units stay with figures.

    >>> clean("Still life\\u202e with\\tpears")
    'Still life with pears'
    """
    kept = (" " if c in "\t\n\r\x0b\x0c\u2028\u2029" else c for c in str(text))
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


def stamp(time: pd.Timestamp | None, zone: str) -> str:
    """A time in a zone: "Mon 26 Oct 14:30"; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone)
    return f"{day(local)} {local:%H:%M}"


def date(time: pd.Timestamp | None, zone: str) -> str:
    """A day with its year in a zone; empty where there is none."""
    if time is None:
        return ""
    local = time.tz_convert(zone) if time.tz is not None else time
    return f"{day(local)} {local.year}"


def number(value: float, digits: int = 1) -> str:
    """A figure, or "not known" for NaN: never blank, never 0."""
    return "not known" if value is None or math.isnan(value) else f"{value:.{digits}f}".replace("-", "−")


def span(low: float, high: float, digits: int = 1) -> str:
    """Lowest to highest; "not known" where either is."""
    if math.isnan(low) or math.isnan(high):
        return "not known"
    return f"{number(low, digits)} to {number(high, digits)}"


def measure(finding: Finding) -> str:
    """Value with its uncertainty, limit and how far to trust it, hours, and whether the sensor can tell."""
    parts = []
    if not np.isnan(finding.value):
        spread = f" ± {number(finding.uncertainty)}" if not np.isnan(finding.uncertainty) else ""
        parts.append(f"{number(finding.value)}{spread} {finding.unit}".strip())
    if not np.isnan(finding.limit):
        limit = f"{finding.limit:g}".replace("-", "−")
        parts.append(f"limit {limit} {finding.unit}".strip() + f" ({finding.confidence.value})")
    if not np.isnan(finding.hours):
        parts.append(f"{finding.hours:.0f} h")
    if parts and finding.certainty is Certainty.CANNOT_TELL:
        within = abs(finding.value - finding.limit) <= finding.uncertainty
        parts.append(
            "the sensor cannot tell the two apart" if within else "the sensor cannot tell it from the next limit"
        )
    return "; ".join(parts)


def unseen(verdict: Verdict, zone: str) -> str:
    """Which hazards could not be decided, how much was read, and from which day the others can be; or empty."""
    by_hazard: dict[str, list[str]] = {}
    for finding in verdict.unseen:
        wait = f" from {date(finding.decidable_on, zone)}" if finding.decidable_on is not None else ""
        by_hazard.setdefault(finding.hazard, []).append(finding.mechanism + wait)
    listed = "; ".join(f"{hazard} ({', '.join(dict.fromkeys(what))})" for hazard, what in by_hazard.items())
    read = "" if not listed or math.isnan(verdict.coverage) else f"{verdict.coverage:.0%} of the time was read. "
    return read + listed


def first_sentence(text: str) -> str:
    """The first sentence of a longer telling."""
    head, dot, _ = text.partition(". ")
    return head + dot.strip()


def several(count: int, one: str, many: str = "") -> str:
    """`several(1, "painting")` is "one painting", `several(3, "painting")` "3 paintings"."""
    return f"one {one}" if count == 1 else f"{count} {many or one + 's'}"


__all__ = ["TRUST", "clean", "clean_all", "date", "measure", "number", "several", "span", "stamp", "unseen"]
