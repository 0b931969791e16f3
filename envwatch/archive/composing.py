"""A logger's readings, composed afresh after a change: merged, marked, and written where they differ."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from sqlalchemy import Connection, select, update

from envwatch.archive import parts
from envwatch.archive.dates import now_text
from envwatch.archive.series import EMPTY, NAMES, TYPES, Series, Tally, joined, marked, merge
from envwatch.archive.sql import put
from envwatch.archive.tables import PARTS

if TYPE_CHECKING:
    from envwatch.archive.studio import Studio


@dataclass
class Change:
    """What is to happen to one logger's readings, and what came of it."""

    new: dict[str, list[Series]] = field(default_factory=dict)  # by channel, one series a file
    drop: set[int] = field(default_factory=set)  # files that leave
    refill: dict[str, dict[int, Series]] = field(default_factory=dict)  # what other files read where one left
    rounding: dict[tuple[int, str], tuple[int, int]] = field(default_factory=dict)  # decimals by file and channel
    tallies: dict[tuple[int, str], Tally] = field(default_factory=dict)
    marked: dict[int, dict[str, int]] = field(default_factory=dict)  # readings by mark, for each file

    def add(self, channel: str, rows: Series) -> None:
        """A file's readings to be merged in."""
        self.new.setdefault(channel, []).append(rows)


def recompose(studio: Studio, connection: Connection, logger: str, change: Change, written: list[str]) -> None:
    """Compose a logger's readings with a change, and write the years that differ as new parts.

    The parts become those that hold when the transaction commits; their paths are added to `written`.
    """
    held = select(PARTS).where(PARTS.c.logger == logger, PARTS.c.superseded_at == "").order_by(PARTS.c.year)
    old_parts = connection.execute(held).mappings().all()
    old = studio.reader.series([parts.of_row(part) for part in old_parts])
    now = {name: compose(old.get(name, EMPTY), name, change) for name in sorted({*old, *change.new, *change.refill})}
    before, after = parts.by_year(old), parts.by_year(now)
    for year in sorted({*before, *after}):
        if not _same(before.get(year, {}), after.get(year, {})):
            _supersede(connection, [part["id"] for part in old_parts if part["year"] == year])
            if year in after:
                _write(studio, connection, logger, year, after[year], written)


def compose(old: Series, channel: str, change: Change) -> Series:
    """One channel's rows after a change, marked. What files read again only fills instants that were vacated."""
    refill: list[Series] = []
    if change.drop:
        gone = np.isin(old.file, list(change.drop))
        vacated, old = old.time[gone], old.take(~gone)
        files = change.refill.get(channel, {}).values()
        refill = [rows.take(np.isin(rows.time, vacated)) for rows in files]
    new = change.new.get(channel, [])
    rounding = {file: to for (file, name), to in change.rounding.items() if name == channel}
    rows, tallies = merge(old, [part for part in (*refill, *new) if len(part)], rounding)
    numbers = {int(part.file[0]) for part in new}
    change.tallies |= {(file, channel): tally for file, tally in tallies.items() if file in numbers}
    rows = marked(rows)
    _count_marks(rows, numbers, change)
    return rows


def _count_marks(rows: Series, numbers: set[int], change: Change) -> None:
    odd = rows.take(rows.marks != 0)
    for bit, name in NAMES.items():
        files, counts = np.unique(odd.file[(odd.marks & bit) != 0], return_counts=True)
        for file, count in zip(files.tolist(), counts.tolist(), strict=True):
            if file in numbers:
                of_file = change.marked.setdefault(file, {})
                of_file[name] = of_file.get(name, 0) + count


def _same(before: dict[str, Series], after: dict[str, Series]) -> bool:
    return before.keys() == after.keys() and all(
        len(before[name]) == len(after[name])
        and all(np.array_equal(getattr(before[name], c), getattr(after[name], c), equal_nan=kind is float)
                for c, kind in TYPES.items())
        for name in before
    )  # fmt: skip


def rewrite(studio: Studio, logger: str, years: dict[int, dict[str, Series]]) -> None:
    """Write years of a logger as new parts, in the place of those that hold, in a transaction of its own."""
    written: list[str] = []
    with studio.saving() as connection:
        for year, channels in years.items():
            held = select(PARTS.c.id).where(PARTS.c.logger == logger, PARTS.c.year == year, PARTS.c.superseded_at == "")
            _supersede(connection, list(connection.execute(held).scalars()))
            _write(studio, connection, logger, year, channels, written)


def _supersede(connection: Connection, ids: list[int]) -> None:
    connection.execute(update(PARTS).where(PARTS.c.id.in_(ids)).values(superseded_at=now_text()))


def _write(
    studio: Studio, connection: Connection, logger: str, year: int, channels: dict[str, Series], written: list[str]
) -> None:
    number = put(connection, PARTS, logger=logger, year=year)
    part = parts.write(studio.folder, logger, year, number, channels)
    written.append(part.path)
    connection.execute(update(PARTS).where(PARTS.c.id == number).values(
        path=part.path, rows=part.rows, first_us=part.first_us, last_us=part.last_us, sha256=part.sha256,
    ))  # fmt: skip


__all__ = ["Change", "compose", "joined", "recompose"]
