"""From a logger's wall clock to UTC: named zones and their changes; order, cadence and the clock's own faults.

Times are int64 microseconds. A named zone needs the readings in the order of the file: in the doubled
hour of autumn only that order tells the first pass from the second.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from envwatch.climate.series import NEIGHBOURS
from envwatch.core.errors import BadInput
from envwatch.logs.text.stamps import DAY_US, parse_offset

HOUR_US, MINUTE_US = 3_600_000_000, 60_000_000


class UtcOffset(NamedTuple):
    """The clock of a file: offsets row by row, one fixed offset, or a named zone whose clocks change."""

    kind: str  # "rows", "fixed", "zone"
    offset_min: int | None
    zone: ZoneInfo | None
    said: str
    notes: tuple[str, ...] = ()


class Transition(NamedTuple):
    """One change of the clocks: the instant, and the offsets before and after. [µs]"""

    at: int
    before: int
    after: int


class ClockEvidence(NamedTuple):
    """What the steps around the changes say about the logger's clock."""

    civil: int
    fixed: int
    impossible: int  # readings in an hour that the civil clock skipped
    seen: int  # changes inside the record


def zone_of(name: str) -> ZoneInfo | int:
    """A named zone, or a fixed offset in minutes.

    Raises
    ------
    BadInput : no such zone.

    >>> zone_of("+01:00"), zone_of("Europe/Berlin").key
    (60, 'Europe/Berlin')
    """
    text = str(name).strip()
    if text.upper() in ("UTC", "GMT", "Z"):
        return 0
    if re.match(r"(?i)(utc|gmt)?\s?[+-−]\s?\d", text):
        offset = parse_offset(text.replace(" ", ""))
        if offset is not None:
            return offset
    try:
        if not text.isprintable() or len(text) > 64:
            raise ValueError
        return ZoneInfo(text)
    except (ValueError, KeyError, OSError, IsADirectoryError):
        shown = "".join(c if c.isprintable() else "?" for c in text[:40])
        raise BadInput(
            f"No time zone is called {shown!r}. Give a name such as Europe/Berlin, or an offset such as +01:00."
        ) from None


def offset_text(minutes: int) -> str:
    """+01:00 for 60."""
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _offset_us(zone: ZoneInfo, at_us: int) -> int:
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=at_us)
    return round(moment.astimezone(zone).utcoffset().total_seconds()) * 1_000_000  # type: ignore[union-attr]


def changes(zone: ZoneInfo, first_us: int, last_us: int) -> list[Transition]:
    """All changes of a zone's offset between two UTC instants, to the minute."""
    found, step = [], 7 * DAY_US
    at, offset = first_us, _offset_us(zone, first_us)
    while at < last_us:
        ahead = min(at + step, last_us)
        then = _offset_us(zone, ahead)
        if then != offset:
            lo, hi = at, ahead
            while hi - lo > 1_000_000:
                mid = (lo + hi) // 2
                lo, hi = (mid, hi) if _offset_us(zone, mid) == offset else (lo, mid)
            instant = -(-lo // MINUTE_US) * MINUTE_US
            found.append(Transition(instant, offset, then))
        at, offset = ahead, then
    return found


def _base_offset(zone: ZoneInfo, wall: np.ndarray, table: list[Transition]) -> np.ndarray:
    """Offset of each wall time, the first pass in a doubled hour."""
    first = table[0].before if table else _offset_us(zone, int(wall.min()))
    edges = np.array([c.at + c.before for c in table], np.int64)
    offsets = np.array([first] + [c.after for c in table], np.int64)
    return offsets[np.searchsorted(edges, wall, side="right")]


def table_for(zone: ZoneInfo, wall: np.ndarray) -> list[Transition]:
    """The changes that can touch these wall times."""
    return changes(zone, int(wall.min()) - 2 * DAY_US, int(wall.max()) + 2 * DAY_US)


def evidence(zone: ZoneInfo, wall: np.ndarray, cadence_us: int) -> ClockEvidence:
    """How the steps across each change speak: doubled or skipped hour (civil), unbroken (fixed).

    wall : (n,) in rising order of the file. Only cadences up to six hours can tell; `cadence_us` is of the whole file.
    """
    civil = fixed = impossible = seen = 0
    usual_us = cadence_us
    for change in table_for(zone, wall):
        shift = change.after - change.before
        lo, hi = change.at + min(change.before, change.after), change.at + max(change.before, change.after)
        cadence_us = _cadence_about(wall, lo, usual_us)
        near = np.flatnonzero((wall >= lo - 4 * HOUR_US - cadence_us) & (wall < hi + 4 * HOUR_US + cadence_us))
        if len(near) < 2 or cadence_us > 6 * HOUR_US or not wall[near].min() < lo or not wall[near].max() >= hi:
            continue
        seen += 1
        run = wall[near[0] : near[-1] + 1]
        steps = np.diff(run)
        if shift > 0:
            inside = int(((run >= lo) & (run < hi)).sum())
            jumped = np.abs(steps - (cadence_us + shift)) <= _slack(cadence_us)
            impossible += inside
            fixed += inside > 0 or bool((np.abs(steps - cadence_us) <= _slack(cadence_us)).all())
            civil += inside == 0 and bool((jumped & (run[:-1] < hi) & (run[1:] >= lo)).any())
        else:
            back = np.abs(steps - (cadence_us + shift)) <= _slack(cadence_us)
            back &= (run[:-1] >= lo - cadence_us) & (run[1:] < hi + cadence_us)
            unbroken = bool((np.abs(steps - cadence_us) <= _slack(cadence_us)).all())
            civil += bool(back.any()) or _fell_back(steps, run, lo, hi)
            fixed += unbroken
    return ClockEvidence(civil, fixed, impossible, seen)


def _cadence_about(wall: np.ndarray, at_us: int, usual_us: int) -> int:
    """The lower median of the steps about a time: a logger may be set to another interval within a file. [µs]"""
    row = int(np.argmax(wall >= at_us))
    steps = np.sort(np.abs(np.diff(wall[max(row - NEIGHBOURS, 0) : row + NEIGHBOURS])))
    steps = steps[steps > 0]
    return int(steps[(len(steps) - 1) // 2]) if len(steps) else usual_us


def _slack(cadence_us: int) -> int:
    return max(cadence_us // 4, 2_000_000)


def _fell_back(steps: np.ndarray, run: np.ndarray, lo: int, hi: int) -> bool:
    inside = (run[:-1] >= lo) & (run[1:] >= lo) & (run[1:] < hi)
    return bool((inside & (steps < 0)).any())


def to_utc(zone: ZoneInfo, wall: np.ndarray, cadence_us: int) -> tuple[np.ndarray, int, int]:
    """UTC of civil wall times in file order (rising), the doubled hour taken apart by that order.

    Returns
    -------
    (n,) UTC; how many readings stand in a doubled hour that was passed once only (either hour may be
    right); how many stand in a skipped hour (read with the offset before the change).
    """
    table = table_for(zone, wall)
    offset = _base_offset(zone, wall, table)
    unsure = skipped = 0
    for change in table:
        if change.after > change.before:
            gap = (wall >= change.at + change.before) & (wall < change.at + change.after)
            offset[gap] = change.before
            skipped += int(gap.sum())
        else:
            unsure += _fold(wall, offset, change, _cadence_about(wall, change.at + change.after, cadence_us))
    return wall - offset, unsure, skipped


def _fold(wall: np.ndarray, offset: np.ndarray, change: Transition, cadence_us: int) -> int:
    """Give the second pass through a doubled hour its own offset, in place; rows that may be either."""
    lo, hi = change.at + change.after, change.at + change.before
    doubled = np.flatnonzero((wall >= lo) & (wall < hi))
    if not len(doubled):
        return 0
    unsure = 0
    # rows of one pass over the change lie together; an overlapping second download is a pass of its own
    for block in np.split(doubled, np.flatnonzero(np.diff(doubled) > 1) + 1):
        rows = wall[block]
        turn = -max(hi - lo - cadence_us, 0) // 2
        back = np.flatnonzero(np.diff(rows) <= turn) if cadence_us <= hi - lo else np.array([], int)
        offset[block] = change.before
        if len(back):
            offset[block[back[0] + 1 :]] = change.after
            continue
        unsure += _by_neighbours(wall, offset, block, change, cadence_us)
    return unsure


def _by_neighbours(wall, offset, block, change: Transition, cadence_us: int) -> int:
    """A doubled hour passed once: the pass that keeps the cadence with both neighbours is taken."""
    first, last = int(block[0]), int(block[-1])
    misfit = []
    for trial in (change.before, change.after):
        cost = 0.0
        if first > 0:
            cost += abs(wall[first] - trial - (wall[first - 1] - offset[first - 1]) - cadence_us)
        if last + 1 < len(wall):
            cost += abs(wall[last + 1] - offset[last + 1] - (wall[last] - trial) - cadence_us)
        misfit.append(cost)
    if misfit[1] < misfit[0]:
        offset[block] = change.after
    return len(block) if abs(misfit[0] - misfit[1]) < cadence_us / 2 else 0


def falls(wall: np.ndarray) -> bool:
    """Whether a file lists its newest reading first."""
    return bool((wall[1:] < wall[:-1]).sum() > (wall[1:] > wall[:-1]).sum())


class Timed(NamedTuple):
    """Where each row of a series goes in time, and what was noticed. utc : (n,) in the rows' own order."""

    utc: np.ndarray
    order: np.ndarray | None  # None: the rows already stand in time order
    unsure: int
    skipped: int
    restarts: int
    back: bool = False  # the rows stand in time order from the last to the first

    def rows(self, keep: np.ndarray) -> np.ndarray | slice:
        """The rows kept, in time order."""
        if self.back:
            return slice(None, None, -1) if keep.all() else np.flatnonzero(keep)[::-1]
        if self.order is None:
            return slice(None) if keep.all() else np.flatnonzero(keep)
        return self.order[keep[self.order]]


def cadence_us(wall: np.ndarray) -> int:
    """The usual step: the lower median of all steps that are not zero. [µs]"""
    steps = np.abs(np.diff(wall[:200_000]))
    steps = steps[steps > 0]
    return int(np.partition(steps, (len(steps) - 1) // 2)[(len(steps) - 1) // 2]) if len(steps) else HOUR_US


def place(
    wall: np.ndarray, offset_min: np.ndarray, basis: UtcOffset, step_us: int, among: np.ndarray | None = None
) -> Timed:
    """UTC and time order of one series; file order is kept among equal times.

    among : (n,) true for the rows wanted, where the others only show how the clock ran: a reading without a
        value may be the one pass through a doubled hour. The result is for the rows wanted.
    """
    if not len(wall):
        return Timed(wall, None, 0, 0, 0)
    if among is not None and not among.all():
        every = place(wall, offset_min, basis, step_us)
        known = UtcOffset("fixed", 0, None, "")
        some = place(every.utc[among], offset_min[among], known, step_us)
        return some._replace(unsure=every.unsure, skipped=every.skipped, restarts=every.restarts)
    back = falls(wall)
    run = slice(None, None, -1) if back else slice(None)
    unsure = skipped = 0
    if basis.kind == "zone" and basis.zone:
        utc, unsure, skipped = to_utc(basis.zone, wall[run], step_us)
    else:
        offset = offset_min[run] if basis.kind == "rows" else np.array(basis.offset_min or 0)
        utc = wall[run] - (offset * MINUTE_US).astype(np.int64)
    restarts = int((utc[1:] < utc[:-1]).sum())
    if not restarts and not back:
        return Timed(utc, None, unsure, skipped, 0)
    if not restarts:
        return Timed(utc[::-1], None, unsure, skipped, 0, True)
    order = np.argsort(utc, kind="stable")
    if back:
        utc, order = utc[::-1], len(utc) - 1 - order
    return Timed(utc, order, unsure, skipped, restarts)


def duplicates(utc: np.ndarray, values: list[np.ndarray], order: np.ndarray | None) -> np.ndarray:
    """(n,) true where an earlier row has the same time and the same values throughout."""
    again = np.zeros(len(utc), bool)
    if (utc[1:] > utc[:-1]).all() or (utc[1:] < utc[:-1]).all():
        return again
    order = (np.arange(len(utc))[::-1] if falls(utc) else np.arange(len(utc))) if order is None else order
    ordered = utc[order]
    same = np.flatnonzero(ordered[1:] == ordered[:-1])
    if not len(same):
        return again
    import pandas as pd

    rows = np.unique(np.concatenate([order[same], order[same + 1]]))
    frame = pd.DataFrame({"t": utc[rows], **{str(i): v[rows] for i, v in enumerate(values)}})
    again[rows] = frame.duplicated().to_numpy()
    return again


def drift(utc: np.ndarray, step_us: int) -> str | None:
    """A clock that slips off its own grid, in seconds a day; None where it does not."""
    if len(utc) < 50 or step_us < 2_000_000:
        return None
    steps = np.diff(utc[:500_000])
    steady = np.abs(steps - step_us) < step_us * 0.1
    if steady.mean() < 0.95:
        return None
    slip = (steps - step_us)[steady]
    total, span = float(slip.sum()), float(steps[steady].sum())
    # the interval that was set: of the whole seconds that many steps take, the roundest, else the most frequent
    seconds, times = np.unique(np.round(steps[steady] / 1e6).astype(np.int64), return_counts=True)
    often = seconds[times >= 0.05 * times.sum()]
    fits = [often[often % to == 0] for to in (60, 30, 10, 5)]
    nominal = int(next((some[0] for some in fits if len(some) == 1), seconds[np.argmax(times)]))
    total += (step_us - nominal * 1e6) * int(steady.sum())
    per_day = total / span * 86_400
    if abs(total) < 30e6 or abs(per_day) < 2:
        return None
    return (f"The times slip by {per_day:+.0f} s a day against an even {nominal} s cadence: the logger's clock, or its "
            "schedule, drifts. Times were kept as written.")  # fmt: skip


def time_notes(placed: list[Timed], times: list[np.ndarray], step_us: int, basis: UtcOffset) -> list[str]:
    """What was noticed about the times of all probes: (n,) each, in order."""
    notes = []
    unsure, skipped, restarts = (sum(getattr(one, k) for one in placed) for k in ("unsure", "skipped", "restarts"))
    zone = basis.zone.key if basis.zone else ""
    if unsure:
        notes.append(
            f"{unsure} readings stand in the hour that {zone} passes twice, but stand there once; they may be "
            "an hour off."
        )
    if skipped:
        notes.append(
            f"{skipped} readings stand in the hour that {zone} skips; they were read as if the clock had not "
            "changed yet."
        )
    if restarts:
        notes.append(f"The times go back {restarts} times within the file; the readings were put in time order.")
    same = sum(int((c[1:] == c[:-1]).sum()) for c in times)
    if same:
        notes.append(f"{same} readings bear the same time as the one before, with other values; all were kept.")
    slip = drift(max(times, key=len), step_us) if times else None
    return notes + ([slip] if slip else [])
