"""Counting the rows and saying what was noticed about their times."""

from __future__ import annotations

from envwatch.logs.model import Channel, Counts
from envwatch.logs.times import utc
from envwatch.logs.values.rows import Fates


def listed(counts: dict[str, int]) -> str:
    return ", ".join(f"{n} rows: {reason}" for reason, n in counts.items()) or "no data rows"


def counts(fates: Fates, duplicate: int) -> Counts:
    total, aside = int(fates.data.sum()), fates.counted()
    return Counts(total, total - duplicate - sum(aside.values()), duplicate, aside)


def time_notes(unsure, skipped, restarts, channels: list[Channel], step_us: int, basis) -> list[str]:
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
    same = sum(int((c.time[1:] == c.time[:-1]).sum()) for c in channels)
    if same:
        notes.append(f"{same} readings bear the same time as the one before, with other values; all were kept.")
    slip = utc.drift(max(channels, key=lambda c: len(c.time)).time, step_us) if channels else None
    return notes + ([slip] if slip else [])
