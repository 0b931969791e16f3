"""A logger's readings, composed afresh after a change: merged, marked, and written where they differ."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from sqlalchemy import Connection, select, update

from envwatch.archive.intake.merge import Tally, marked, merge
from envwatch.archive.store import parts
from envwatch.archive.store.sql import put
from envwatch.archive.store.tables import PARTS
from envwatch.core.dates import now_text
from envwatch.core.readings import EMPTY, TYPES, Series, joined
from envwatch.logs.quality.marks import MARK_NAMES

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

MANY_ROWS = 500_000  # from here on a second thread writes parts too


@dataclass
class MergePlan:
    """What is to happen to one logger's readings, and what came of it."""

    new: dict[str, list[Series]] = field(default_factory=dict)  # by channel, one series a file
    drop: set[int] = field(default_factory=set)  # files that leave
    refill: dict[str, dict[int, Series]] = field(default_factory=dict)  # what other files read where one left
    back: dict[str, list[Series]] = field(default_factory=lambda: defaultdict(list))  # as a file was kept before
    held_for: str = ""  # what the parts are held for that give way to the change; else a sweep takes them
    rounding: dict[tuple[int, str], tuple[int, int]] = field(default_factory=dict)  # decimals by file and channel
    tallies: dict[tuple[int, str], Tally] = field(default_factory=dict)
    marked: dict[int, dict[str, int]] = field(default_factory=dict)  # readings by mark, for each file
    as_hung: Callable[[Series, str], Series] = lambda rows, _channel: rows  # with the marks that count where it hung

    def add(self, channel: str, rows: Series) -> None:
        """A file's readings to be merged in."""
        self.new.setdefault(channel, []).append(rows)


def recompose(studio: StudioFolder, connection: Connection, logger: str, change: MergePlan, written: list[str]) -> None:
    """Compose a logger's readings with a change, and write the years that differ as new parts.

    The parts become those that hold when the transaction commits; their paths are added to `written`.
    """
    held = select(PARTS).where(PARTS.c.logger == logger, PARTS.c.superseded_at == "").order_by(PARTS.c.year)
    old_parts = connection.execute(held).mappings().all()
    old = studio.reader.series([parts.of_row(part) for part in old_parts])
    names = sorted({*old, *change.new, *change.refill, *change.back})
    now = {name: compose(old.get(name, EMPTY), name, change) for name in names}
    before, after = parts.by_year(old), parts.by_year(now)
    changed = [year for year in sorted({*before, *after}) if not _same(before.get(year, {}), after.get(year, {}))]
    _supersede(connection, [part["id"] for part in old_parts if part["year"] in changed], change.held_for)
    _write(studio, connection, logger, {year: after[year] for year in changed if year in after}, written)


def compose(old: Series, channel: str, change: MergePlan) -> Series:
    """One channel's rows after a change, marked. What files read again only fills instants that were vacated."""
    refill: list[Series] = []
    if change.drop:
        gone = np.isin(old.file, list(change.drop))
        vacated, old = old.time[gone], old.take(~gone)
        files = change.refill.get(channel, {}).values()
        refill = [rows.take(np.isin(rows.time, vacated)) for rows in files]
    new = change.new.get(channel, [])
    rounding = {file: to for (file, name), to in change.rounding.items() if name == channel}
    back = change.back.get(channel, [])
    rows, tallies = merge(old, [part for part in (*refill, *back, *new) if len(part)], rounding)
    numbers = {int(part.file[0]) for part in new}
    change.tallies |= {(file, channel): tally for file, tally in tallies.items() if file in numbers}
    rows = marked(rows)
    _count_marks(change.as_hung(rows, channel), numbers, change)
    return rows


def _count_marks(rows: Series, numbers: set[int], change: MergePlan) -> None:
    at = np.flatnonzero(rows.marks)
    marks, file = rows.marks[at], rows.file[at]
    present = int(np.bitwise_or.reduce(marks)) if len(marks) else 0
    for bit, name in MARK_NAMES.items():
        if not present & bit:
            continue
        counts = np.bincount(file[(marks & bit) != 0])
        for number in numbers:
            if number < len(counts) and counts[number]:
                of_file = change.marked.setdefault(number, {})
                of_file[name] = of_file.get(name, 0) + int(counts[number])


def _same(before: dict[str, Series], after: dict[str, Series]) -> bool:
    return before.keys() == after.keys() and all(
        len(before[name]) == len(after[name])
        and all(np.array_equal(getattr(before[name], c), getattr(after[name], c), equal_nan=kind is float)
                for c, kind in TYPES.items())
        for name in before
    )  # fmt: skip


def rewrite(studio: StudioFolder, logger: str, years: dict[int, dict[str, Series]]) -> None:
    """Write years of a logger as new parts, in the place of those that hold, in a transaction of its own."""
    written: list[str] = []
    with studio.saving() as connection:
        held = select(PARTS.c.id).where(PARTS.c.logger == logger, PARTS.c.year.in_(years), PARTS.c.superseded_at == "")
        _supersede(connection, list(connection.execute(held).scalars()))
        _write(studio, connection, logger, years, written)


def _supersede(connection: Connection, ids: list[int], held_for: str = "") -> None:
    if ids:
        since = held_for or now_text()
        connection.execute(update(PARTS).where(PARTS.c.id.in_(ids)).values(superseded_at=since))


def held(studio: StudioFolder, connection: Connection, batch: int, file: int) -> dict[str, Series]:
    """A file's rows as they were kept before a batch kept it otherwise. StudioError: a part of them is gone."""
    query = select(PARTS).where(PARTS.c.superseded_at == held_for(batch)).order_by(PARTS.c.id)
    found: dict[str, list[Series]] = defaultdict(list)
    for part in connection.execute(query).mappings():
        for name, rows in studio.reader.read(parts.of_row(part)).items():
            found[name].append(rows.take(rows.file == file))
    return {name: _once(joined(rows)) for name, rows in found.items() if any(map(len, rows))}


def held_for(batch: int) -> str:
    """How parts are marked that an undo of a batch needs."""
    return f"add {batch}"


def _once(rows: Series) -> Series:
    """Each line of a file once, in the order of time."""
    _, at = np.unique(np.stack([rows.time, rows.line.astype(np.int64)]), axis=1, return_index=True)
    return rows.take(at)


def _write(
    studio: StudioFolder, connection: Connection, logger: str, years: dict[int, dict[str, Series]], written: list[str]
) -> None:
    """Write years as parts; all are on disk before any is in the register, or the first fault is raised."""
    numbers = {year: put(connection, PARTS, logger=logger, year=year) for year in years}

    def one(year: int) -> parts.Part:
        part = parts.write(studio.journal, logger, year, numbers[year], years[year])
        written.append(part.path)
        return part

    rows = sum(len(series) for channels in years.values() for series in channels.values())
    for part in _each(one, list(years), rows):
        connection.execute(update(PARTS).where(PARTS.c.id == numbers[part.year]).values(
            path=part.path, rows=part.rows, first_us=part.first_us, last_us=part.last_us, sha256=part.sha256,
        ))  # fmt: skip


def _each(work: Callable[[int], parts.Part], years: list[int], rows: int) -> list[parts.Part]:
    """The work on each year, two at a time where there is much of it. None is under way any more when this ends."""
    if len(years) < 2 or rows < MANY_ROWS:
        return [work(year) for year in years]
    with ThreadPoolExecutor(2) as pool:
        try:
            return list(pool.map(work, years))
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise


__all__ = ["MergePlan", "compose", "held", "held_for", "joined", "recompose"]
