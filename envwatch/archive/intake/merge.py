"""The stored readings of one probe, as arrays, and how downloads are merged into them.

A reading's key is its instant. The same values again are a duplicate; differing values are a conflict: both rows
are kept and marked, and whoever judges takes the harsher of each quantity.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from envwatch.core.readings import Series, joined
from envwatch.logs.quality import marks as quality
from envwatch.logs.quality.marks import CONFLICT
from envwatch.logs.quality.scan import PIECE

WRITTEN_TO = 3  # decimals beyond which a reading's digits come from a change of unit
FEW = 50  # readings from which a file's decimals cannot be told
ROUNDS = 8  # so many different readings of one instant are told apart; more than that are all kept


def rising(time: np.ndarray) -> bool:
    """Whether no instant stands twice, in time order."""
    return bool((time[1:] > time[:-1]).all())


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
    if rising(everything.time):  # nothing stands twice
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
    if rising(series.time):
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
