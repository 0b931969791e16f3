"""Is the folder whole, and do its originals still give the same readings?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from sqlalchemy import select

from envwatch.archive.intake import cleanup
from envwatch.archive.intake.keep import reread, rounding_of
from envwatch.archive.intake.merge import MergePlan, compose, rewrite
from envwatch.archive.store import files, originals, parts, trust
from envwatch.archive.store.originals import to_json, unjson
from envwatch.archive.store.parts import Part
from envwatch.archive.store.records import found, in_order, put
from envwatch.archive.store.tables import ACCEPTED, BATCHES, FILES, TRAY
from envwatch.archive.store.writing import user
from envwatch.core.dates import now_text
from envwatch.core.errors import BadInput, EnvwatchError, StudioError
from envwatch.core.readings import EMPTY, TYPES, Series

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Progress = Callable[[int, int, str], None] | None
NAMED = 3  # so many differing readings are named one by one
ONLY_READ = "the folder may only be read"
AMISS = "something is amiss"


@dataclass(frozen=True)
class CheckReport:
    """`problems`: one line each. `swept`: leftovers of a crash that were cleared away. `repaired`: what was mended.
    `strays`: what lies in the folder and is not envwatch's; it is left alone. `counts`: what was looked at.
    `accepted`: when and why a register that was not right was taken as it stood. `only_looked`: why nothing was swept
    or mended; empty where it was."""

    problems: tuple[str, ...] = ()
    swept: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    strays: tuple[str, ...] = ()
    counts: dict[str, int] = field(default_factory=dict)
    accepted: tuple[str, ...] = ()
    only_looked: str = ""


@dataclass
class _Work:
    studio: StudioFolder
    progress: Progress
    problems: list[str] = field(default_factory=list)
    repaired: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)

    trusted: bool = True

    @property
    def may_mend(self) -> bool:
        """Whether the register is right and the folder may be written to."""
        return not self.studio.home.only_read and self.trusted


def check(studio: StudioFolder, rebuild: bool = False, progress: Progress = None) -> CheckReport:
    """Look the folder over. See `Studio.check`."""
    with nullcontext() if studio.home.only_read else studio.writing("checking the archive"):
        work = _Work(studio, progress)
        _register(work)
        _originals(work)
        broken = _parts(work)
        if rebuild:
            _rebuild(work, broken)
        elif broken:
            work.problems.append("the readings can be made again from the originals: envwatch check --rebuild")
        only_looked = ONLY_READ if studio.home.only_read else AMISS if work.problems else ""
        swept = () if only_looked else tuple(cleanup.sweep(studio))
        _unregistered(work)
        strays = tuple(cleanup.strays(studio))
    return CheckReport(tuple(work.problems), swept, tuple(work.repaired), strays, work.counts, tuple(accepted(studio)),
                       only_looked)  # fmt: skip


def accept(studio: StudioFolder, because: str) -> tuple[str, ...]:
    """Take a register whose rows are not right as it stands, with a reason; what was not right, a line each.

    Raises
    ------
    BadInput : no reason, or nothing is amiss.
    """
    if not because.strip():
        raise BadInput("say why the register is right as it stands; the reason is kept", field="accept")
    with studio.writing("taking the register as it stands"):
        lines = tuple(trust.amiss(studio))
        if not lines:
            raise BadInput("nothing is amiss with the register; there is nothing to accept", field="accept")
        with studio.saving() as connection:
            studio.home.settle(connection)
            put(connection, ACCEPTED, on=now_text(), by=user(), because=" ".join(because.split()), rows=to_json(lines))
    return lines


def accepted(studio: StudioFolder) -> Iterator[str]:
    """When, by whom and why a register that was not right was taken as it stood, a line each."""
    with studio.reading() as connection:
        rows = found(connection, in_order(ACCEPTED))
    for row in rows:
        by = f" by {row['by']}" if row["by"] else ""
        yield f"{row['on'][:10]}{by}, because {row['because']}: {'; '.join(unjson(row['rows'])[:NAMED])}"


def _tell(work: _Work, items: list, what: str) -> Iterator:
    for done, item in enumerate(items):
        if work.progress:
            work.progress(done, len(items), what)
        yield item


def _register(work: _Work) -> None:
    work.problems += trust.amiss(work.studio)
    with work.studio.reading() as connection:
        work.problems += work.studio.home.damage(connection)
    work.trusted = not work.problems


def _rows(work: _Work) -> list[dict[str, Any]]:
    with work.studio.reading() as connection:
        return [row for table in (FILES, TRAY) for row in found(connection, in_order(table))]


def _originals(work: _Work) -> None:
    """Every file the register names is there byte for byte, with its sidecar."""
    folder, rows = work.studio.folder, _rows(work)
    for row in _tell(work, rows, "original files"):
        path = originals.original(folder, row["sha256"], row["suffix"])
        if problem := originals.harm(row, originals.found(path)):
            work.problems.append(problem)
        elif differs := originals.sidecar_differs(folder, row):
            _sidecar(work, row, f"originals/{row['sha256']}{originals.SIDECAR}: {differs}")
    work.counts["original files"] = len(rows)


def _sidecar(work: _Work, row: Mapping[str, Any], what: str) -> None:
    """It is written again from the register, where that is right."""
    if work.may_mend and originals.write_sidecar(work.studio.journal, row):
        work.repaired.append(f"{what}; it was written again from the register")
    else:
        work.problems.append(f"{what}; whether it or the register is right is not known, and it stays as it is")


def _unregistered(work: _Work) -> None:
    """No original is there besides those that the register names."""
    known = {row["sha256"] for row in _rows(work)}
    strange = [path for path in work.studio.folder.glob("originals/*")
               if path.stem not in known and cleanup.unregistered(path)]  # fmt: skip
    work.problems += [f"originals/{path.name}: not in the register; if an older register was put back, add it again"
                      for path in strange]  # fmt: skip


def _parts(work: _Work) -> set[str]:
    """Paths of parts that are gone or not as they were written."""
    try:
        held = [part for of_logger in work.studio.state().parts.values() for part in of_logger]
    except StudioError as error:
        work.problems.append(error.sentence)
        return set()
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
        if years and work.may_mend:
            _write_again(work, logger, made, [part for part in held if part.path in broken])
        difference = _difference(studio.reader.series(sound), _leaving_out(made, years))
        if difference:
            work.problems.append(f"logger {logger}: its originals now read differently ({difference}). {_left(years)}")


def _left(years: set[int]) -> str:
    """What became of readings whose originals read differently now."""
    if not years:
        return "Nothing was changed; the readings stay as they were first read"
    over = ", ".join(map(str, sorted(years)))
    return f"The readings of {over} were gone or changed; those of other years stay as they were first read"


def _write_again(work: _Work, logger: str, made: Mapping[str, Series], broken: list[Part]) -> None:
    """Broken parts from the originals; each says whether it is what it was."""
    years = {part.year for part in broken}
    rewrite(work.studio, logger, {year: rows for year, rows in parts.by_year(made).items() if year in years})
    now = {part.year: part for part in work.studio.state().parts.get(logger, ())}
    work.problems = [line for line in work.problems if line.partition(":")[0] not in {part.path for part in broken}]
    for part in broken:
        if part.year not in now:
            what = "no reading of it is in the originals as they read now; it is gone"
            work.problems.append(f"{part.path}: {what}")
        elif now[part.year].sha256 == part.sha256:
            work.repaired.append(f"{part.path}: written again from the originals, byte for byte as it was")
        else:
            rows = now[part.year].rows
            work.repaired.append(f"{part.path}: written again from the originals as they read now, {rows:,} readings; "
                                 f"it held {part.rows:,}, and they are not byte for byte those")  # fmt: skip


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


__all__ = ["CheckReport", "accept", "accepted", "check", "rebuilt"]
