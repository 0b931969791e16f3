"""Closed sets of words."""

from enum import StrEnum


class Word(StrEnum):
    """A word of a closed set: kept, compared and shown as the plain word, by `repr` too."""

    __repr__ = str.__repr__
