"""A studio folder unpacked beside its place and put there whole; what a killed one left is taken away by the next.

The folder beside bears a name that was never there before, a lock for as long as its maker lives, and a list of what
is written into it: nothing else in it is ever deleted.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable, Sequence
from contextlib import suppress
from pathlib import Path
from zipfile import ZipFile

from envwatch.archive.store import files, writing
from envwatch.core.errors import BadInput, StudioError

MARK, LIST = ".restoring-", "restoring.journal"
SUBFOLDERS = ("originals", "readings", "sheets")


def unpack(archive: ZipFile, names: Sequence[str], folder: Path) -> None:
    """Unpack these names of an archive as a folder that is not there yet, or empty; whole or not at all.

    Raises what the archive or the disk raises; nothing is left then.
    """
    building = folder.with_name(folder.name + MARK + secrets.token_hex(8))
    building.mkdir(parents=True)
    try:
        with writing.writer(building, "restoring a backup"):
            (building / LIST).write_text(json.dumps(names), encoding="utf-8")
            archive.extractall(building, names)
            for sub in SUBFOLDERS:
                (building / sub).mkdir(exist_ok=True)
            (building / LIST).unlink()
        if folder.exists():
            folder.rmdir()  # it is empty
        building.rename(folder)
    except BaseException:
        _clear(building, names)
        raise


def must_be_elsewhere(folder: Path) -> None:
    """BadInput: it is the folder one stands in, in whose place another is to be put."""
    if folder.exists() and folder.resolve() == Path.cwd().resolve():
        raise BadInput("is the folder you stand in, and is put in place whole. Name a new folder in it", place=folder)


def clear_dead(folder: Path) -> tuple[str, ...]:
    """Take away what killed restores of a folder left beside it; a line for each that holds anything else."""
    if not folder.parent.is_dir():
        return ()
    found = [path for path in sorted(folder.parent.iterdir()) if path.name.startswith(folder.name + MARK)]
    return tuple(f"{path}: was left by a restore that was cut short, or is your own; it is left alone. Delete it "
                 "yourself if you do not need it" for path in found if not _cleared(path))  # fmt: skip


def _cleared(building: Path) -> bool:
    """Whether a folder beside is gone, or its maker is still at it."""
    with suppress(OSError, ValueError):
        if (building / LIST).is_file():
            names = json.loads((building / LIST).read_text(encoding="utf-8") or "[]")
        elif {path.name for path in building.iterdir()} <= {writing.LOCK, f"{writing.LOCK}-journal", writing.OWNER}:
            names = []
        else:
            return False
        try:
            with writing.writer(building, "clearing what a restore left", wait_s=0.0):
                pass
        except StudioError:
            return True
        _clear(building, names)
    return not building.exists()


def _clear(building: Path, names: Iterable[str]) -> None:
    for name in names:
        files.remove(building / name)
    folders = [path for path in building.rglob("*") if path.is_dir()]
    for path in sorted(folders, key=lambda path: len(path.parts), reverse=True):
        with suppress(OSError):  # somebody's file is in it
            path.rmdir()
    for name in (writing.OWNER, writing.LOCK, LIST):
        files.remove(building / name)
    with suppress(OSError):
        building.rmdir()


__all__ = ["clear_dead", "must_be_elsewhere", "unpack"]
