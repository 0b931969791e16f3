"""Owners' names and houses taken out of what leaves the studio: the one place where that is decided."""

from __future__ import annotations

import io
import re
import unicodedata
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cached_property
from itertools import count
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from envwatch.archive.register.spelling import CAMEL, INSIDE, SHORTEST, TITLES, WORD, Name, key, name, plainer
from envwatch.climate.exposure import POINTS
from envwatch.core.findings import Level
from envwatch.core.painting import AREAS, ROLES, CareStatus, Look
from envwatch.core.place import PLACE_KINDS, POSITIONS, PlaceKind

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder
    from envwatch.archive.store.records import Register
    from envwatch.core.fields import Field
    from envwatch.core.painting import Painting

LINK = re.compile(r"[\s._,\-\u2010\u2011&+/'’]{1,4}")  # what may stand between the words of one name
BROKEN = re.compile(
    r"[-\u2010\u2011\u00ad]\s+"
)  # a word that goes on in the next line, or went on there before it was set on one
PARTED = re.compile(rf"{WORD.pattern}{BROKEN.pattern}{WORD.pattern}")
ADDRESS = re.compile(r"[0-9a-f]{32,}")  # a SHA-256 is nobody's name
CLOSED = frozenset((
    *AREAS, *PLACE_KINDS, *POINTS, *POSITIONS, *ROLES, *(one.value for one in CareStatus), *(one.value for one in Look),
    *(one.word for one in Level),
))  # fmt: skip
WORDS = frozenset(
    {"family", "hazard", "mechanism", "point", "unit", "certainty", "zone"}
)  # fields of the program's words
ADDRESSES = WORDS | {"id", "place_id", "place", "logger", "channel", "neighbour"}  # by which readings are found
FILE_WORD = 4  # letters of a name that is looked for in a file's bytes
BYTES = ("utf-8", "cp1252", "utf-16-le", "utf-16-be")


@dataclass(frozen=True)
class _Word:
    start: int
    end: int
    text: str

    @property
    def key(self) -> str:
        return key(self.text)

    @property
    def capital(self) -> bool:
        return not self.text[0].islower()


@dataclass(frozen=True)
class _Phrase:
    keys: tuple[str, ...]
    text: str
    stand_in: str


class Names:
    """Who and which houses are not named, and taking them out of texts, ids, files and whole results.

    Parameters
    ----------
    owners : as the register has them, in its order; each goes by its number there.
    ids : of places, loggers, paintings and treatments.
    houses : owners' houses whose names go too: id -> name.
    besides : the one owner who may be named.
    studio : the studio's own name, which stays where it stands alone, though an owner may bear its town's.

    Attributes
    ----------
    hidden : texts of which something was taken out so far.
    """

    def __init__(
        self, owners: Iterable[str], ids: Iterable[str] = (), houses: Mapping[str, str] | None = None,
        besides: str = "", studio: str = "",
    ) -> None:  # fmt: skip
        self.numbers = {owner: n for n, owner in enumerate(dict.fromkeys(o for o in owners if o), 1)}
        self.besides, self.studio, self.hidden = besides, studio, 0
        self.owners = [name(owner) for owner in self.numbers]
        whole = [_Phrase(_keys(n.written), n.written, "") for n in self.owners if not n.strong and n.words]
        self.houses = {id: f"house-{n}" for n, id in enumerate(houses or {}, 1)}
        named = {text: stand_in for id, stand_in in self.houses.items() for text in (id, (houses or {})[id])}
        self._called: dict[str, list[_Phrase]] = {}
        for one in (*whole, *(_Phrase(_keys(text), text, to) for text, to in named.items() if _keys(text))):
            self._called.setdefault(one.keys[0], []).append(one)
        self._suspects: dict[str, tuple[Name, ...]] = {}
        self._beginnings: dict[str, bool] = {}
        self._by_word = _index((word, one) for one in self.owners for word in sorted(one.strong))
        self._by_given = _index((word, one) for one in self.owners for word in sorted(one.given))
        self.ids = self._stand_ins(ids)

    @classmethod
    def of(
        cls, register: Register, houses: bool = False, owner_of: Painting | None = None, studio: str = "",
        apart: bool = False,
    ) -> Names:  # fmt: skip
        """By the register; the owner of `owner_of`, unless apart, and the houses it stood in, may be named."""
        paintings, places = register.paintings, register.places
        treatments = (done.id for one in paintings.values() for done in one.treatments)
        own = {stay.place_id for stay in owner_of.stays} if owner_of else set()
        hidden = {
            id: one.name for id, one in places.items() if houses and one.kind == PlaceKind.HOUSE and id not in own
        }
        ids = (*places, *register.loggers, *paintings, *treatments)
        return cls((one.owner for one in paintings.values()), ids, hidden,
                   owner_of.owner if owner_of and not apart else "", studio)  # fmt: skip

    def _stand_ins(self, ids: Iterable[str]) -> dict[str, str]:
        """For each id that bears a name another one, no two the same."""
        found = dict(self.houses)
        for id in ids:
            if id not in found and (nameless := self._taken_out(id, "-")) is not None:
                tries = (nameless if n == 1 else f"{nameless}-{n}" for n in count(1))
                found[id] = next(one for one in tries if one not in found.values())
        return found

    # -------------------------------------------------------------------------------------------- what is asked of it

    def hide(self, text: str) -> str:
        """A text without names; one that bears none comes back as it is.

        >>> names = Names(["Frau Insa Quellmann", "A. Petersen"], ["petersen"], {"hof": "Hof Nord"})
        >>> names.hide("rang I. QUELLMANNS sister, then Petersen, A. at Hof Nord")
        'rang owner 1, withheld sister, then owner 2, withheld at house 1'
        >>> names.hide("store"), names.hide("petersen"), names.hidden
        ('store', 'owner-2-withheld', 2)
        """
        if text in CLOSED or text == self.studio or ADDRESS.fullmatch(text):
            return text
        nameless = self.ids.get(text) or self._taken_out(text, " ")
        self.hidden += nameless is not None
        return text if nameless is None else nameless

    def bears(self, text: str) -> bool:
        """Whether a text bears a name."""
        return text not in CLOSED and self._taken_out(text, " ") is not None

    def ident(self, id: str) -> str:
        """An id, or a file's name, without names."""
        return self.ids.get(id) or self._taken_out(id, "-") or id

    def borne_by(self, content: bytes) -> bool:
        """Whether the bytes of a file bear a name, in any usual encoding; of a workbook, in any of its parts."""
        return any(self.bears(text) for part in _unpacked(content) for text in self._doubtful(part))

    def _doubtful(self, part: bytes) -> Iterator[str]:
        encodings = BYTES if b"\0" in part[:4096] else BYTES[:2]
        for text in (part[odd:].decode(encoding, "ignore") for encoding in encodings for odd in (0, 1)):
            text = unicodedata.normalize("NFC", plainer(text))
            words = {word for word in WORD.findall(text) if len(word) >= FILE_WORD}
            words |= {BROKEN.sub("", parted) for parted in PARTED.findall(text)}
            if any(self._owners_of(word) or key(word) in self._called for word in words):
                yield text

    def within(self, value: Any, but: frozenset[str] = WORDS) -> Any:
        """A result with every text in it without names: dataclasses, mappings, lists and tuples; all else as it is.

        The field `owner` gives its number; the fields in `but` stay, and with `ADDRESSES` the keys of mappings too.
        """
        if type(value) is str:
            return self.hide(value)
        if isinstance(value, PurePath):
            return type(value)(self.hide(str(value)))
        if is_dataclass(value) and not isinstance(value, type):
            had = {f.name: getattr(value, f.name) for f in fields(value) if f.init}
            changed = {k: new for k, item in had.items() if (new := self._field(k, item, but)) is not item}
            return replace(value, **changed) if changed else value
        if isinstance(value, Mapping):
            return {k if but is ADDRESSES else self.within(k): self._field(k, v, but) for k, v in value.items()}
        if isinstance(value, list | tuple | set | frozenset):
            return self._several(value, but)
        return value

    def _several(self, value: Any, but: frozenset[str]) -> Any:
        items = [self.within(item, but) for item in value]
        if all(a is b for a, b in zip(items, value, strict=True)):
            return value
        return type(value)(*items) if hasattr(value, "_fields") else type(value)(items)

    def _field(self, name: Any, value: Any, but: frozenset[str] = WORDS) -> Any:
        if name == "owner" and isinstance(value, str):
            return self.owner(value)
        return value if name in but and type(value) is str else self.within(value, but)

    def row(self, columns: Iterable[Field], row: Mapping[str, Any]) -> dict[str, Any]:
        """A row of the register without names: ids as ids, text as text; what can hold no name, as it is."""
        return {
            f.name: self._field(f.name, self.ident(row[f.name]) if f.is_id else row[f.name])
            for f in columns if not f.nameless
        }  # fmt: skip

    def owner(self, owner: str) -> str:
        """The number that stands for an owner; the one who may be named as written."""
        number = self.numbers.get(owner)
        return owner if owner == self.besides or number is None else f"owner {number}, withheld"

    # ----------------------------------------------------------------------------------------------- how it is done

    @cached_property
    def _long(self) -> re.Pattern[str] | None:
        """Names that are looked for inside longer words."""
        long = sorted((w for w in self._by_word if len(w) >= INSIDE or not w.isascii()), key=len, reverse=True)
        return re.compile("|".join(map(re.escape, long))) if long else None

    def _owners_of(self, word: str) -> tuple[Name, ...]:
        """Owners whom a word gives away."""
        if word not in self._suspects:
            pieces = CAMEL.split(word) if CAMEL.search(word) else []
            self._suspects[word] = tuple(dict.fromkeys(o for part in (word, *pieces) for o in self._bearing(part)))
        return self._suspects[word]

    def _bearing(self, word: str) -> list[Name]:
        folded = key(word)
        for form in (folded, folded.removesuffix("s")):
            if form in self._by_word and (len(form) > SHORTEST or word[0].isupper()):
                return self._by_word[form]
        inside = self._long.search(folded) if self._long else None
        return self._by_word[inside[0]] if inside else []

    def _begins(self, word: str) -> bool:
        """Whether a name may begin with a word: hardly any does, and most texts are of such words alone."""
        if word not in self._beginnings:
            folded = key(word)
            known = {folded, folded.removesuffix("s")} & self._called.keys() or folded in self._by_given
            self._beginnings[word] = bool(known or self._owners_of(word))
        return self._beginnings[word]

    def _taken_out(self, text: str, blank: str) -> str | None:
        """The text without names; None where it bears none. `blank`: between the words of a stand-in."""
        if (plain := plainer(text)) != text and (found := self._taken_out(plain, blank)) is not None:
            return found
        written = unicodedata.normalize("NFC", text)
        if not any(map(self._begins, WORD.findall(written))) and not BROKEN.search(written):
            return None
        words = [_Word(m.start(), m.end(), m[0]) for m in WORD.finditer(written)]
        parts, done, i = [], 0, 0
        while i < len(words):
            found = self._at(written, words, i, blank)
            if found is None or found[0] < done:
                i += 1
                continue
            start, end, stand_in = found
            parts += [written[done:start], stand_in]
            done = end
            i = next((n for n in range(i, len(words)) if words[n].start >= end), len(words))
        return "".join([*parts, written[done:]]) if parts else None

    def _at(self, text: str, words: list[_Word], i: int, blank: str) -> tuple[int, int, str] | None:
        """(start, end, stand-in) of a name of which this word is the first that gives it away."""
        called = [*self._called.get(words[i].key, ()), *self._called.get(words[i].key.removesuffix("s"), ())]
        return (
            self._phrased(text, words, i, (one for one in called if len(one.keys) > 1), blank)
            or self._given_away(
                text, words, i, blank
            )  # "Petersen's barn" goes before Petersen, Petersen before "Petersen"
            or self._phrased(text, words, i, (one for one in called if len(one.keys) == 1), blank)
        )

    def _given_away(self, text: str, words: list[_Word], i: int, blank: str) -> tuple[int, int, str] | None:
        suspects, last = self._suspected(text, words, i)
        if not suspects:
            return None
        best = max((self._reach(text, words, i, last, one) for one in suspects), key=lambda reach: reach[2])
        return None if best[3].written == self.besides else (best[0], best[1], self._stand_in(best[3], blank))

    def _phrased(
        self, text: str, words: list[_Word], i: int, called: Iterable[_Phrase], blank: str
    ) -> tuple[int, int, str] | None:
        for one in called:
            if one.text != self.besides and (end := _phrase(text, words, i, one)) is not None:
                house = one.stand_in.replace("-", blank)
                return words[i].start, end, house or self._stand_in(name(one.text), blank)
        return None

    def _stand_in(self, owner: Name, blank: str) -> str:
        number = self.numbers[owner.written]
        return f"owner {number}, withheld" if blank == " " else f"owner-{number}-withheld"

    def _suspected(self, text: str, words: list[_Word], i: int) -> tuple[tuple[Name, ...], int]:
        """Owners given away by this word, alone, with its rest in the next line, or beside a title or an initial."""
        here, after = words[i], words[i + 1] if i + 1 < len(words) else None
        if found := self._owners_of(here.text):
            return found, i
        if after and BROKEN.fullmatch(text[here.end : after.start]) and (
            found := self._owners_of(here.text + after.text)
        ):  # fmt: skip
            return found, i + 1
        titled = i > 0 and words[i - 1].key in TITLES and _linked(text, words[i - 1], here)
        shortened = after and len(after.text) == 1 and after.capital and _linked(text, here, after)
        for one in self._by_given.get(here.key, ()) if here.capital else ():
            if titled or (shortened and after and after.key in {word[0] for word in one.strong}):
                return (one,), i + 1 if shortened and after else i
        return (), i

    def _reach(
        self, text: str, words: list[_Word], i: int, last: int, owner: Name
    ) -> tuple[int, int, tuple[int, bool], Name]:
        """How far an owner's name reaches to both sides of a word, and how well it fits."""
        first, fit = i, 0
        while first > 0 and _linked(text, words[first - 1], words[first]):
            before = words[first - 1]
            own = before.key in owner.words or (
                len(before.text) == 1 and before.capital and before.key in owner.initials
            )
            if not own and before.key not in TITLES:
                break
            first, fit = first - 1, fit + own
        while last + 1 < len(words) and _linked(text, words[last], words[last + 1]):
            after = words[last + 1]
            initial = len(after.text) == 1 and after.key in owner.initials and text[after.end : after.end + 1] == "."
            if not (after.key.removesuffix("s") in owner.words or after.key in owner.words or initial):
                break
            last, fit = last + 1, fit + 1
        end = words[last].end
        end += len(words[last].text) == 1 and text[end : end + 1] == "."
        return words[first].start, end, (fit, owner.written == self.besides), owner


def _index(pairs: Iterable[tuple[str, Name]]) -> dict[str, list[Name]]:
    found: dict[str, list[Name]] = {}
    for word, one in pairs:
        found.setdefault(word, []).append(one)
    return found


def _keys(text: str) -> tuple[str, ...]:
    return tuple(key(word) for word in WORD.findall(unicodedata.normalize("NFC", text)))


def _linked(text: str, one: _Word, other: _Word) -> bool:
    """Whether two words may be of one name."""
    return bool(LINK.fullmatch(text[one.end : other.start]))


def _phrase(text: str, words: list[_Word], i: int, wanted: _Phrase) -> int | None:
    """Where a whole name ends that begins at this word; a single word is looked for with its own first letter."""
    there = words[i : i + len(wanted.keys)]
    if len(there) < len(wanted.keys) or any(w.key not in (k, f"{k}s") for w, k in zip(there, wanted.keys, strict=True)):
        return None
    if len(there) == 1 and there[0].text[0] != wanted.text.strip()[0]:
        return None
    linked = all(_linked(text, a, b) for a, b in zip(there, there[1:], strict=False))
    return there[-1].end if linked else None


def _unpacked(content: bytes) -> Iterator[bytes]:
    """The parts of a file that is packed, or the file."""
    if not zipfile.is_zipfile(io.BytesIO(content)):
        yield content
        return
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        for part in packed.infolist():
            yield part.filename.encode("utf-8")
            yield from _unpacked(packed.read(part))


__all__ = ["ADDRESSES", "Names"]


def names_of(
    studio: StudioFolder, houses: bool = False, owner_of: Painting | None = None, apart: bool = False
) -> Names:
    """Who is not named in what leaves a studio. See `Studio.names`."""
    return Names.of(studio.register(), houses, owner_of, studio.name, apart)
