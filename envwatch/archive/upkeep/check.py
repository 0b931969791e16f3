"""Is the folder whole, and do its originals still give the same readings?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from sqlalchemy import select

from envwatch.archive.intake import cleanup
from envwatch.archive.intake.keep import reread, rounding_of
from envwatch.archive.intake.merge import MergePlan, compose, rewrite
from envwatch.archive.store import files, originals, parts
from envwatch.archive.store.sql import found, in_order
from envwatch.archive.store.tables import BATCHES, FILES, TRAY
from envwatch.core.errors import EnvwatchError
from envwatch.core.readings import EMPTY, TYPES, Series

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Progress = Callable[[int, int, str], None] | None
NAMED = 3  # so many differing readings are named one by one


@dataclass(frozen=True)
class CheckReport:
    """`problems`: one line each. `swept`: leftovers of a crash that were cleared away. `repaired`: what was mended.
    `strays`: what lies in the folder and is not envwatch's; it is left alone. `counts`: what was looked at."""

    problems: tuple[str, ...] = ()
    swept: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    strays: tuple[str, ...] = ()
    counts: dict[str, int] = field(default_factory=dict)


@dataclass
class _Work:
    studio: StudioFolder
    progress: Progress
    problems: list[str] = field(default_factory=list)
    repaired: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)


def check(studio: StudioFolder, rebuild: bool = False, progress: Progress = None) -> CheckReport:
    """Look the folder over. See `Studio.check`."""
    with studio.writing("checking the archive"):
        work = _Work(studio, progress)
        _register(work)
        swept = tuple(cleanup.sweep(studio))
        _originals(work)
        broken = _parts(work)
        if rebuild:
            _rebuild(work, broken)
        elif broken:
            work.problems.append("the readings can be made again from the originals: envwatch check --rebuild")
        strays = tuple(cleanup.strays(studio))
    return CheckReport(tuple(work.problems), swept, tuple(work.repaired), strays, work.counts)


def _tell(work: _Work, items: list, what: str) -> Iterator:
    for done, item in enumerate(items):
        if work.progress:
            work.progress(done, len(items), what)
        yield item


def _register(work: _Work) -> None:
    with work.studio.reading() as connection:
        work.problems += work.studio.home.damage(connection)


def _originals(work: _Work) -> None:
    """Every file the register names is there byte for byte, with its sidecar; and none besides."""
    folder = work.studio.folder
    with work.studio.reading() as connection:
        rows = [row for table in (FILES, TRAY) for row in found(connection, in_order(table))]
    for row in _tell(work, rows, "original files"):
        path = originals.original(folder, row["sha256"], row["suffix"])
        if problem := originals.harm(row, originals.found(path)):
            work.problems.append(problem)
        elif not path.with_name(row["sha256"] + originals.SIDECAR).is_file():
            originals.write_sidecar(work.studio.journal, row)
            work.repaired.append(
                f"{files.label(row['name'])}: its sidecar was missing and was written again from the register"
            )
    known = {row["sha256"] for row in rows}
    strange = [path for path in folder.glob("originals/*") if path.stem not in known and cleanup.unregistered(path)]
    work.problems += [f"originals/{path.name}: not in the register; if an older register was put back, add it again"
                      for path in strange]  # fmt: skip
    work.counts["original files"] = len(rows)


def _parts(work: _Work) -> set[str]:
    """Paths of parts that are gone or not as they were written."""
    held = [part for of_logger in work.studio.state().parts.values() for part in of_logger]
    broken = set()
    for part in _tell(work, held, "readings"):
        path = work.studio.folder / part.path
        if not path.is_file() or files.digest(path) != part.sha256:
            what = "was changed" if path.is_file() else "is gone"
            work.problems.append(f"{part.path}: {what}")
            broken.add(part.path)
    work.counts |= {"parts": len(held), "readings": sum(part.rows for part in held)}
    return broken


def _rebuild(work: _Work, broken: set[str]) -> None:
    """Compose each logger's readings from its originals and compare; what is broken is written again."""
    studio = work.studio
    for logger in _tell(work, list(studio.state().parts), "rebuilding"):
        try:
            made = rebuilt(studio, logger)
        except EnvwatchError as error:
            work.problems.append(f"logger {logger}: cannot be rebuilt: {error.sentence}")
            continue
        held = studio.state().parts[logger]
        sound = [part for part in held if part.path not in broken]
        years = {part.year for part in held if part.path in broken}
        difference = _difference(studio.reader.series(sound), _leaving_out(made, years))
        if difference:
            work.problems.append(f"logger {logger}: its originals now read differently ({difference}). Nothing was "
                                 f"changed; the readings stay as they were first read")  # fmt: skip
        if years:
            rewrite(studio, logger, {year: rows for year, rows in parts.by_year(made).items() if year in years})
            work.problems = [line for line in work.problems if line.partition(":")[0] not in broken]
            work.repaired += [f"{part.path}: written again from the originals" for part in held if part.path in broken]


def rebuilt(studio: StudioFolder, logger: str) -> dict[str, Series]:
    """A logger's readings, by probe, composed from its originals as if they were added for the first time."""
    query = select(FILES, BATCHES.c.added_at).join(BATCHES).where(FILES.c.logger == logger).order_by(FILES.c.id)
    with studio.reading() as connection:
        rows = connection.execute(query).mappings().all()
        change = MergePlan(rounding=rounding_of(connection, logger))
    for row in rows:
        for channel, series in reread(studio, dict(row)).items():
            change.new[channel].append(series)
    return {channel: compose(EMPTY, channel, change) for channel in sorted(change.new)}


def _leaving_out(channels: Mapping[str, Series], years: set[int]) -> dict[str, Series]:
    kept = {name: rows.take(~np.isin(parts.years(rows.time), list(years))) for name, rows in channels.items()}
    return {name: rows for name, rows in kept.items() if len(rows)}


def _difference(held: Mapping[str, Series], made: Mapping[str, Series]) -> str:
    """How two sets of readings differ, in words; empty if they do not, row for row."""
    told = []
    for name in sorted({*held, *made}):
        a, b = held.get(name, EMPTY), made.get(name, EMPTY)
        if len(a) != len(b):
            told.append(f"probe {name}: {len(a):,} readings are kept, {len(b):,} were read")
            continue
        other = {c: _unequal(getattr(a, c), getattr(b, c)) for c in TYPES}
        told += [f"probe {name}: {count:,} differ in {column}" for column, count in other.items() if count]
    return "; ".join(told[:NAMED])


def _unequal(a: np.ndarray, b: np.ndarray) -> int:
    both_missing = (a != a) & (b != b)
    return int(np.count_nonzero((a != b) & ~both_missing))


__all__ = ["CheckReport", "check", "rebuilt"]
