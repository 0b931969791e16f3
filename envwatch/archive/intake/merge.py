"""A logger's readings, composed afresh after a change: merged, marked, and written where they differ.

A reading's key is its instant. The same values again are a duplicate; differing values are a conflict: both rows
are kept and marked, and whoever judges takes the harsher of each quantity.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
from sqlalchemy import Connection, select, update

from envwatch.archive.store import parts
from envwatch.archive.store.records import put
from envwatch.archive.store.tables import PARTS
from envwatch.core.dates import now_text
from envwatch.core.readings import EMPTY, TYPES, Series, joined
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.marks import CONFLICT, MARK_NAMES
from envwatch.logs.quality.scan import PIECE

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

WRITTEN_TO = 3  # decimals beyond which a reading's digits come from a change of unit
FEW = 50  # readings from which a file's decimals cannot be told
ROUNDS = 8  # so many different readings of one instant are told apart; more than that are all kept
MANY_ROWS = 500_000  # from here on a second thread writes parts too


def decimals(values: np.ndarray) -> int:
    """To how many decimals readings were written, 0 to `WRITTEN_TO`; from few readings, not less than 2.

    >>> decimals(np.tile([20.1, 20.3], 100)), decimals(np.array([20.0, 21.0]))
    (1, 2)
    """
    few = np.count_nonzero(np.isfinite(values[: 2 * FEW])) < FEW and np.count_nonzero(np.isfinite(values)) < FEW
    return places_of(values, 2 if few else 0)


def places_of(values: np.ndarray, places: int = 0) -> int:
    """To how many decimals numbers are written, `places` to `WRITTEN_TO`."""
    for at in range(0, len(values), PIECE):
        some = values[at : at + PIECE]
        some = some[np.isfinite(some)]
        while places < WRITTEN_TO and not (np.abs(some - np.round(some, places)) < 1e-6).all():
            places += 1
        if places == WRITTEN_TO:
            break
    return places


@dataclass(frozen=True)
class Tally:
    """What became of one file's readings: each is counted once."""

    new: int = 0
    duplicate: int = 0
    conflict: int = 0


def merge(
    old: Series, new: Sequence[Series], written_to: dict[int, tuple[int, int]]
) -> tuple[Series, dict[int, Tally]]:
    """Downloads merged into what is stored.

    Parameters
    ----------
    old : stored rows, ordered by time.
    new : one series a file, each ordered by time, with the file's number.
    written_to : decimals of temperature and humidity by file number. A difference within the rounding of the
        coarser of two files is none.

    Returns
    -------
    (all rows, ordered by time; a tally for each new file). Marks of the rows are not yet set.
    """
    everything = joined([old, *new])
    numbers = [int(series.file[0]) for series in new if len(series)]
    if (np.diff(everything.time) > 0).all():  # nothing stands twice
        return everything, {number: Tally(sum(len(s) for s in new if len(s) and s.file[0] == number))
                            for number in dict.fromkeys(numbers)}  # fmt: skip
    order = np.argsort(everything.time, kind="stable")
    rows = everything if (np.diff(order) > 0).all() else everything.take(order)
    is_new = order >= len(old)
    repeated = np.zeros(len(rows), bool)
    same = rows.time[1:] == rows.time[:-1]
    repeated[1:] |= same
    repeated[:-1] |= same
    if repeated.any():  # rows of one instant stand in the order of their files, however they came
        at = np.flatnonzero(repeated)
        place = np.arange(len(rows))
        place[at] = at[np.lexsort((rows.line[at], rows.file[at], rows.time[at]))]
        rows, is_new = rows.take(place), is_new[place]
    fate = np.zeros(len(rows), np.int8)  # 0 new, 1 duplicate (of a row that stays), 2 conflict
    keep = np.ones(len(rows), bool)
    if repeated.any():
        at = np.flatnonzero(repeated)
        keep[at], fate[at] = _settle(rows.take(at), written_to)
    tallies = _tallies(rows.file[is_new], fate[is_new], numbers)
    return (rows if keep.all() else rows.take(keep)), tallies


def _tallies(file: np.ndarray, fate: np.ndarray, numbers: Sequence[int]) -> dict[int, Tally]:
    return {
        number: Tally(*(int(n) for n in np.bincount(fate[file == number], minlength=3)))
        for number in dict.fromkeys(numbers)
    }


def _settle(rows: Series, written_to: dict[int, tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    """Which rows of repeated instants stay, and what became of each: (keep, fate).

    Each round takes the best row of each instant (most complete, most decimals, lowest) and drops those equal to it;
    what is left differs from it and goes into the next round.
    """
    temp_to, rh_to = _by_file(rows.file, written_to)
    missing = np.isnan(rows.temp_c).astype(np.int8) + np.isnan(rows.rh_percent)
    keep, fate = np.ones(len(rows), bool), np.zeros(len(rows), np.int8)
    best = rows.line, rows.file, rows.rh_percent, rows.temp_c, -(temp_to + rh_to), missing
    left = np.lexsort((*best, rows.time))
    for _ in range(ROUNDS):
        first = np.append(True, np.diff(rows.time[left]) != 0)
        base = left[np.flatnonzero(first)][np.cumsum(first) - 1]
        equal = _equal(rows, left, base, temp_to, rh_to)
        keep[left[equal & ~first]] = False
        fate[left[equal]] = 1
        earliest = _first_read(rows, left[equal])
        fate[earliest] = 2
        left = left[~equal]
        if not len(left):
            break
    fate[left] = 2
    fate[_first_read(rows, np.arange(len(rows)))] = 0
    return keep, fate


def _by_file(file: np.ndarray, written_to: dict[int, tuple[int, int]]) -> tuple[np.ndarray, np.ndarray]:
    numbers, inverse = np.unique(file, return_inverse=True)
    table = np.array([written_to.get(int(number), (WRITTEN_TO, WRITTEN_TO)) for number in numbers])
    return table[inverse, 0], table[inverse, 1]


def _equal(rows: Series, a: np.ndarray, b: np.ndarray, temp_to: np.ndarray, rh_to: np.ndarray) -> np.ndarray:
    """Whether row a says nothing else than row b, which is at least as complete."""
    out = np.ones(len(a), bool)
    for values, places in ((rows.temp_c, temp_to), (rows.rh_percent, rh_to)):
        out &= np.isnan(values[a]) | equal_to(values[a], values[b], np.minimum(places[a], places[b]))
    return out


def equal_to(a: np.ndarray, b: np.ndarray, places: np.ndarray | int) -> np.ndarray:
    """Whether two numbers are the same but for rounding to so many decimals; not where one is NaN."""
    return np.abs(a - b) <= 0.5 * 10.0 ** -np.asarray(places, float) + 1e-6


def _first_read(rows: Series, at: np.ndarray) -> np.ndarray:
    """Of rows in any order, the one of each instant that came first."""
    at = at[np.lexsort((rows.line[at], rows.file[at], rows.time[at]))]
    return at[np.append(True, np.diff(rows.time[at]) != 0)] if len(at) else at


def marked(series: Series) -> Series:
    """The series with its quality marks set afresh, and the mark of a conflict where an instant has several rows.

    The mark of a bound stays: values alone do not show it.
    """
    bound = series.marks & np.uint16(quality.BOUND_TEMP | quality.BOUND_RH)
    if (np.diff(series.time) > 0).all():
        marks = quality.mark(series.time, series.temp_c, series.rh_percent)
        return replace(series, marks=marks | bound)
    time, start, count = np.unique(series.time, return_index=True, return_counts=True)
    marks = np.zeros(len(series), np.uint16)
    by_value = np.lexsort((series.rh_percent, series.temp_c, series.time))  # the same in whichever order files came
    for rank in range(min(int(count.max(initial=0)), ROUNDS)):
        at = by_value[start + np.minimum(rank, count - 1)]
        marks[at] = quality.mark(time, series.temp_c[at], series.rh_percent[at])
    several = np.repeat(count > 1, count)
    marks[several] |= np.uint16(CONFLICT)
    return replace(series, marks=marks | bound)


# ------------------------------------------------------------------------------------------- a logger's parts


@dataclass
class MergePlan:
    """What is to happen to one logger's readings, and what came of it."""

    new: dict[str, list[Series]] = field(default_factory=lambda: defaultdict(list))  # by channel, one series a file
    drop: set[int] = field(default_factory=set)  # files that leave
    refill: dict[str, dict[int, Series]] = field(default_factory=dict)  # what other files read where one left
    back: dict[str, list[Series]] = field(default_factory=lambda: defaultdict(list))  # as a file was kept before
    held_for: str = ""  # what the parts are held for that give way to the change; else a sweep takes them
    rounding: dict[tuple[int, str], tuple[int, int]] = field(default_factory=dict)  # decimals by file and channel
    tallies: dict[tuple[int, str], Tally] = field(default_factory=dict)
    marked: dict[int, dict[str, int]] = field(default_factory=dict)  # readings by mark, for each file
    as_hung: Callable[..., Series] = lambda rows, channel: rows  # with the marks that count where it hung


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
    years = sorted({*before, *after})
    changed = [year for year in years if year not in before or not _same(before[year], after.get(year, {}))]
    if gone := [part["id"] for part in old_parts if part["year"] in changed]:
        _supersede(connection, gone, change.held_for)
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
    if numbers and (as_hung := change.as_hung(rows, channel=channel)).marks.any():
        _count_marks(as_hung, numbers, change)
    return rows


def _count_marks(rows: Series, numbers: set[int], change: MergePlan) -> None:
    at = np.flatnonzero(rows.marks)
    marks, file = rows.marks[at], rows.file[at]
    present = int(np.bitwise_or.reduce(marks))
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
    """Write years as parts, two at a time where there is much; all are on disk before any is in the register."""
    numbers = {year: put(connection, PARTS, logger=logger, year=year) for year in years}

    def one(year: int) -> parts.Part:
        part = parts.write(studio.journal, logger, year, numbers[year], years[year])
        written.append(part.path)
        return part

    todo, made = list(years), []
    rows = sum(len(series) for channels in years.values() for series in channels.values())
    if len(todo) < 2 or rows < MANY_ROWS:
        made = [one(year) for year in todo]
    else:
        with ThreadPoolExecutor(2) as pool:
            try:
                made = list(pool.map(one, todo))
            except BaseException:
                pool.shutdown(cancel_futures=True)  # none is under way any more when this ends
                raise
    for part in made:
        connection.execute(update(PARTS).where(PARTS.c.id == numbers[part.year]).values(
            path=part.path, rows=part.rows, first_us=part.first_us, last_us=part.last_us, sha256=part.sha256,
        ))  # fmt: skip
