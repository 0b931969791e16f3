"""Which logger a file belongs to, and what joins the two: nothing else does. Always said.

An identity inside it (a serial, a label); an overlap in time with equal readings; or a name that holds besides the
logger's own only dates, numbers and counters, in a folder where files of its lay, and a record that can follow on. A
folder's name joins nothing by itself; a name of dates alone may be any logger's.
What might be a logger's otherwise waits with one question, and so does what reads as one logger under the name of
another that a person registered. Two names that share no such part are two loggers.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import chain, count
from pathlib import PurePosixPath

from sqlalchemy import Connection, func, select

from envwatch.archive.intake.fit import Fit
from envwatch.archive.store.records import PUT_IN, require_id
from envwatch.archive.store.tables import FILES, HANGINGS, LEARNED, LOGGERS
from envwatch.core.errors import Question
from envwatch.core.text import WORD, fold

SERIAL = re.compile(r"\d{3}")  # a number of that many digits is no counter
WHOSE = "whose"  # kind of what was learnt: that a person said whose a file is, and whose it is not
NEW = "new"  # `logger="new"`: whatever it looks like, it is another logger
MONTH_WORDS = (
    "january february march april may june july august september october november december jan feb mar apr jun jul aug "
    "sep sept oct nov dec januar februar märz mai juni juli oktober dezember mär okt dez janvier février mars avril "
    "juin juillet août septembre octobre novembre décembre gennaio febbraio marzo aprile maggio giugno luglio agosto "
    "settembre ottobre dicembre enero febrero abril mayo junio julio septiembre octubre noviembre diciembre januari "
    "februari maart mei augustus"
)
MONTHS = set(MONTH_WORDS.split())
DATE_WORDS = "bis to until til till from von vom ab au du al dal a del kw week woche semaine settimana"
BESIDE_DATES = set(DATE_WORDS.split())
DATE = re.compile(
    r"(?<!\d)((?:19|20)\d\d[-_. ]?[01]\d[-_. ]?[0-3]\d|[0-3]?\d[-_.][01]?\d[-_.](?:20)?\d\d"
    r"|(?:19|20)\d\d[-_. ]?(?:kw|w)\d\d?|(?:19|20)\d\d[-_.][01]\d)(?!\d)"
    r"([-_ t]+[0-2]\d[-_.:h]?[0-5]\d([-_.:m]?[0-5]\d)?s?z?(?!\d))?"
)
COUNTER = re.compile(
    r"\(\d+\)|(?<![a-z0-9])(?:(?:19|20)\d\d|copy|kopie|copie|copia|(?:part|teil|download)[-_. ]*\d+)(?![a-z0-9])"
)


def name_key(name: str) -> str:
    """A file's name without its ending, dates and copy numbers: the same for each download of one logger.

    >>> name_key("Store north_2026-03-02 0915 (2).csv"), name_key("20260302.csv"), name_key("SN 4711 März 2026.txt")
    ('store north', '', 'sn 4711')
    """
    stem = PurePosixPath(name).stem.casefold()
    stem = COUNTER.sub(" ", DATE.sub(" ", stem))
    return " ".join(word for word in WORD.findall(stem) if word not in MONTHS)


def slug(text: str) -> str:
    """An id from a label or a file's name."""
    return "-".join(WORD.findall(text.casefold()))[:60] or "logger"


Words = tuple[str, ...]
PIECE = re.compile(r"[^\W\d_]+|\d+")


def words_of(text: str) -> Words:
    """The words and numbers of a name, apart from each other.

    >>> words_of("TH-20417"), words_of("sensor2")
    (('th', '20417'), ('sensor', '2'))
    """
    return tuple(PIECE.findall(text.casefold()))


def path_key(name: str) -> str:
    """A file's name and folders without dates and copy numbers.

    >>> path_key("2026-03/Cellar 2/klima_2026-03-02.csv"), path_key("klima.csv")
    ('cellar 2/klima', 'klima')
    """
    folders = (name_key(f"{part}.x") for part in PurePosixPath(name).parent.parts)
    return "/".join((*filter(None, folders), name_key(name)))


def _runs(words: Words) -> Iterator[tuple[Words, Words]]:
    """Each run of words in a name, the whole first, and what is left of the name without it."""
    for length in range(len(words), 0, -1):
        for at in range(len(words) - length + 1):
            yield words[at : at + length], words[:at] + words[at + length :]


def _only_counts(rest: Words) -> bool:
    return all(word.isdigit() or word in BESIDE_DATES for word in rest)


def _shapes(words: Words) -> tuple[Words, Words]:
    """A name without its numbers, and with all of them alike."""
    return tuple(word for word in words if not word.isdigit()), tuple("#" if word.isdigit() else word for word in words)


def _counts_on(words: Words, known: set[Words]) -> bool:
    """Whether a name is as others but for numbers that differ among them already: one that never did says which."""
    return len(known) > 1 and all(
        word in each or len(each) > 1 for word, each in zip(words, map(set, zip(*known, strict=True)), strict=True)
    )


@dataclass(frozen=True)
class LoggerMatch:
    """A file's logger, whether it is new, and how it was told; empty where nothing was assumed."""

    logger: str
    is_new: bool = False
    note: str = ""
    one_with: tuple[str, ...] = ()  # loggers that files had made, and that are this one by its readings
    by_name: bool = False  # nothing inside the file, nor an equal reading, speaks for it


@dataclass(frozen=True)
class Candidates:
    """Loggers that a name may mean: those by whose own name least of it is left; these first, with all others."""

    best: list[str]
    all: list[str]


@dataclass
class LoggerMatcher:
    """What is known of loggers' names and labels. It learns as files are taken in."""

    ids: dict[str, str] = field(default_factory=dict)  # id -> name
    founded: set[str] = field(default_factory=set)  # loggers that a file made: nobody gave them their name
    words: dict[Words, set[str]] = field(default_factory=lambda: defaultdict(set))  # names and labels -> loggers
    stated: dict[Words, set[str]] = field(default_factory=lambda: defaultdict(set))  # those that a person registered
    serials: dict[Words, set[str]] = field(default_factory=lambda: defaultdict(set))  # of these, with a number in them
    labels: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # folded label in files -> loggers
    inside: dict[Words, set[str]] = field(default_factory=lambda: defaultdict(set))  # part of a file's name -> loggers
    letters: dict[Words, set[str]] = field(default_factory=lambda: defaultdict(set))  # without numbers -> loggers
    counters: dict[Words, dict[str, set[Words]]] = field(default_factory=lambda: defaultdict(dict))  # numbers left out
    folders: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # logger -> folders of its files
    paths: dict[str, dict[str, int]] = field(default_factory=lambda: defaultdict(dict))  # name and folder -> loggers
    fed: set[str] = field(default_factory=set)  # loggers with files
    firm: set[str] = field(default_factory=set)  # loggers of which more is known than files: a label, where they hang
    hung: set[str] = field(default_factory=set)  # loggers that hang somewhere
    told: set[str] = field(default_factory=set)  # loggers of a file of which a person said whose it is
    apart: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # loggers that a person said are two
    never: set[str] = field(default_factory=set)  # loggers that a file looked at is known not to be of

    @property
    def loose(self) -> set[str]:
        """Loggers that are nothing but the name of a file."""
        return self.founded - self.firm

    @property
    def unasked(self) -> set[str]:
        """Loggers that a file founded, and of which nobody has said anything yet."""
        return self.founded - self.hung - self.told

    @classmethod
    def of(cls, connection: Connection, logger: str = "", files: Collection[int] = ()) -> LoggerMatcher:
        """As the register has it; as if files of a logger were not in it, nor the logger, were it theirs alone."""
        whose = cls()
        columns = LOGGERS.c.id, LOGGERS.c.name, LOGGERS.c.labels, LOGGERS.c.made_by_batch
        others = select(FILES.c.id).where(FILES.c.logger == logger, FILES.c.id.not_in(files))
        gone = bool(files) and connection.execute(others).first() is None
        for row in connection.execute(select(*columns).order_by(PUT_IN)):
            if gone and row.id == logger and row.made_by_batch is not None:
                continue
            whose.know(row.id, row.name, row.labels.split(";"), row.made_by_batch is not None)
        whose.hung |= {*connection.execute(select(HANGINGS.c.logger)).scalars()}
        whose.firm |= whose.hung
        names = FILES.c.name_key, FILES.c.logger, FILES.c.label
        query = select(*names, func.count()).where(FILES.c.id.not_in(files)).group_by(*names)
        for key, id, label, number in connection.execute(query):
            whose.learn(id, label, key, number)
        said = select(LEARNED.c.logger, LEARNED.c.value).where(LEARNED.c.kind == WHOSE)
        for id, others in connection.execute(said):
            whose.told.add(id)
            for other in filter(None, others.split(";")):
                whose.apart[id].add(other)
                whose.apart[other].add(id)
        whose.never = whose.apart.get(logger, set())
        return whose

    def know(self, id: str, name: str, labels: Iterable[str] = (), founded: bool = False) -> None:
        """A logger and the names it goes by."""
        self.ids[id] = name
        if founded:
            self.founded.add(id)
        of_files = [words for label in labels if (words := words_of(label))]
        called = [words_of(id), words_of(name)]
        for words in filter(None, (*called, *of_files)):
            self.words[words].add(id)
            if not founded or words in of_files:
                self.stated[words].add(id)
                if SERIAL.search(" ".join(words)) or (words in of_files and any(map(str.isdigit, words))):
                    self.serials[words].add(id)

    def learn(self, id: str, label: str | None, key: str, files: int = 1) -> None:
        """That files of a name, as `path_key` gives it, are a logger's."""
        self.fed.add(id)
        if label:
            self.firm.add(id)
            self.labels[fold(label)].add(id)
        folder, _, stem = key.rpartition("/")
        words = words_of(stem)
        for run, _ in _runs(words):
            self.inside[run].add(id)
        letters, pattern = _shapes(words)
        self.letters[letters].add(id)
        if label:
            return
        self.folders[id].add(folder)
        self.paths[key][id] = self.paths[key].get(id, 0) + files
        self.counters[pattern].setdefault(id, set()).add(words)
        if words:
            self.words[words].add(id)

    def candidates(self, name: str) -> Candidates:
        """Which loggers a file's name may mean."""
        folder, _, stem = path_key(name).rpartition("/")
        words = words_of(stem)
        letters, pattern = _shapes(words)
        found: list[tuple[str, int | None]] = []  # by a logger's own name, with so many words left; None: by a part
        for run, rest in _runs(words):
            counts = _only_counts(rest)
            if counts or not _only_counts(run) or SERIAL.search(" ".join(run)):
                found += [(id, len(rest) if counts and self._at(id, run, folder) else None)
                          for id in self.words.get(run, ())]  # fmt: skip
        for id in self.inside.get(words, ()):
            known = {one for of in self.counters.values() for one in of.get(id, ())}
            rests = [rest for one in known for run, rest in _runs(one) if run == words]
            named = id in self.founded and any(map(_only_counts, rests)) and not _only_counts(words)
            found.append((id, 1 if named and self._at(id, words, folder) else None))
        for id, known in self.counters.get(pattern, {}).items():
            found.append((id, 1 if _counts_on(words, known) and self._at(id, (), folder) else None))
        for id, files in self.paths.get(path_key(name), {}).items():
            # a name of dates alone is one once it was answered
            found.append((id, 0 if words or id not in self.founded or files > 1 else None))
        near = [self.inside.get(letters, ()), *(self.letters.get(run, ()) for run, _ in _runs(letters)),
                *(self.stated.get(run, ()) for run, _ in _runs(words_of(folder)))]  # fmt: skip
        near += [] if words else [self.fed, self.ids.keys() - self.founded]  # dates alone may be any logger's
        found += [(id, None) for some in near for id in some]
        found = [(id, left) for id, left in found if id not in self.never] if self.never else found
        least = min((left for _, left in found if left is not None), default=0)
        best = sorted({id for id, left in found if left == least})
        return Candidates(best, [*best, *sorted({id for id, _ in found} - {*best})])

    def _at(self, id: str, run: Words, folder: str) -> bool:
        """Whether its files lay there: another folder may hold one of its name. What was registered is in any."""
        known = self.folders.get(id, set())
        return id in self.stated.get(run, ()) or not known or folder in known

    def owner(self, given: str | None, label: str | None, name: str, fit: Callable[[str], Fit],
              equal: Callable[[Collection[str]], dict[str, Fit]]) -> LoggerMatch:  # fmt: skip
        """Whose file it is.

        Parameters
        ----------
        fit : its readings beside those of a logger. equal : loggers, but for those given, that read the same, or do so
        but for corrections, with their fit.

        Raises
        ------
        NotThere : `given` is no logger. Question : only a person can say.
        """
        if given == NEW:
            return self._new(label, name, "")
        if given is not None:
            return LoggerMatch(self.named(given))
        if label:
            return self._labelled(label, name, fit)
        return self._unlabelled(name, fit, equal)

    def named(self, given: str) -> str:
        """The id of a logger given by id, name or label."""
        found = (
            {given} if given in self.ids else self.stated.get(words_of(given)) or self.words.get(words_of(given), set())
        )
        return next(iter(found)) if len(found) == 1 else require_id("logger", given, self.ids)

    def _labelled(self, label: str, name: str, fit: Callable[[str], Fit]) -> LoggerMatch:
        words = words_of(label)
        known = self.labels.get(fold(label), set()) - self.never or self.stated.get(words) or self._serial(words)
        if len(known) > 1:
            why = f"inside it says {label!r}, as files of several loggers do: which wrote it?"
            raise Question(why, "logger", (*sorted(known), NEW))
        if known:
            (logger,) = known
            if logger in self.fed and (one := fit(logger)).contradicts:
                as_known = f"inside it says {label!r}, as files of {self.called(logger)} do, but {one.words}"
                raise self._question(as_known, [logger])
            return LoggerMatch(logger)
        found = self.candidates(name)
        labelled = set().union(*self.labels.values()) if self.labels else set()
        unlabelled = [id for id in found.best if id not in labelled]
        if len(unlabelled) == 1 and (unlabelled[0] not in self.fed or fit(unlabelled[0]).equal):
            taken = f"taken as logger {unlabelled[0]} by its name; inside it says {label!r}, which is remembered."
            return LoggerMatch(unlabelled[0], note=f"{taken} If that is wrong: ⟦logger⟧")
        part = set().union(*(self.stated.get(run, set()) for run, _ in _runs(words)))
        asked = [id for id in dict.fromkeys((*unlabelled, *sorted(part - labelled))) if not fit(id).contradicts]
        if asked:
            raise self._question(f"inside it says {label!r}, which no file did before", asked)
        others = "".join(f"; logger {id}, which its name fits, has another label" for id in found.best[:1])
        return self._new(label, name, others)

    def _serial(self, words: Words) -> set[str]:
        """The loggers of the longest registered name with a number in it that stands in a label."""
        run = next((run for run, _ in _runs(words) if run in self.serials), None)
        return self.serials[run] if run else set()

    def serials_in(self, text: str) -> set[str]:
        """The loggers whose serial, registered or out of their files, stands in a text."""
        spaced = f" {' '.join(words_of(text))} "
        labels = ((words_of(label), ids) for label, ids in self.labels.items() if re.search(r"\d", label))
        found = (ids for run, ids in (*self.serials.items(), *labels) if f" {' '.join(run)} " in spaced)
        return set().union(*found)

    def stated_in(self, text: str) -> str | None:
        """The name of letters and numbers that one logger alone was registered under and that stands in a text."""
        spaced = f" {' '.join(words_of(text))} "
        runs = [run for run in self.stated if 0 < len(_shapes(run)[0]) < len(run) and f" {' '.join(run)} " in spaced]
        ids = set().union(*(self.stated[run] for run in runs))
        return " ".join(max(runs, key=len)) if len(ids) == 1 else None

    def _unlabelled(
        self, name: str, fit: Callable[[str], Fit], equal: Callable[[Collection[str]], dict[str, Fit]]
    ) -> LoggerMatch:
        found = self.candidates(name)
        fits = {id: fit(id) for id in found.all}
        over = fits | equal(found.all)
        if same := [id for id, one in over.items() if one.equal]:
            return self._equal(found, fits, same)
        words, other = words_of(name_key(name)), self.counters.get(_shapes(words_of(name_key(name)))[1], {})
        meant = [id for id, one in over.items() if one.corrected and (id in found.best or not found.best)]
        if like := [id for id in meant if words in other.get(id, {words})]:  # another number is another's name
            as_known = f"its readings are those of {self.called(like[0])}, {over[like[0]].corrected}, as if corrected"
            raise self._question(as_known, like)
        follows = [id for id in found.best if fits[id].follows and (id not in self.founded or not fits[id].far)]
        if len(follows) == 1 == sum(not fits[id].contradicts for id in found.best):
            (logger,) = follows
            note = f"taken as logger {logger} by its name; it does not say itself. If not: ⟦logger⟧"
            return LoggerMatch(logger, note=note, by_name=True)
        asked = [id for id in found.all if id in found.best or not fits[id].contradicts]
        if asked:
            raise self._question(self._why(name, found, asked, fits), asked)
        return self._new(None, name, "")

    def _equal(self, found: Candidates, fits: dict[str, Fit], same: list[str]) -> LoggerMatch:
        """The logger that reads the same; asked about where the name is that of another that a person registered."""
        firm = [id for id in same if id not in self.loose] or same[:1]
        meant = [id for id in found.best if id not in self.founded and fits[id].follows]
        if meant and not {*found.best} & {*same}:
            names = f"its name is that of logger {self.called(meant[0])}, its readings those of {self.called(firm[0])}"
            raise Question(f"{names}: which wrote it?", "logger", (*meant, *firm, NEW))
        if len(firm) > 1:
            raise Question("its readings are those of several loggers: which wrote it?", "logger", (*sorted(firm), NEW))
        (logger,) = firm
        others = tuple(id for id in same if id != logger)
        one = "".join(f" {id} is the same logger and goes into it." for id in others)
        note = f"taken as logger {logger}: both have the same readings.{one} If not: ⟦logger⟧"
        return LoggerMatch(logger, note=note, one_with=others)

    def require_same_name(self, owner: LoggerMatch, name: str) -> None:
        """Question : it waited, and what was answered of another file holds for its very name alone, in any order."""
        if not words_of(name_key(name)) or owner.logger not in self.paths.get(path_key(name), {}):
            if owner.is_new:
                raise Question("nothing tells whose it is: which logger wrote it?", "logger", (NEW,))
            raise self._question(f"its name is like that of logger {self.called(owner.logger)}", [owner.logger])

    def _why(self, name: str, found: Candidates, asked: list[str], fits: dict[str, Fit]) -> str:
        words = fits[asked[0]].words
        if len(asked) > 1:
            dates = "" if words_of(name_key(name)) else "is only dates and numbers and "
            return f"its name {dates}may be that of several loggers"
        if asked[0] in found.best:
            return f"its name is that of logger {self.called(asked[0])}" + (f", but {words}" if words else "")
        what = "its name is only dates and numbers" if not words_of(name_key(name)) else (
            f"its name is like that of logger {self.called(asked[0])}")  # fmt: skip
        return what + (f"; {words}" if words else "")

    def called(self, id: str) -> str:
        """A logger in words: its name, and its id where that is another."""
        name = self.ids.get(id, id)
        return name if fold(name) == fold(id) else f"{name} ({id})"

    def _question(self, why: str, asked: list[str]) -> Question:
        which = f"the record of {self.called(asked[0])}" if len(asked) == 1 else "one of theirs"
        return Question(f"{why}: is it {which}, or another logger's?", "logger", (*asked, NEW))

    def _new(self, label: str | None, name: str, why: str) -> LoggerMatch:
        wanted = slug(label or name_key(name))
        names = chain((wanted,), (f"{wanted}-{number}" for number in count(2)))
        id = next(name for name in names if name not in self.ids)
        note = f"a new logger, {id}, was made for it{why}. If it is another's: ⟦logger⟧"
        return LoggerMatch(id, True, note, by_name=not label)
