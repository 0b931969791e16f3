"""What a figure is: a number that knows its unit, where it was read, and how far to trust it."""

from __future__ import annotations

from enum import Enum


class Confidence(Enum):
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

    def __getnewargs__(self):  # so that a figure survives copying and pickling
        return float(self), self.unit, self.source, self.confidence, self.note
