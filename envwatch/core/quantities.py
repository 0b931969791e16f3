"""What a figure is: a number that knows its unit, where it was read, and how far to trust it."""

from __future__ import annotations

from typing import Any

from envwatch.core.words import Word


class Confidence(Word):
    """How a figure is known. The word is printed wherever the figure decides something."""

    PUBLISHED = "published"
    COMMON_PRACTICE = "common practice"
    FROM_MEMORY = "from memory"
    OUR_JUDGEMENT = "our judgement"


class Figure(float):
    """A number with unit, source key (into `SOURCES`), confidence and an optional note.

    Behaves as a plain float in every formula.

    >>> damp = Figure(75, "% RH", "michalski-rh", Confidence.PUBLISHED)
    >>> damp + 1, damp.unit, damp.confidence.value
    (76.0, '% RH', 'published')
    """

    unit: str
    source: str
    confidence: Confidence
    note: str

    def __new__(cls, value: float, unit: str, source: str, confidence: Confidence, note: str = "") -> Figure:
        self = super().__new__(cls, value)
        self.unit, self.source, self.confidence, self.note = unit, source, confidence, note
        return self

    def __getnewargs__(self) -> tuple[Any, ...]:  # a figure survives copying and pickling
        return float(self), self.unit, self.source, self.confidence, self.note


class Seen(Word):
    """What was seen of a publication. A figure may be called published only if something was."""

    TEXT = "text read"
    EXCERPT = "excerpt read"
    ABSTRACT = "abstract read"
    QUOTED = "not seen itself"  # what others quote of it was
    NOTHING = "not seen, from memory"


class Source(str):
    """A full reference that knows what was seen of it, and by what its rule was replaced where it was.

    Behaves as a plain string, with both written out.

    >>> rule = Source("A Standard, 2009", Seen.QUOTED, "as an abstract tells it", withdrawn="in 2016, by an index")
    >>> print(rule)
    A Standard, 2009; not seen itself, as an abstract tells it. Withdrawn in 2016, by an index.
    """

    reference: str
    seen: Seen
    told_by: str
    withdrawn: str

    def __new__(cls, reference: str, seen: Seen, told_by: str = "", withdrawn: str = "") -> Source:
        read = f"{seen.value}, {told_by}" if told_by else seen.value
        gone = f" Withdrawn {withdrawn}." if withdrawn else ""
        self = super().__new__(cls, f"{reference}; {read}.{gone}")
        self.reference, self.seen, self.told_by, self.withdrawn = reference, seen, told_by, withdrawn
        return self

    def __getnewargs__(self) -> tuple[Any, ...]:
        return self.reference, self.seen, self.told_by, self.withdrawn


STUDIO = "studio"  # the source of what a studio has overruled or added
