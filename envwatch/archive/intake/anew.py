"""Originals read anew with today's reader: how each differs from what is kept of it, and taking that as one batch."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from sqlalchemy import select

from envwatch.archive.intake import keep as keeping
from envwatch.archive.intake.add import lines_after
from envwatch.archive.intake.merge import equal_to, places_of
from envwatch.archive.intake.outcomes import IncomingFile, StagedFile
from envwatch.archive.store import files, originals
from envwatch.archive.store.originals import original, read_kept, unjson
from envwatch.archive.store.tables import BATCHES, FILES, LEARNED
from envwatch.core.arrays import Mask
from envwatch.core.errors import EnvwatchError
from envwatch.core.readings import EMPTY, Series
from envwatch.core.text import several
from envwatch.logs.model import LogFile

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Progress = Callable[[int, int, str], None] | None
MOST_READINGS = 2_000_000  # that are held before they are kept
MOST_ROWS = 8  # at one instant that are told apart


@dataclass(frozen=True)
class FileAnew:
    """How a file reads now, against what is kept of it. Rows by what became of them; `moved_min` is the commonest.

    `problem`: why it cannot be read now; it stays as it was kept.
    """

    number: int
    name: str
    logger_id: str
    gained: int = 0
    lost: int = 0
    changed: int = 0
    moved: int = 0
    moved_min: float = 0.0
    columns: tuple[str, str] | None = None  # kept, now
    problem: str = ""

    @property
    def differs(self) -> bool:
        """Whether its readings are others."""
        return bool(self.gained or self.lost or self.changed or self.moved)

    @property
    def sentence(self) -> str:
        """The differences, in words."""
        name = f"{self.name} ({self.logger_id})"
        if self.problem:
            return f"{name}: today's reader does not read it: {self.problem}. What is kept of it stays"
        counts = ((self.gained, "gained"), (self.lost, "lost"), (self.changed, "changed"))
        told = [f"{several(count, 'row')} {what}" for count, what in counts if count]
        if self.moved:
            way = "later" if self.moved_min > 0 else "earlier"
            told.append(f"{several(self.moved, 'row')} {abs(self.moved_min):g} min {way}")
        told += [f"columns {self.columns[0]}, now {self.columns[1]}"] if self.columns else []
        return f"{name}: {'; '.join(told)}"


@dataclass(frozen=True)
class RereadReport:
    """All originals read anew. `files`: that differ or cannot be read; `batch`: what was taken, None if nothing."""

    read: int
    files: tuple[FileAnew, ...] = ()
    batch: int | None = None
    revised: tuple[str, ...] = field(default=())


def reread(studio: StudioFolder, apply: bool = False, progress: Progress = None) -> RereadReport:
    """Read all originals anew. See `Studio.reread`."""
    with nullcontext() if studio.home.only_read and not apply else studio.writing("reading originals anew"):
        rows, found = _rows(studio), []
        work = _Taking(studio, pd.Timestamp.now(tz="UTC").floor("s")) if apply else None
        for done, row in enumerate(rows):
            if progress:
                progress(done, len(rows), row["name"])
            one, log = _anew(studio, row)
            if one.differs or one.problem or one.columns:
                found.append(one)
            if work and log is not None and one.differs:
                work.take(row, log)
        batch = work.keep() if work else None
    return RereadReport(len(rows), tuple(found), batch)


def _rows(studio: StudioFolder) -> list[dict[str, Any]]:
    query = select(FILES, BATCHES.c.added_at).join(BATCHES).order_by(FILES.c.logger, FILES.c.id)
    with studio.reading() as connection:
        return [dict(row) for row in connection.execute(query).mappings()]


def _anew(studio: StudioFolder, row: Mapping[str, Any]) -> tuple[FileAnew, LogFile | None]:
    """A file against what is kept of it, and how it reads now; None: it cannot be read."""
    whose = row["id"], files.label(row["name"]), row["logger"]
    try:
        log = read_kept(studio.folder, row, pd.Timestamp(row["added_at"]))
    except EnvwatchError as error:
        return FileAnew(*whose, problem=error.statement), None
    old = unjson(row["layout"]).get("columns", []), list(log.layout.columns)
    columns = None if old[0] == old[1] else (", ".join(old[0]), ", ".join(old[1]))
    held = studio.reader.series(studio.state().parts.get(row["logger"], ()))
    counts = _compared(held, originals.series(log, row["id"]), row["id"])
    return FileAnew(*whose, *counts, columns=columns), log


def _compared(held: Mapping[str, Series], new: Mapping[str, Series], file: int) -> tuple[int, int, int, int, float]:
    """Rows gained, lost, changed and moved, and by how many minutes most of these."""
    gained = lost = changed = 0
    shifts: list[float] = []
    for name in {*held, *new}:
        whole, fresh = held.get(name, EMPTY), new.get(name, EMPTY)
        own = whole.take(whole.file == file)
        _, at_own, at_new = np.intersect1d(own.line, fresh.line, return_indices=True)
        was, now = own.take(at_own), fresh.take(at_new)
        apart = (now.time - was.time) / 60e6
        shifts += apart[apart != 0].tolist()
        differ = ~_same(was.temp_c, now.temp_c) | ~_same(was.rh_percent, now.rh_percent)
        changed += int(np.count_nonzero(differ & (apart == 0)))
        lost += len(own) - len(was)
        rest = fresh.take(~np.isin(fresh.line, was.line))
        gained += int(np.count_nonzero(~_stands(rest, whole)))
    values, counts = np.unique(shifts, return_counts=True)
    return gained, lost, changed, len(shifts), float(values[counts.argmax()]) if len(values) else 0.0


def _same(a: np.ndarray, b: np.ndarray) -> Mask:
    return (a == b) | (np.isnan(a) & np.isnan(b))


def _stands(rows: Series, whole: Series) -> Mask:
    """Whether a reading is kept already, by another line or file: what says nothing else is kept once."""
    first, stop = (np.searchsorted(whole.time, rows.time, side) for side in ("left", "right"))
    to_c = min(places_of(rows.temp_c), places_of(whole.temp_c))
    to_rh = min(places_of(rows.rh_percent), places_of(whole.rh_percent))
    stands = np.zeros(len(rows), bool)
    for rank in range(MOST_ROWS):
        at = np.minimum(first + rank, np.maximum(stop - 1, 0))
        there = first + rank < stop
        if not there.any():
            break
        alike = equal_to(rows.temp_c, whole.temp_c[at], to_c)
        alike &= np.isnan(rows.rh_percent) | equal_to(rows.rh_percent, whole.rh_percent[at], to_rh)
        stands |= there & alike
    return stands


class _Taking:
    """Files that are kept as they read now, in one batch."""

    def __init__(self, studio: StudioFolder, now: pd.Timestamp) -> None:
        self.studio, self.now = studio, now
        self.batch: int | None = None
        self.items: list[StagedFile] = []

    def take(self, row: Mapping[str, Any], log: LogFile) -> None:
        """Keep a file as it reads now; what was answered about it stays."""
        with self.studio.reading() as connection:
            said = {learnt.kind: learnt.value for learnt in connection.execute(_said(row["id"]))}
        path = original(self.studio.folder, row["sha256"], row["suffix"])
        source = IncomingFile(path, row["name"], kept=row, sha256=row["sha256"])
        used = {originals.READ_AT: row["added_at"], **unjson(row["answers"])}
        self.items.append(StagedFile(source, row["sha256"], log, row["logger"], False, used, said, tuple(log.notes),
                                 lines_after(source, log), row["id"]))  # fmt: skip
        if sum(item.readings for item in self.items) > MOST_READINGS:
            self.keep()

    def keep(self) -> int | None:
        """Keep what was taken so far; the number of the batch."""
        if self.items:
            self.batch, _ = keeping.keep(self.studio, self.items, self.batch, self.now, "reread")
        self.items = []
        return self.batch


def _said(file: int) -> Any:
    return select(LEARNED.c.kind, LEARNED.c.value).where(LEARNED.c.file == file, LEARNED.c.kind != "label")
