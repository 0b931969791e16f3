"""A backup: the whole studio folder in one ZIP file, made at any time; and a folder made from one again.

The register is copied by SQLite's own backup, which sees one state of it while others write. The parts and originals
that this state names are then copied and checked against their SHA-256: a part never changes once written and stays
a day after it was replaced, and an original that an undo has set apart meanwhile is found where it was set apart.
"""

from __future__ import annotations

import hashlib
import sqlite3
import tempfile
import zipfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from envwatch.archive.store import building, originals, schema, writing
from envwatch.archive.store import files as disk
from envwatch.archive.store.originals import SIDECAR
from envwatch.archive.store.postgres import Server
from envwatch.core.errors import BadInput, StudioError

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Progress = Callable[[int, int, str], None] | None
TRIES = 3  # states of the register, should an undo take away what one of them names
APART = "originals/undone"
PACKED = {".parquet", ".xlsx", ".pdf", ".zip"}  # compressed already


@dataclass(frozen=True)
class BackupReport:
    """`path`: the backup. `problems`: what was not whole in the folder itself; the backup holds it as it is."""

    path: Path
    files: int
    size: int
    problems: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Entry:
    name: str  # inside the folder, with `/`
    sha256: str = ""  # of what must stand there; empty: anything
    row: Mapping[str, str] = field(default_factory=dict)  # an original's, as `originals.harm` takes it


class _Gone(Exception):
    """Something that a state of the register names was taken away meanwhile."""


def back_up(studio: StudioFolder, target: Path | str, progress: Progress = None) -> BackupReport:
    """Write the whole studio folder to one ZIP file, also while others read and write. See `Studio.back_up`."""
    if isinstance(studio.home, Server):
        raise BadInput("is backed up by PostgreSQL's pg_dump, and the folder by a copy made after "
                       "it (envwatch/archive/MACHINES.md). Nothing was copied", place=studio.home.told)  # fmt: skip
    target = _target(studio, Path(target))
    for left in reversed(range(TRIES)):
        try:
            return _write(studio, target, progress, whole=left > 0)
        except _Gone:
            continue
    raise AssertionError("the last try takes what is there")


def _target(studio: StudioFolder, target: Path) -> Path:
    if target.is_dir():
        stamp = disk.label(studio.folder.resolve().name)
        target = target / f"{stamp}-{_today(studio)}.zip"
    if target.exists():
        raise BadInput("is there already. Name another file; a backup is never written over", place=target)
    if not target.parent.is_dir():
        raise BadInput("no such folder. Make it, or name another", place=target.parent)
    if target.resolve().is_relative_to(studio.folder.resolve()):
        raise BadInput("lies in the studio folder and would be lost with it. Name a place elsewhere, "
                       "best on another disk", place=target)  # fmt: skip
    return target


def _today(studio: StudioFolder) -> str:
    import pandas as pd

    return pd.Timestamp.now(studio.zone).date().isoformat()


def _write(studio: StudioFolder, target: Path, progress: Progress, whole: bool) -> BackupReport:
    problems: list[str] = []
    rough = disk.rough_name(target)
    try:
        with tempfile.TemporaryDirectory() as scratch, writing.beside(studio.folder) as named:
            assert not isinstance(studio.home, Server)
            register = Path(scratch) / schema.REGISTER
            _copy_register(studio.home.path, register)
            entries = [*_named(register), *_others(studio.folder)]
            named(rough)
            with zipfile.ZipFile(rough, "x", zipfile.ZIP_DEFLATED) as archive:
                archive.write(register, schema.REGISTER)
                for done, entry in enumerate(entries):
                    if progress:
                        progress(done, len(entries), "copying")
                    problem = _put(archive, studio.folder, entry)
                    if problem and whole and not _in_folder(studio.folder, entry):
                        raise _Gone(entry.name)
                    problems += [problem] if problem else []
            disk.sync(rough)
            if target.exists():
                raise BadInput(
                    "was put there meanwhile. Name another file; a backup is never written over", place=target
                )
            rough.rename(target)
            disk.sync_folder(target.parent)
    except OSError as error:
        raise StudioError(f"could not be written ({disk.plain(error)}). No backup was made", place=target) from error
    finally:
        disk.remove(rough)
    return BackupReport(target, len(entries) + 1, target.stat().st_size, tuple(problems))


def _copy_register(source: Path, target: Path) -> None:
    try:
        with closing(sqlite3.connect(source)) as held, closing(sqlite3.connect(target)) as copy:
            held.backup(copy)
    except sqlite3.DatabaseError as error:
        raise StudioError(f"cannot be copied ({error}). Restore it from an earlier backup", place=source) from error


def _named(register: Path) -> Iterator[_Entry]:
    """What one state of the register names: parts that hold or an undo needs, and originals with their sidecars."""
    with closing(sqlite3.connect(register)) as held:
        kept = "superseded_at = '' OR superseded_at LIKE 'add %'"  # those too that an undo needs
        for path, sha256 in held.execute(f"SELECT path, sha256 FROM parts WHERE {kept}"):
            yield _Entry(path, sha256)
        names = ("sha256", "suffix", "name", "logger")
        files = f"SELECT {', '.join(names)} FROM files UNION SELECT {', '.join(names[:3])}, '' FROM tray"
        for cells in held.execute(files):
            row = dict(zip(names, cells, strict=True))
            yield _Entry(f"originals/{row['sha256']}{row['suffix']}", row["sha256"], row)
            yield _Entry(f"originals/{row['sha256']}{SIDECAR}")


def _others(folder: Path) -> Iterator[_Entry]:
    """What the register does not name: facts, own materials, sheets, and what was set apart."""
    found = [*folder.glob("*.toml"), *folder.glob("sheets/**/*"), *folder.glob(f"{APART}/*")]
    yield from (_Entry(path.relative_to(folder).as_posix()) for path in found
                if path.is_file() and path.suffix != ".tmp")  # fmt: skip


def _in_folder(folder: Path, entry: _Entry) -> Path | None:
    name = PurePosixPath(entry.name)
    places = [folder / name, *([folder / APART / name.name] if name.parent.name == "originals" else [])]
    return next((path for path in places if path.is_file()), None)


def _put(archive: zipfile.ZipFile, folder: Path, entry: _Entry) -> str:
    """Copy one file into the backup; what is wrong with it, or nothing."""
    source = _in_folder(folder, entry)
    if source is None:
        return _problem(entry, None, "it is not in the backup")
    info = zipfile.ZipInfo.from_file(source, entry.name)
    info.compress_type = zipfile.ZIP_STORED if source.suffix in PACKED else zipfile.ZIP_DEFLATED
    sha = hashlib.sha256()
    with source.open("rb") as file, archive.open(info, "w") as copy:
        while chunk := file.read(disk.CHUNK):
            sha.update(chunk)
            copy.write(chunk)
    return _problem(entry, sha.hexdigest(), "the backup holds it as it is")


def _problem(entry: _Entry, found: str | None, then: str) -> str:
    if entry.row:
        problem = originals.harm(entry.row, found)
    elif entry.sha256 in ("", found):
        problem = ""
    else:
        problem = f"{entry.name}: {'is gone' if found is None else 'was changed since it was kept'}"
    return f"{problem}; {then}" if problem else ""


def restore(backup: Path | str, folder: Path | str) -> tuple[str, ...]:
    """Make a studio folder from a backup. It is made beside the folder and put in place whole.

    Returns
    -------
    A line for each file beside it that a restore before this one left and did not write itself.

    Raises
    ------
    BadInput : not a backup, damaged, or the folder holds something already; nothing is left then.
    """
    backup, folder = Path(backup), Path(folder).absolute()
    building.must_be_elsewhere(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadInput(
            "holds something already. Name a new folder; nothing is ever restored over another", place=folder
        )
    try:
        with zipfile.ZipFile(backup) as archive:
            names = archive.namelist()
            if not {"studio.toml", schema.REGISTER} <= set(names):
                raise BadInput("is not a backup of a studio (no studio.toml in it)", place=backup)
            left = building.clear_dead(folder)
            building.unpack(archive, [name for name in names if _fits(name)], folder)
    except zipfile.BadZipFile as error:
        raise BadInput(f"is not a whole backup ({error}). Take an earlier one", place=backup) from error
    except (EOFError, ValueError) as error:
        raise BadInput(f"is damaged ({error}). Take an earlier one", place=backup) from error
    except OSError as error:
        raise StudioError(f"{disk.plain(error)}. Nothing was restored", place=error.filename or backup) from error
    return left


def _fits(name: str) -> bool:
    """Only what a studio folder holds, and nothing that points out of it."""
    parts = PurePosixPath(name).parts
    inside = bool(parts) and ".." not in parts and not name.startswith("/") and "\\" not in name and ":" not in name
    top = {"originals", "readings", "sheets"}
    return inside and (parts[0] in top or (len(parts) == 1 and (name.endswith(".toml") or name == schema.REGISTER)))


__all__ = ["BackupReport", "back_up", "restore"]
