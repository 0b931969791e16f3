"""Whether a register may be relied on: its rows as envwatch wrote them, the newest there was, and the only one."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from envwatch.archive.store import sums
from envwatch.archive.store.files import label
from envwatch.archive.store.postgres import Server
from envwatch.archive.store.sqlite import KEPT_AS, REGISTER, Embedded
from envwatch.core.errors import StudioError

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

NAMED = 10  # rows of a table that are named one by one
MAGIC = b"SQLite format 3\0"
OF_REGISTER = (REGISTER, KEPT_AS, f"{REGISTER}-wal", f"{REGISTER}-shm", f"{REGISTER}-journal", sums.STATE)
SECOND = (
    "A synchronised folder makes such a copy when two computers wrote at once; what stands in it alone is in no "
    f"review. Keep the right one as {REGISTER}, move the other out of the folder, and add or enter again what it lacks"
)
COUNTED = ("files", "paintings", "reviews")


def amiss(studio: StudioFolder) -> list[str]:
    """What is not right about a register, a line each; nothing is swept while there is any."""
    home = studio.home
    return [*([] if isinstance(home, Server) else [*_rows(home), *_older(home)]), *_beside(studio.folder)]


def _rows(home: Embedded) -> Iterator[str]:
    """Rows that something else than envwatch changed, put in or took out."""
    try:
        found = sums.amiss(home.path)
    except StudioError as error:
        yield error.sentence
        return
    counted: Counter[str] = Counter()
    for row in found:
        counted[row.table] += 1
        if counted[row.table] <= NAMED:
            yield f"{REGISTER}, table {row.table}, row {label(row.key)} ({label(row.row)}): {row.what} by something " \
                  "else than envwatch, or harmed on disk"  # fmt: skip
    yield from (f"{REGISTER}, table {table}: and {count - NAMED:,} rows more" for table, count in counted.items()
                if count > NAMED)  # fmt: skip
    if found:
        yield ("rows that envwatch did not write so are not to be relied on: hold them against your papers, or restore "
               'a backup; once they are right, envwatch check --accept "WHY"')  # fmt: skip


def _older(home: Embedded) -> Iterator[str]:
    """A register put back from an earlier day than its folder, or whose layout is not the one that it says."""
    known = sums.folder_state(home.folder)  # first: a writer counts in the register before it does here
    try:
        with closing(sqlite3.connect(home.path)) as connection:
            state = sums.state(connection)
            (layout,) = connection.execute("PRAGMA user_version").fetchone()
            numbers = [str(number) for (number,) in connection.execute("SELECT version_num FROM alembic_version")]
    except sqlite3.Error as error:
        yield StudioError(f"cannot be read ({error}). Restore it from a backup", place=home.path).sentence
        return
    if numbers != [f"{layout:04}"]:
        yield (f"{REGISTER}, table alembic_version: says {', '.join(map(label, numbers)) or 'nothing'}, the layout is "
               f'{layout:04}. If the register opens and reads as it should: envwatch check --accept "WHY"')  # fmt: skip
    changes, known = state.get(sums.CHANGES, 0), max(known, state.get(sums.BEHIND, 0))
    if sums.BEHIND in state or known > changes:
        yield (f"{REGISTER}: is older than its folder, which knew of {known:,} changes (the register of {changes:,}). "
               "What was added or entered since is not in it. Put the newer one back, or add and enter it again and "
               'say so: envwatch check --accept "WHY"')  # fmt: skip


def _beside(folder: Path) -> Iterator[str]:
    """A second register or a second studio.toml, as synchronised folders make them."""
    for path in sorted(folder.iterdir()):
        name = path.name.casefold()
        if path.name in OF_REGISTER or not path.is_file():
            continue
        if _starts(path) == MAGIC:
            yield f"{label(path.name)}: a second register beside {REGISTER}{_counts(path)}. {SECOND}"
        elif name.endswith(".toml") and "studio" in name and name != "studio.toml":
            yield f"{label(path.name)}: a second studio.toml, which nobody reads. Move it out of the folder"


def _starts(path: Path) -> bytes:
    with suppress(OSError), path.open("rb") as file:
        return file.read(len(MAGIC))
    return b""


def _counts(path: Path) -> str:
    """What a second register holds, as far as it can be read without touching it."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)) as held:
        counts = [held.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in COUNTED]
        return " ({} files, {} paintings, {} kept reviews)".format(*counts)
    return ""


__all__ = ["amiss"]
