"""Whether a file's record is one with a logger's: by the instants that both have, else by how one goes on.

The figures are our judgement: two records that read the same by chance for so long have not been met with.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from envwatch.archive.intake.merge import equal_to, places_of
from envwatch.core.arrays import Array, Mask, Whole
from envwatch.core.readings import Series, joined

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

SHARED, TURNS, SELDOM = 12, 12, 0.02  # one record: equal instants, changes among them, share that may differ
DIFFERING = 0.1  # share of the shared instants from which two records contradict each other
CORRECTED = 0.25  # share up to which what differs may be corrections of one record
CORRECTED_BY = 3.05, 10.05  # °C, % RH: a correction of all readings is no larger
NEAR = 2000  # rows beside a junction by which it is judged
STEADY = 1.2  # ratio of two intervals that are the same
QUANTITIES = (  # a step that is none; how far it may drift in a day of a gap longer than the record; words
    ("temp_c", "°C", 0.5, 0.5, ("colder", "warmer")),
    ("rh_percent", "% RH", 2.0, 2.0, ("drier", "damper")),
)
MINUTE_US, DAY_US = 60_000_000, 86_400_000_000
FAR_US = 3 * DAY_US  # a gap after which a record is no longer seen to go on


@dataclass(frozen=True)
class Fit:
    """A file's readings beside a logger's.

    `shared` instants, `differing` of them, `turns` of the reading among them; `between`: readings of the file that lie
    between two of the logger's own. `apart`: why it cannot go on from the logger's record, in words; empty: it can.
    `far`: the gap between the two in words, where it is so long that values say little. `shift`: by how much all
    readings of the one differ from the other's at the same instants, in words; empty: not all by the same.
    """

    shared: int = 0
    differing: int = 0
    turns: int = 0
    between: int = 0
    apart: str = ""
    far: str = ""
    shift: str = ""

    @property
    def corrected(self) -> str:
        """How the two are one record that somebody corrected, in words; empty where that is not seen."""
        if self.shared < SHARED or self.turns < TURNS or self.equal:
            return ""
        return self.shift or (
            f"but {self.differing} of the {self.shared} that both have differ"
            if self.differing <= CORRECTED * self.shared else "")  # fmt: skip

    @property
    def equal(self) -> bool:
        """The two are one record."""
        enough = self.shared >= SHARED and self.turns >= TURNS
        return enough and self.differing <= SELDOM * self.shared

    @property
    def contradicts(self) -> bool:
        """One logger cannot have written both."""
        return self.differing > DIFFERING * self.shared or (self.shared < SHARED and self.between > 2)

    @property
    def follows(self) -> bool:
        """It may be the same logger's: no contradiction, and it goes on plausibly."""
        return not self.contradicts and not self.apart

    @property
    def words(self) -> str:
        """What speaks against it; empty where nothing does."""
        if self.differing > DIFFERING * self.shared:
            return f"{self.differing} of the {self.shared} instants that both have differ"
        if self.contradicts:
            return f"{self.between} of its readings lie between two of that logger's"
        return self.apart or self.far


def beside(studio: StudioFolder, logger: str, new: Mapping[str, Series]) -> dict[str, Series]:
    """What is kept of a logger over a file's time, with the years next to it."""
    start, end = _span(new)
    parts = studio.state().parts.get(logger, [])
    before = [part for part in parts if part.first_us < start]
    after = [part for part in parts if part.last_us > end]
    near = {*before[-1:], *after[:1], *(part for part in parts if part.first_us <= end and part.last_us >= start)}
    return studio.reader.series([part for part in parts if part in near])


def overlaps(studio: StudioFolder, new: Mapping[str, Series]) -> list[str]:
    """Loggers of which something is kept over a file's time."""
    start, end = _span(new)
    held = studio.state().parts.items()
    return [id for id, parts in held if any(part.first_us <= end and part.last_us >= start for part in parts)]


def _span(new: Mapping[str, Series]) -> tuple[int, int]:
    return min(int(rows.time[0]) for rows in new.values()), max(int(rows.time[-1]) for rows in new.values())


def in_time(parts: Iterable[Series]) -> Series:
    """Rows of several series, in the order of time."""
    rows = joined(list(parts))
    return rows if (np.diff(rows.time) >= 0).all() else rows.take(np.argsort(rows.time, kind="stable"))


def fit(new: Mapping[str, Series], held: Mapping[str, Series]) -> Fit:
    """A file's probes beside a logger's of the same names, or one beside one. Where nothing is kept all fits."""
    pairs = [(rows, held[name]) for name, rows in new.items() if name in held]
    if not pairs and len(new) == len(held) == 1:
        pairs = [(*new.values(), *held.values())]
    if not held or not pairs:
        return Fit(apart="its probes bear other names" if held else "")
    fits = [_pair(*pair) for pair in pairs]
    sums = {name: sum(getattr(one, name) for one in fits) for name in ("shared", "differing", "turns", "between")}
    why = {name: next(filter(None, (getattr(one, name) for one in fits)), "") for name in ("apart", "far", "shift")}
    return Fit(**sums, **why)


def _pair(a: Series, b: Series) -> Fit:
    _, at_a, at_b = np.intersect1d(a.time, b.time, return_indices=True)
    one, other = a.take(at_a), b.take(at_b)
    turns = (np.diff(one.temp_c) != 0) | (np.abs(np.diff(one.rh_percent)) > 0)
    found = Fit(len(at_a), int(np.count_nonzero(~_same(one, other))), int(np.count_nonzero(turns)))
    if len(at_a):
        return replace(found, between=_between(np.delete(a.time, at_a), b.time), shift=_shift(one, other))
    return replace(found, between=_between(a.time, b.time), apart=_apart(a, b), far=_far(a, b))


def _shift(one: Series, other: Series) -> str:
    """By how much a record lies off another, where it does so alike in all but seldom a reading; else nothing."""
    told = []
    for (name, unit, *_), most in zip(QUANTITIES, CORRECTED_BY, strict=True):
        mine, theirs = getattr(one, name), getattr(other, name)
        known = np.isfinite(mine) & np.isfinite(theirs)
        off = float(np.median(mine[known] - theirs[known])) if known.any() else 0.0
        by = off, round(off, min(places_of(mine), places_of(theirs)))  # what is written is rounded after a correction
        if abs(off) > most or all(
            np.count_nonzero(~_alike(mine[known], theirs[known] + one_off)) > SELDOM * len(one) for one_off in by
        ):
            return ""
        told += [f"{abs(off):.1f} {unit} {'more' if off > 0 else 'less'}"] if abs(off) >= 0.05 else []
    return f"all of them {' and '.join(told)}" if told else ""


def _same(one: Series, other: Series) -> Mask:
    """Where two readings of an instant differ by no more than rounding; humidity that one lacks says nothing."""
    temps = one.temp_c, other.temp_c
    humid = one.rh_percent, other.rh_percent
    silent = np.isnan(humid[0]) | np.isnan(humid[1])
    return _alike(*temps) & (silent | _alike(*humid))


def _alike(a: Array, b: Array) -> Mask:
    return equal_to(a, b, min(places_of(a), places_of(b)))


def _between(time: Whole, held: Whole) -> int:
    """How many instants lie between two that are kept, no further apart than that record's interval."""
    after = np.searchsorted(held, time)
    inside = after[(after > 0) & (after < len(held))]
    return int(np.count_nonzero(held[inside] - held[inside - 1] <= 1.5 * _step(held))) if len(inside) else 0


def _step(time: Whole) -> float:
    """The interval of a record; NaN of less than three readings. [µs]"""
    return float(np.median(np.diff(time))) if len(time) > 2 else np.nan


def _apart(a: Series, b: Series) -> str:
    """Why a record cannot go on from another that shares no instant with it."""
    at = int(np.searchsorted(b.time, a.time[0]))
    before, after = b.take(slice(max(at - NEAR, 0), at)), b.take(slice(at, at + NEAR))
    head, tail = a.take(slice(0, NEAR)), a.take(slice(max(len(a) - NEAR, 0), len(a)))
    found = (_junction(before, head, "begins", "after that record ends") if len(before) else "",
             _junction(tail, after, "ends", "before that record begins") if len(after) else "")  # fmt: skip
    return next(filter(None, found), "")


def _far(a: Series, b: Series) -> str:
    at = int(np.searchsorted(b.time, a.time[0]))
    gaps = [(int(a.time[0] - b.time[at - 1]), "begins", "after that record ends")] if at else []
    gaps += [(int(b.time[at] - a.time[-1]), "ends", "before that record begins")] if at < len(b) else []
    gap, verb, where = min(gaps)
    return f"it {verb} {_long(gap)} {where}" if gap > FAR_US else ""


def _junction(left: Series, right: Series, verb: str, where: str) -> str:
    steps = [_step(left.time), _step(right.time)]
    own, other = steps[::-1] if verb == "begins" else steps
    if max(steps) > STEADY * min(steps):  # never with NaN
        return f"it reads every {own / MINUTE_US:g} min, that logger every {other / MINUTE_US:g} min"
    gap = int(right.time[0] - left.time[-1])
    sign = 1 if verb == "begins" else -1
    for name, unit, floor, drift, words in QUANTITIES:
        before, after = getattr(left, name), getattr(right, name)
        jump = sign * float(after[0] - before[-1])
        if abs(jump) > max(floor, _changes(before, gap, left, drift), _changes(after, gap, right, drift)):
            return f"it {verb} {abs(jump):.1f} {unit} {words[jump > 0]}, {_long(gap)} {where}"
    return ""


def _changes(values: Array, gap: int, rows: Series, drift: float) -> float:
    """By how much a record changes at most over so long a time; over longer than it lasts, and a drift."""
    step, known = _step(rows.time), np.isfinite(values)
    lag = max(round(gap / step), 1) if step > 0 else len(values)
    if lag < len(values) // 2:
        changes = np.abs(values[lag:] - values[:-lag])
        return float(changes[np.isfinite(changes)].max(initial=0.0))
    return float(np.ptp(values[known]) if known.any() else 0.0) + drift * gap / DAY_US


def _long(gap: int) -> str:
    minutes = gap / MINUTE_US
    if minutes < 120:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 2880 else f"{minutes / 1440:.0f} days"
