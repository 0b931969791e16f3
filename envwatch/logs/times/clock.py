"""From a logger's wall clock to UTC: offsets, named zones, and what happens when the clocks change.

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


class Transition(NamedTuple):
    """One change of the clocks: the instant, and the offsets before and after. [µs]"""

    at: int
    before: int
    after: int


class Evidence(NamedTuple):
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


def evidence(zone: ZoneInfo, wall: np.ndarray, cadence_us: int) -> Evidence:
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
    return Evidence(civil, fixed, impossible, seen)


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
