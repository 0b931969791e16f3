"""Finding the one noun that a person's words fit: letters with or without their marks, words in any order."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from envwatch.core.errors import NotThere, Question

TOLD = 8
SPELT_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
UNMARKED = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"})
INSIDE = re.compile(r"['’‘ʼ`´]")
WORD = re.compile(r"\w+")


@dataclass(frozen=True)
class Entry:
    """What can be found: its id and name, the words it goes by, and words that count only where none of those fit."""

    id: str
    name: str
    words: str = ""
    farther: str = ""


def spellings(text: str) -> tuple[str, str]:
    """A text as it is compared: without marks on its letters, and with umlauts spelt out; signs part words.

    >>> spellings("Der Mühl-Wärter’s 2. Hof")
    ('der muhl warters 2 hof', 'der muehl waerters 2 hof')
    """
    folded = INSIDE.sub("", unicodedata.normalize("NFC", text).casefold())

    def plain(letters: str) -> str:
        parts = unicodedata.normalize("NFKD", letters.translate(UNMARKED))
        return " ".join(WORD.findall("".join(part for part in parts if not unicodedata.combining(part))))

    return plain(folded), plain(folded.translate(SPELT_OUT))


def find(noun: str, words: str, known: Iterable[Entry], answer: str) -> str:
    """The id of the one that the words fit: by its id, its name, its words in any order, then what is farther.

    Parameters
    ----------
    noun, answer : "painting", and what the question asks for: "its number".

    Raises
    ------
    NotThere : none fits; the nearest are named. Question : several fit.
    """
    known = list(known)
    wanted = [one for one in spellings(words) if one]

    def all_in(text: str) -> bool:
        return any(all(word in there for word in one.split()) for one in wanted for there in spellings(text))

    for fits in (
        lambda k: bool(words.strip()) and k.id.casefold() == words.strip().casefold(),
        lambda k: bool(set(wanted) & set(spellings(k.name))),
        lambda k: all_in(f"{k.id} {k.name} {k.words}"),
        lambda k: all_in(f"{k.id} {k.name} {k.words} {k.farther}"),
    ):
        found = [one for one in known if fits(one)]
        if len(found) == 1:
            return found[0].id
        if found:
            told = "; ".join(f"{one.id} {one.name}" for one in found[:TOLD])
            more = f"; and {len(found) - TOLD} more" if len(found) > TOLD else ""
            choices = tuple(one.id for one in found[:TOLD])
            raise Question(f"{words!r} fits {len(found)} {noun}s: {told}{more}.", noun, choices, answer=answer)
    raise NotThere(f"no {noun} fits {words!r}{_near(words, known)}")


def _near(words: str, known: list[Entry]) -> str:
    """Names near to what was asked, by the whole name or by a word of it; a few of all where none is."""
    asked = spellings(words)[0]
    names = {spellings(one.name)[0]: one for one in known}
    near = [names[name] for name in get_close_matches(asked, names, 3, 0.4)]
    if not near:
        by_word = {word: one for name, one in names.items() for word in name.split()}
        near = [by_word[hit] for word in asked.split() for hit in get_close_matches(word, by_word, 1, 0.7)]
    said = "near it" if near else "there are"
    near = near or known[:TOLD]
    return f"; {said}: {'; '.join(f'{one.id} {one.name}' for one in dict.fromkeys(near))}" if near else ""
