"""Order, duplicates, cadence and the clock's own faults of one series of readings."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from envwatch.logs.times import offset as time_basis
from envwatch.logs.times.clock import HOUR_US, falls
from envwatch.logs.times.offset import Basis

MINUTE_US = 60_000_000


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
    wall: np.ndarray, offset_min: np.ndarray, basis: Basis, step_us: int, among: np.ndarray | None = None
) -> Timed:
    """UTC and time order of one series; file order is kept among equal times.

    among : (n,) true for the rows wanted, where the others only show how the clock ran: a reading without a
        value may be the one pass through a doubled hour. The result is for the rows wanted.
    """
    if not len(wall):
        return Timed(wall, None, 0, 0, 0)
    if among is not None and not among.all():
        every = place(wall, offset_min, basis, step_us)
        known = Basis("fixed", 0, None, "")
        some = place(every.utc[among], offset_min[among], known, step_us)
        return some._replace(unsure=every.unsure, skipped=every.skipped, restarts=every.restarts)
    back = falls(wall)
    run = slice(None, None, -1) if back else slice(None)
    utc, unsure, skipped = time_basis.apply(basis, wall[run], offset_min[run], step_us)
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


def time_notes(unsure, skipped, restarts, times: list[np.ndarray], step_us: int, basis) -> list[str]:
    """What was noticed about the times of all probes: (n,) each, in order."""
    notes = []
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
