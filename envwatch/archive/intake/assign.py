"""Which logger a file belongs to: by what it says of itself, else by its name, else a new one. Always said.

Two loggers are never joined silently: a label that a file gives inside belongs to one logger, and a file with
another label goes elsewhere even if its name fits.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from itertools import chain, count
from pathlib import Path

from sqlalchemy import Connection, func, select

from envwatch.archive.store.records import the
from envwatch.archive.store.sql import PUT_IN
from envwatch.archive.store.tables import FILES, LEARNED, LOGGERS
from envwatch.core.errors import Question
from envwatch.core.text import WORD, fold

NEW = "new"  # `logger="new"`: whatever it looks like, it is another logger
MONTH_WORDS = (
    "january february march april may june july august september october november december jan feb mar apr jun jul aug "
    "sep sept oct nov dec januar februar märz mai juni juli oktober dezember mär okt dez"
)
MONTHS = set(MONTH_WORDS.split())
DATE = re.compile(
    r"(?<!\d)((?:19|20)\d\d[-_. ]?[01]\d[-_. ]?[0-3]\d|[0-3]?\d[-_.][01]?\d[-_.](?:20)?\d\d"
    r"|(?:19|20)\d\d[-_. ]?(?:kw|w)\d\d?|(?:19|20)\d\d[-_.][01]\d)(?!\d)"
    r"([-_ t]+[0-2]\d[-_.:h]?[0-5]\d([-_.:m]?[0-5]\d)?s?z?(?!\d))?"
)
COUNTER = re.compile(
    r"\(\d+\)|(?<![a-z0-9])(?:(?:19|20)\d\d|copy|kopie|copie|copia|(?:part|teil|download)[-_. ]*\d+)(?![a-z0-9])"
)
DAY = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_. ]?([01]\d)[-_. ]?([0-3]\d)(?!\d)")


def name_key(name: str) -> str:
    """A file's name without its ending, dates and copy numbers: the same for each download of one logger.

    >>> name_key("Store north_2026-03-02 0915 (2).csv"), name_key("20260302.csv"), name_key("SN 4711 März 2026.txt")
    ('store north', '', 'sn 4711')
    """
    stem = Path(name).stem.casefold()
    stem = COUNTER.sub(" ", DATE.sub(" ", stem))
    return " ".join(word for word in WORD.findall(stem) if word not in MONTHS)


def fetched_on(name: str) -> str:
    """The last day written in a file's name as year, month, day; empty where there is none.

    >>> fetched_on("store_2026-03-02_to_20260309.csv"), fetched_on("store.csv")
    ('2026-03-09', '')
    """
    days = []
    for match in DAY.finditer(name):
        try:
            days.append(date(*(int(part) for part in match.groups())).isoformat())
        except ValueError:
            continue
    return max(days, default="")


def slug(text: str) -> str:
    """An id from a label or a file's name."""
    return "-".join(WORD.findall(text.casefold()))[:60] or "logger"


@dataclass(frozen=True)
class Owner:
    """A file's logger, whether it is new, and how it was told; empty where nothing was assumed."""

    logger: str
    is_new: bool = False
    note: str = ""
    by_name_only: bool = False


@dataclass
class Whose:
    """What is known of loggers' names and labels. It learns as files are taken in."""

    words: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # folded name or label -> loggers
    labels: dict[str, str] = field(default_factory=dict)  # folded label seen inside files -> logger
    keys: dict[str, set[str]] = field(default_factory=lambda: defaultdict(set))  # name key without label -> loggers
    hints: dict[str, str] = field(default_factory=dict)  # name key -> logger of the last such file, label or not
    ids: dict[str, str] = field(default_factory=dict)  # id -> name

    @classmethod
    def of(cls, connection: Connection) -> Whose:
        """As the register has it."""
        whose = cls()
        for row in connection.execute(select(LOGGERS.c.id, LOGGERS.c.name, LOGGERS.c.labels).order_by(PUT_IN)):
            whose.know(row.id, row.name, row.labels.split(";"))
        for logger, label in connection.execute(
            select(LEARNED.c.logger, LEARNED.c.value).where(LEARNED.c.kind == "label").order_by(LEARNED.c.id)
        ):
            whose.labels[fold(label)] = logger
        names = FILES.c.name_key, FILES.c.logger, FILES.c.label
        for key, logger, label in connection.execute(select(*names).group_by(*names).order_by(func.max(FILES.c.id))):
            whose.hints[key] = logger
            if not label:
                whose.keys[key].add(logger)
        return whose

    def know(self, id: str, name: str, labels: Iterable[str] = ()) -> None:
        """A logger and the names it goes by."""
        self.ids[id] = name
        for word in (id, name, *labels):
            if fold(word):
                self.words[fold(word)].add(id)

    def learn(self, id: str, label: str | None, name: str) -> None:
        """That a file belongs to a logger."""
        if label:
            self.labels.setdefault(fold(label), id)
        else:
            self.keys[name_key(name)].add(id)
        self.hints[name_key(name)] = id

    def by_name(self, name: str) -> str | None:
        """The logger whose label, id or name a text holds as whole words; the longest counts.

        Raises
        ------
        Question : several loggers fit equally well.
        """
        spaced = f" {fold(name)} "
        fits = [word for word in self.words if f" {word} " in spaced]
        longest = max(map(len, fits), default=0)
        found = sorted(set().union(*(self.words[word] for word in fits if len(word) == longest)) if fits else ())
        if len(found) > 1:
            raise Question(f"the name fits {len(found)} loggers: which wrote it?", "logger", tuple(found))
        return found[0] if found else None

    def guess(self, name: str) -> str | None:
        """The logger a name points to before the file is read, to be confirmed by reading it; None: it does not."""
        try:
            return self.by_name(name) or self.hints.get(name_key(name))
        except Question:
            return None

    def owner(self, given: str | None, label: str | None, name: str) -> Owner:
        """Whose file it is.

        Raises
        ------
        NotThere : `given` is no logger. Question : the name fits several.
        """
        if given == NEW:
            return self._new(label, name, "")
        if given is not None:
            return Owner(self.named(given))
        if label:
            return self._labelled(label, name)
        return self._unlabelled(name)

    def named(self, given: str) -> str:
        """The id of a logger given by id, name or label."""
        found = self.words.get(fold(given), set()) if given not in self.ids else {given}
        return next(iter(found)) if len(found) == 1 else the("logger", given, self.ids)

    def _labelled(self, label: str, name: str) -> Owner:
        key = fold(label)
        if key in self.labels:
            return Owner(self.labels[key])
        within = self.by_name(label)  # "Logger 331887 - rack" for the registered 331887
        if within is not None:
            return Owner(within)
        found = self.by_name(name)
        if found is not None and found not in self.labels.values():
            return Owner(found, note=f"taken as logger {found} by its name; inside it says {label!r}, which is "
                                     f"remembered. If that is wrong: ⟦logger⟧")  # fmt: skip
        note = f"; logger {found}, which its name fits, has another label" if found is not None else ""
        return self._new(label, name, note)

    def _unlabelled(self, name: str) -> Owner:
        found = self.by_name(name)
        earlier = self.keys.get(name_key(name), set())
        if found is None and len(earlier) == 1:
            found = next(iter(earlier))
        if found is None and earlier:
            choices = tuple(sorted(earlier))
            raise Question("files of this name came from several loggers: which wrote it?", "logger", choices)
        if found is not None:
            note = f"taken as logger {found} by its name; it does not say itself. If not: ⟦logger⟧"
            return Owner(found, note=note, by_name_only=True)
        return self._new(None, name, "")

    def _new(self, label: str | None, name: str, why: str) -> Owner:
        wanted = slug(label or name_key(name))
        names = chain((wanted,), (f"{wanted}-{number}" for number in count(2)))
        id = next(name for name in names if name not in self.ids)
        return Owner(id, True, f"a new logger, {id}, was made for it{why}. If it is another's: ⟦logger⟧")
