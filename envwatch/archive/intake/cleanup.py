"""What a crash left behind, and what newer versions have replaced. Only the lock's holder sweeps.

Only what the journal names goes; what else lies in the folder is somebody's own: it is told, and left.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import delete, select

from envwatch.archive.store import files, trust
from envwatch.archive.store.originals import APART_FOLDER, SIDECAR, found, set_apart
from envwatch.archive.store.tables import FILES, PARTS, TRAY
from envwatch.archive.store.writing import APART, BESIDE, MADE, OLD, ROUGH, Journal, JournalLine, sweep_beside

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

OLD_PARTS_STAY = timedelta(hours=24)  # so that whoever began to read before a change can end
SHA256 = re.compile("[0-9a-f]{64}")
UNFINISHED = (".tmp", ".part")


def sweep(studio: StudioFolder) -> list[str]:
    """Take away half-written files, parts no longer held, and originals whose add never ended; returns their names.

    An original that an undo had given up is set apart where the register has forgotten it. What bears a named
    file's name and is not what was written under it stays.
    """
    due = (datetime.now(UTC) - OLD_PARTS_STAY).strftime("%Y-%m-%dT%H:%M:%SZ")
    old = (PARTS.c.superseded_at != "") & (PARTS.c.superseded_at < due)
    with studio.reading() as connection:
        is_due = connection.execute(select(PARTS.c.id).where(old).limit(1)).first() is not None
    if not (is_due or studio.journal.entries() or Journal(studio.folder, BESIDE).entries()) or trust.amiss(studio):
        return []
    with studio.saving() as connection:
        for path in connection.execute(select(PARTS.c.path).where(old)).scalars():
            studio.journal.name(studio.folder / path, OLD)
        connection.execute(delete(PARTS).where(old))
    held, entries = _held(studio), studio.journal.entries()
    ended = {entry: _ended(studio.journal, entry, held) for entry in entries}
    studio.journal.keep(entry for entry, gone in ended.items() if gone is False)
    return [*sweep_beside(studio.folder), *(entry.path for entry, gone in ended.items() if gone)]


def _held(studio: StudioFolder) -> set[str]:
    """Parts by path and originals by SHA-256, as far as the register has them."""
    with studio.reading() as connection:
        sha256 = [sha for table in (FILES, TRAY) for sha in connection.execute(select(table.c.sha256)).scalars()]
        return {*connection.execute(select(PARTS.c.path)).scalars(), *sha256}


def _ended(journal: Journal, entry: JournalLine, held: set[str]) -> bool | None:
    """End what was begun with a named file. Whether it went; None: it is held, gone, or not what was written."""
    path = journal.place(entry)
    if path is None or entry.path in held or entry.sha256 in held:
        return None
    if entry.what == APART:
        there = [path, path.with_name(entry.sha256 + SIDECAR)]
        if not any(one.exists() for one in there):
            return None
        set_apart(journal.folder, entry.sha256, path.name.removeprefix(entry.sha256))
        return not any(one.exists() for one in there)
    if not path.is_file() or (entry.what == MADE and found(path) != entry.sha256):
        return None
    return files.remove(path)


def strays(studio: StudioFolder) -> list[str]:
    """What lies in the folder and is not envwatch's, a line each; nothing of it is ever deleted.

    What envwatch let go or left half-written is its own, also while nothing may be swept.
    """
    folder, held = studio.folder, _held(studio)
    to_go = {studio.journal.place(entry) for entry in studio.journal.entries() if entry.what in (OLD, ROUGH)}
    left = [path for sub in ("", "sheets") for path in (folder / sub).glob("*") if path.suffix.lower() in UNFINISHED]
    originals = [path for path in folder.glob("originals/*") if path.name != APART_FOLDER and path.stem not in held]
    readings = [path for path in folder.glob("readings/**/*")
                if path.is_file() and path.relative_to(folder).as_posix() not in held]  # fmt: skip
    whole = {path for path in originals if unregistered(path)}  # told as what an older register does not know
    found = sorted({*left, *originals, *readings} - to_go - whole - {path.with_suffix(SIDECAR) for path in whole})
    return [f"{path.relative_to(folder).as_posix()}: {_kind(path)}" for path in found]


def unregistered(path: Path) -> bool:
    """Whether what stands among the originals is one, by its name and bytes."""
    return SHA256.fullmatch(path.stem) is not None and path.suffix != SIDECAR and found(path) == path.stem


def _kind(path: Path) -> str:
    """What a stray seems to be, and that it is left alone."""
    unfinished = "an unfinished copy, or a file of your own"
    kinds = dict.fromkeys(UNFINISHED, unfinished) | {
        ".parquet": "readings that are not in the register",
        SIDECAR: "facts of a file that is not here",
    }
    what = "a folder" if path.is_dir() else kinds.get(path.suffix.lower(), "a file")
    return f"{what}, not written by envwatch as it stands; left alone, and not read. Move it elsewhere if you need it"
