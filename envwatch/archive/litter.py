"""What a crash left behind, and what newer versions have replaced. Only the lock's holder sweeps."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import delete, select

from envwatch.archive import disk
from envwatch.archive.originals import GIVEN_UP, SIDECAR, keep_after_all, set_apart
from envwatch.archive.tables import FILES, PARTS, TRAY

if TYPE_CHECKING:
    from envwatch.archive.studio import Studio

OLD_PARTS_STAY = timedelta(hours=24)  # so that whoever began to read before a change can end


def sweep(studio: Studio) -> list[str]:
    """Delete half-written files, parts no longer held, and originals whose add never ended; returns their names.

    An original that was given up is set apart where the register has forgotten it, and kept where it has not.

    An original that has its sidecar was kept once: if the register does not know it (an older register was put
    back), it stays, and `check` says so.
    """
    due = (datetime.now(UTC) - OLD_PARTS_STAY).strftime("%Y-%m-%dT%H:%M:%SZ")
    old = (PARTS.c.superseded_at != "") & (PARTS.c.superseded_at < due)
    with studio.saving() as connection:
        connection.execute(delete(PARTS).where(old))
        held = set(connection.execute(select(PARTS.c.path)).scalars())
        known = {sha for table in (FILES, TRAY) for sha in connection.execute(select(table.c.sha256)).scalars()}
    ended = _given_up(studio.folder, known)
    litter = [*_unfinished(studio.folder), *_parts(studio.folder, held), *_originals(studio.folder, known)]
    return ended + [path.relative_to(studio.folder).as_posix() for path in litter if disk.remove(path)]


def _given_up(folder: Path, known: set[str]) -> list[str]:
    """End what a killed undo had begun."""
    ended = []
    for mark in folder.glob(f"originals/*{GIVEN_UP}"):
        if mark.stem in known:
            keep_after_all(folder, mark.stem)
            continue
        here = [path for path in folder.glob(f"originals/{mark.stem}*") if path.suffix not in (GIVEN_UP, SIDECAR)]
        for path in here or [mark]:
            set_apart(folder, mark.stem, path.name.removeprefix(mark.stem))
            ended.append(path.relative_to(folder).as_posix())
    return ended


def _unfinished(folder: Path) -> list[Path]:
    return [
        *folder.glob("*.tmp"),
        *folder.glob("originals/*.tmp"),
        *folder.glob("readings/*/*.tmp"),
        *folder.glob("sheets/*.tmp"),
    ]


def _parts(folder: Path, held: set[str]) -> list[Path]:
    found = folder.glob("readings/logger=*/year=*.parquet")
    return [path for path in found if path.relative_to(folder).as_posix() not in held]


def _originals(folder: Path, known: set[str]) -> list[Path]:
    beside = (SIDECAR, GIVEN_UP)
    found = [path for path in folder.glob("originals/*") if path.is_file() and path.suffix not in (*beside, ".tmp")]
    strange = [path for path in found if path.stem not in known]
    return [path for path in strange if not any(path.with_name(path.stem + name).exists() for name in beside)]
