"""Who writes in a studio folder, and what: one writer at a time, and each file named before it is there.

The lock is an exclusive SQLite transaction on a file of its own: SQLite knows the locks of each system, and
the system lets go of them when a program dies, so that a lock can never be left behind.

Whoever is killed leaves names behind, and a sweep takes away what they name and nothing else: a file that nobody named
here is somebody's own. Two journals: of whoever holds the folder's one writing place, and of what is written beside
that (sheets, exports, bundles, backups), which holds a shared lock for as long as it lives.
"""

from __future__ import annotations

import getpass
import json
import os
import platform
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from envwatch.archive.store import files
from envwatch.core.errors import StudioError

LOCK, OWNER = "writer.lock", "writer.json"
WRITING, BESIDE, BESIDE_LOCK = "writing.journal", "beside.journal", "beside.lock"
NEW = ".journal-new"
ROUGH, MADE, OLD, APART = "rough", "made", "old", "apart"


@contextmanager
def writer(folder: Path, what: str, wait_s: float = 5.0) -> Iterator[None]:
    """Hold the studio folder's one writing place.

    Parameters
    ----------
    what : what is being done, for the person who is kept waiting ("adding logger files").
    wait_s : how long to wait for another writer.

    Raises
    ------
    StudioError : another program writes, or the folder cannot be written to.
    """
    try:
        connection = sqlite3.connect(folder / LOCK, timeout=wait_s, isolation_level=None)
    except sqlite3.OperationalError as error:
        raise StudioError("cannot be written to. Ask for the right to write in this folder.", place=folder) from error
    with closing(connection):
        try:
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise StudioError(f"{owner(folder)}. Try again when that is done.", place=folder) from error
            raise StudioError(f"cannot be written to ({error}).", place=folder) from error
        except sqlite3.DatabaseError as error:
            said = f"is not a lock file ({error}). Delete it and try again."
            raise StudioError(said, place=folder / LOCK) from error
        with named(folder, what):
            yield


@contextmanager
def named(folder: Path, what: str) -> Iterator[None]:
    """Leave word of who writes, for as long as that is so."""
    now = datetime.now().astimezone().isoformat(timespec="minutes")
    me = {"user": user(), "host": platform.node(), "process": os.getpid(), "what": what, "since": now}
    with suppress(OSError):
        (folder / OWNER).write_text(json.dumps(me), encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            (folder / OWNER).unlink()


def user() -> str:
    """Who is logged in."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # no user name in this environment
        return "someone"


def owner(folder: Path) -> str:
    """Who writes, in words; what is known of it."""
    try:
        me = json.loads((folder / OWNER).read_text(encoding="utf-8"))
        return f"{me['user']} on {me['host']} is {me['what']} since {me['since']} (process {me['process']})"
    except FileNotFoundError:
        return "another program is writing"
    except (OSError, ValueError, KeyError, TypeError) as error:
        return f"another program is writing ({files.plain(error) if isinstance(error, OSError) else 'name unreadable'})"


class JournalLine(NamedTuple):
    """One named file. what : ROUGH, bytes under a rough name; MADE, an original or a part that the register may not
    know yet; OLD, a part that it has let go; APART, an original that it is about to forget.

    path : inside the folder with `/`, else whole. sha256 : of what was written. home : the folder then.
    """

    what: str
    path: str
    sha256: str
    home: str


class Journal:
    """The names in one file, a line each; a line that was cut short names nothing, for its file was not begun."""

    def __init__(self, folder: Path, name: str = WRITING) -> None:
        self.folder, self._path = folder, folder / name
        self._before: list[JournalLine] = []  # from others, at the begin of the work under way
        self._one = threading.Lock()

    def name(self, path: Path, what: str = ROUGH, sha256: str = "") -> None:
        """Name a file, before it is there; by default as bytes that are about to be put down. StudioError: it cannot
        be."""
        inside = path.is_relative_to(self.folder)
        shown = path.relative_to(self.folder).as_posix() if inside else str(path.absolute())
        entry = JournalLine(what, shown, sha256, "" if inside else str(self.folder.resolve()))
        try:
            with self._one, self._path.open("a", encoding="utf-8") as file:
                file.write("\n" + json.dumps(entry))
        except OSError as error:
            raise StudioError(
                f"could not be written ({files.plain(error)}). Nothing was kept of it.", place=path
            ) from error

    def entries(self) -> list[JournalLine]:
        """All names, in the order in which they came."""
        try:
            lines = self._path.read_text(encoding="utf-8", errors="replace").split("\n")
        except OSError:
            return []
        named = []
        for line in filter(None, lines):
            with suppress(ValueError):  # cut short
                cells = json.loads(line)
                if isinstance(cells, list) and len(cells) == 4 and all(isinstance(cell, str) for cell in cells):
                    named.append(JournalLine(*cells))
        return named

    @contextmanager
    def work(self) -> Iterator[None]:
        """Work under way: what is named before it is of others, who were killed or failed. Once it has ended well, only
        what is still to go stays named, or should have gone and is there still."""
        self._before = self.entries()
        yield
        named = self.entries()
        if len(named) == len(self._before):
            return
        stays = list(self._before)
        for entry in named[len(self._before) :]:
            path = self.folder / entry.path
            there = path.exists() or path.with_name(f"{entry.sha256}.json").exists()  # its sidecar
            if entry.what == OLD or (entry.what == APART and there):
                stays.append(entry)
        self.keep(stays)

    def keep(self, entries: Iterable[JournalLine]) -> None:
        """Name these alone."""
        self._before = list(entries)
        with suppress(OSError):  # names too many do no harm: what is held stays; none may be lost
            if self._before:
                new = self._path.with_suffix(NEW)
                new.write_text("".join(f"\n{json.dumps(entry)}" for entry in self._before), encoding="utf-8")
                new.replace(self._path)
            else:
                self._path.unlink(missing_ok=True)

    def place(self, entry: JournalLine) -> Path | None:
        """Where a named file is; None: it was named in another folder, of which this is a copy."""
        if entry.home and entry.home != str(self.folder.resolve()):
            return None
        return self.folder / entry.path


@contextmanager
def beside(folder: Path) -> Iterator[Callable[[Path], None]]:
    """Write something without the writing place; gives what names a file. In a folder that may only be read nothing
    is named, so that nothing of it is ever swept."""
    sweep_beside(folder)
    with ExitStack() as held:
        with suppress(sqlite3.Error):
            lock = held.enter_context(_beside_lock(folder, wait_s=5.0))
            lock.execute("BEGIN")
            lock.execute("SELECT * FROM sqlite_master").fetchall()  # shared from here on
        yield lambda path: _if_it_can(Journal(folder, BESIDE), path)
    sweep_beside(folder)  # the names of what has ended


def _beside_lock(folder: Path, wait_s: float) -> closing[sqlite3.Connection]:
    return closing(sqlite3.connect(folder / BESIDE_LOCK, timeout=wait_s, isolation_level=None))


def _if_it_can(journal: Journal, path: Path) -> None:
    with suppress(StudioError):
        journal.name(path)


def sweep_beside(folder: Path) -> list[str]:
    """Take away what was begun beside the writing place and never ended, unless somebody is at it; their names."""
    journal = Journal(folder, BESIDE)
    if not journal.entries():
        return []
    try:
        with _beside_lock(folder, wait_s=0.0) as alone:
            alone.execute("BEGIN EXCLUSIVE")
            there = [(entry, path) for entry in journal.entries() if (path := journal.place(entry)) and path.is_file()]
            gone = {entry: files.remove(path) for entry, path in there}
            journal.keep(entry for entry, went in gone.items() if not went)
            return [entry.path for entry, went in gone.items() if went]
    except (sqlite3.Error, OSError):
        return []
