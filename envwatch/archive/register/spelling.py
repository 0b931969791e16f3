"""How an owner's name may be written: its words, which of them give it away alone, and how words are compared."""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import unquote

SILENT = "\u00ad\u200b-\u200d\u2060\ufeff"  # soft hyphens and signs without width, inside a word
MARKS = "\u0300-\u036f"  # accents that stand apart from their letters
WORD = re.compile(rf"[^\W\d_](?:[{SILENT}{MARKS}]*[^\W\d_])*[{MARKS}]*|\d+")
CAMEL = re.compile(r"(?<=[^\W\d_A-Z])(?=[A-Z])")
BETWEEN = re.compile(r"\s*(?:[&/;+()\n]|\bund\b|\band\b|\bet\b)\s*", re.IGNORECASE)
UNMARKED = str.maketrans({"ø": "o", "æ": "a", "œ": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"})
CODED = re.compile(r"&(?:#\d+|#[xX][0-9a-fA-F]+|\w+);|%[0-9a-fA-F]{2}|=[0-9A-F]{2}|\\u[0-9a-fA-F]{4}")
SPACED = re.compile(r"(?<!\w)[^\W\d_](?:([ .\u00a0_\-*])[^\W\d_])(?:\1[^\W\d_]){2,}(?!\w)")  # one letter at a time
SHORTEST = 3  # letters of a surname that is looked for by itself; of three, as it is written alone
INSIDE = 6  # letters of a name that is looked for inside longer words too


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


TITLES = _words(
    "herr herrn herren frau frauen fraulein familie fam family dr doctor doktor prof professor mr mrs ms miss mx sir "
    "lady dame lord graf grafin baron baronin baroness freiherr freifrau furst furstin eheleute ehepaar geschwister "
    "madame mme mlle monsieur senor senora sr sra signor signora don dona pastor pastorin pfarrer pfarrerin rev med "
    "phil ing dipl count countess"
)
PARTICLES = _words("von van vom zu zum zur der den dem des de del della di da do dos du la le ten ter af av of")
KINDS = _words(
    "gmbh ag kg ohg ev ltd llc inc plc jun jr sen sr stiftung foundation trust estate nachlass erben heirs museum "
    "museen gallery galerie collection sammlung gemeinde kirchengemeinde parish church kirche stadt town city council "
    "verein society haus house hof farm company studio atelier family familie"
)
NOBODY = _words(
    "the a an our my us own self myself me none unknown private privat unbekannt der die das dem den unser unsere mein "
    "meine eigen eigene selbst studio atelier owner"
)


@lru_cache(maxsize=65536)
def key(word: str) -> str:
    """A word as it is compared: small letters without marks, ß as ss, umlauts alike however they are spelt.

    >>> key("Größe") == key("GROESSE") == key("Gro\u0308ße") == key("grosse")
    True
    """
    if word.isdigit():
        return word
    plain = unicodedata.normalize("NFKD", word.casefold().translate(UNMARKED)).casefold()
    return re.sub("([aou])e", r"\1", "".join(letter for letter in plain if letter.isalpha()))


def plainer(text: str) -> str:
    """A text whose letters are written as a web page, an address, a mail or a program writes them, or one by one.

    >>> plainer("M&uuml;ller, M%C3%BCller, M=C3=BCller, M\\\\u00fcller, M&#252;ller, M ü l l e r")
    'Müller, Müller, Müller, Müller, Müller, Müller'
    """
    if CODED.search(text):
        text = html.unescape(unquote(re.sub("=([0-9A-F]{2})", r"%\1", text)))
        text = re.sub(r"\\u([0-9a-fA-F]{4})", lambda found: chr(int(found[1], 16)), text)
    return SPACED.sub(lambda found: found[0].replace(found[1], ""), text)


@dataclass(frozen=True)
class Name:
    """An owner's name taken apart, each word by its `key`.

    Attributes
    ----------
    strong : words that give the name away alone.
    given : first names; they do so beside a title, or before the surname's initial.
    words : all of its words, which go with a strong one that stands beside them.
    """

    written: str
    strong: frozenset[str]
    given: frozenset[str]
    words: frozenset[str]

    @property
    def initials(self) -> frozenset[str]:
        """First letters of its words."""
        return frozenset(word[0] for word in self.words if word)


def name(written: str) -> Name:
    """An owner's name taken apart; words such as "the studio", which name nobody, give none.

    >>> sorted(name("Frau Dr. Insa von Ölm-Groß").strong), sorted(name("Petersen, Anna").given)
    (['gross', 'olm'], ['anna'])
    >>> name("the studio").strong
    frozenset()
    """
    text = unicodedata.normalize("NFC", written)
    if _nobody(text):
        return Name(written, frozenset(), frozenset(), frozenset())
    strong: set[str] = set()
    given: set[str] = set()
    for person in BETWEEN.split(text):
        surname, first = _person(person)
        strong |= surname
        given |= first
    words = {key(word) for word in WORD.findall(text)} - {"", "und", "and", "et", "of"}
    return Name(written, frozenset(strong), frozenset(given - strong), frozenset(words))


def _nobody(text: str) -> bool:
    """Whether it says in small letters that it is the studio's own, or nobody's."""
    words = [key(word) for word in WORD.findall(text)]
    small = text.casefold() == text
    return not words or (small and (words[0] in NOBODY or all(word in NOBODY | KINDS for word in words)))


def _person(text: str) -> tuple[set[str], set[str]]:
    """Surnames and first names of one person, or of a house's or a society's name."""
    head, comma, tail = text.partition(",")
    groups = _groups(head)
    after = _groups(tail) if comma else []
    if len(after) > 1:  # a second name, and not the first names of this one
        more, first = _person(tail)
    else:
        more, first = set(), {word for group in after for word in group}
    if len(groups) > 1:
        first |= set(groups.pop(0))
    found = {word for group in groups for word in group if len(word) >= SHORTEST or not _cased(word)}
    return found | more, {word for word in first if len(word) > 1}


def _groups(text: str) -> list[list[str]]:
    """The words that make a name, those that a hyphen joins together; no titles, particles, kinds or initials."""
    capital = any(word[0].isupper() for word in text.split())
    found = []
    for part in text.split():
        if capital and part[0].isalpha() and part == part.casefold() and _cased(part):
            continue  # "from next door"
        words = [key(word) for word in WORD.findall(part)]
        words = [w for w in words if w not in TITLES | PARTICLES | KINDS and not w.isdigit()]
        if any(len(word) > 1 or not _cased(word) for word in words):
            found.append(words)
    return found


def _cased(word: str) -> bool:
    """Whether its script has small and capital letters."""
    return word.upper() != word or word.lower() != word


__all__ = ["CAMEL", "INSIDE", "SHORTEST", "TITLES", "WORD", "Name", "key", "name", "plainer"]
