"""The studio that the pages show: opened once, read by one request at a time, reviews kept while nothing changes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pandas as pd
from flask import current_app

from dashboards.jobs import Job, JobQueue, Report, Work
from envwatch.archive import Studio
from envwatch.archive.store.cache import LruCache
from envwatch.archive.store.schema import REGISTER
from envwatch.cases import review
from envwatch.cases.review import Review
from envwatch.cases.review.span import period_of
from envwatch.core.errors import StudioError

KEPT_REVIEWS = 12
KEPT_FILES, MOST_SHELF = 8, 40 * 2**20  # dropped files, and their bytes together


def clock() -> pd.Timestamp:
    """The clock, UTC."""
    return pd.Timestamp.now(tz="UTC").floor("s")


class PagesStudio(Studio):
    """A studio that keeps less in memory: the pages stay open for weeks, beside other work on the same computer."""

    most_read, most_worked_out = 2_500_000, 100_000
    memory = LruCache(1_200_000)  # readings, some 60 bytes each


class StudioSession:
    """A studio folder behind the pages. `now` is the clock, handed in so that a test can set it."""

    def __init__(self, folder: Path | str, now: Callable[[], pd.Timestamp] = clock) -> None:
        self.folder, self.now = Path(folder), now
        self._identity = identity(self.folder)
        self._studio = PagesStudio.open(folder)
        self._lock = threading.RLock()
        self._reviews: dict[tuple, Review] = {}
        self.bench = JobQueue()
        self.shelf: dict[str, tuple[str, bytes]] = {}  # files dropped beside a question: name and bytes by token

    def keep_on_shelf(self, token: str, name: str, content: bytes) -> None:
        """Hold a dropped file until the pages are stopped; only the last few, and not too many bytes of them."""
        held = [*((t, one) for t, one in self.shelf.items() if t != token), (token, (name, content))][-KEPT_FILES:]
        while len(held) > 1 and sum(len(one[1]) for _, one in held) > MOST_SHELF:
            held.pop(0)
        self.shelf = dict(held)

    def reckon(self, page: str, asked: Mapping[str, str], prepare: Callable[[Studio], Work]) -> Job:
        """The long work that an address of a page asks for, begun or found; done anew in another hour or version.

        `prepare` refuses what cannot be used as it is, and gives the work, which has a studio of its own: readers
        need not wait for it.
        """
        with self.reading() as studio:
            key = (page, studio.state().version, self.now().floor("h"), tuple(sorted(asked.items())))
            work = prepare(studio)

        def alone(report: Report) -> Any:
            with self.writing() as own:
                return work(own, report)

        return self.bench.job(key, alone)

    @contextmanager
    def reading(self) -> Iterator[Studio]:
        """The studio, for one request at a time: what it has worked out is shared by all.

        Raises
        ------
        StudioError : another folder stands in its place.
        """
        with self._lock:
            self._must_be_the_same()
            yield self._studio

    @contextmanager
    def writing(self) -> Iterator[Studio]:
        """A studio of its own for who writes, so that readers need not wait for it. StudioError: as `reading`."""
        with PagesStudio.open(self.folder) as studio:
            self._must_be_the_same(studio.name)
            yield studio
            self._must_be_the_same()

    def _must_be_the_same(self, name: str = "") -> None:
        if identity(self.folder) == self._identity and name in ("", self._studio.name):
            return
        there = "another folder stands in its place" if self.folder.is_dir() else "it is not there any more"
        raise StudioError(f"{there} since the pages were started; nothing is shown of it and nothing written. Stop the "
                          "pages and start them again", place=str(self.folder))  # fmt: skip

    def review(self, week: str | None = None) -> Review:
        """The review of a week, by default the last full one; made again when the folder or the hour changed."""
        now = self.now()
        with self._lock:
            asked, span = period_of(self._studio, now, week)
            made = self._reviews.get(self._key(span.label, now))
            if made is None:
                made = review.make(self._studio, now, asked)
                self._reviews = dict(list(self._reviews.items())[-KEPT_REVIEWS:])
                self._reviews[self._key(span.label, now)] = made  # after making: findings may have got their numbers
            return made

    def _key(self, label: str, now: pd.Timestamp) -> tuple:
        return label, self._studio.state().version, now.floor("h")

    def close(self) -> None:
        """Let go of the register, once nobody reads it any more."""
        with self._lock:
            self._studio.close()


def identity(folder: Path) -> tuple:
    """What tells a studio folder from another that was put in its place: how the disk numbers it and its register."""
    found = []
    for path in (folder, folder / REGISTER):
        try:
            at = path.stat()
            found.append((at.st_dev, at.st_ino))
        except OSError:
            found.append(None)
    return tuple(found)


def house() -> StudioSession:
    """The house of the app that answers this request."""
    return current_app.config["HOUSE"]
