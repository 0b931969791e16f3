"""Closed sets of words."""

from enum import StrEnum


class Word(StrEnum):
    """A word of a closed set: kept, compared and shown as the plain word, by `repr` too."""

    def __repr__(self) -> str:
        return repr(self.value)
