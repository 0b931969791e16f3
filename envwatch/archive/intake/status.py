"""Until when each logger has been seen, and what it needs: to be fetched, or to be looked at."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from sqlalchemy import select

from envwatch.archive.store.originals import unjson
from envwatch.archive.store.tables import BATCHES, FILES
from envwatch.climate.series import NEIGHBOURS
from envwatch.core.dates import instant
from envwatch.core.readings import Series
from envwatch.logs.quality import marks

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

POWER = re.compile(r"batter|akku|pile|bater|power (fail|loss|off)|low voltage|memory full|speicher voll", re.IGNORECASE)
EMPTY_ROWS = 3  # so many rows without a reading after the last one: the logger went on writing, its sensor did not
SILENT = pd.Timedelta(hours=24)  # between the last reading and the day a file was fetched


@dataclass(frozen=True)
class LoggerSeen:
    """What a logger's files show of the logger itself.

    `first`, `last`: its readings; None: it was never read. `last_file_at`: when it was last fetched, as far as its
    file's name tells, else when the file was added. `cadence`: between its last readings. `stopped_inside_file`: its
    last file goes on after its last reading, or was fetched long after it. `stuck_since`: it stands still to the end.
    `due_on`: to be fetched by then; `late`: it is not, by the clock given, and has not stopped.
    """

    first: pd.Timestamp | None = None
    last: pd.Timestamp | None = None
    last_file_at: pd.Timestamp | None = None
    cadence: pd.Timedelta | None = None
    stopped_inside_file: bool = False
    stuck_since: pd.Timestamp | None = None
    due_on: pd.Timestamp | None = None
    late: bool = False
    channels: tuple[str, ...] = ()


def seen(studio: StudioFolder, now: pd.Timestamp | None = None, place: str | None = None) -> dict[str, LoggerSeen]:
    """Every logger as it has been seen. See `Studio.seen`."""
    now = pd.Timestamp.now(tz="UTC") if now is None else now
    files = _last_files(studio)
    chosen = [id for id, one in studio.loggers().items() if place is None or one.ever_in({place})]
    return {id: _seen(studio, id, files.get(id), now) for id in chosen}


def _last_files(studio: StudioFolder) -> dict[str, dict[str, Any]]:
    """Each logger's file that reaches furthest; of several, the one added last."""

    def read() -> dict[str, dict[str, Any]]:
        query = select(FILES, BATCHES.c.added_at).join(BATCHES).order_by(FILES.c.last_us.nulls_first(), FILES.c.id)
        with studio.reading() as connection:
            return {row["logger"]: dict(row) for row in connection.execute(query).mappings()}

    return studio.state().worked_out.get("last files", read)


def _seen(studio: StudioFolder, id: str, file: dict[str, Any] | None, now: pd.Timestamp) -> LoggerSeen:
    parts = studio.state().parts.get(id, [])
    if not parts or file is None:
        return LoggerSeen()
    first, last = _utc(min(part.first_us for part in parts)), _utc(max(part.last_us for part in parts))
    names, cadence, stuck = studio.state().worked_out.get(
        ("seen", id), lambda: _of_readings(studio.reader.read(parts[-1]))
    )
    stopped = _stopped(file, last, cadence, studio.zone)
    due = last + pd.Timedelta(days=studio.loggers()[id].fetch_days)
    fetched = _fetched(file, studio.zone)
    return LoggerSeen(first, last, fetched, cadence, stopped, stuck, due, now > due and not stopped, names)


def _of_readings(channels: dict[str, Series]) -> tuple[tuple[str, ...], pd.Timedelta | None, pd.Timestamp | None]:
    """What a logger's last readings show: its probes, its cadence, and since when it stands still."""
    return tuple(channels), _cadence(max(channels.values(), key=len)), _stuck_since(channels)


def _utc(time_us: int) -> pd.Timestamp:
    return pd.Timestamp(time_us, unit="us", tz="UTC")


def _cadence(series: Series) -> pd.Timedelta | None:
    """What is ordinary at the end of the record: it may have been set to another interval before."""
    steps = np.diff(np.unique(series.time[-2 * NEIGHBOURS :]))[-NEIGHBOURS:]
    return pd.Timedelta(microseconds=int(np.sort(steps)[(len(steps) - 1) // 2])) if len(steps) else None


def _fetched(file: dict[str, Any], zone: str) -> pd.Timestamp:
    return instant(file["fetched"], zone) if file["fetched"] else pd.Timestamp(file["added_at"])


def _stopped(file: dict[str, Any], last: pd.Timestamp, cadence: pd.Timedelta | None, zone: str) -> bool:
    set_aside = sum(unjson(file["counts"]).get("set_aside", {}).values())
    went_on_empty = min(set_aside, file["lines_after"]) >= EMPTY_ROWS
    ran_flat = any(POWER.search(text) for _, text in unjson(file["events"]) or ())
    silent = max(SILENT, 3 * cadence) if cadence is not None else SILENT
    # a file fetched on the day its readings end has not stopped
    late = bool(file["fetched"]) and instant(file["fetched"], zone) - last > silent
    return went_on_empty or ran_flat or late


def _stuck_since(channels: dict[str, Series]) -> pd.Timestamp | None:
    """Since when a logger stands still, if it does so in its last reading, all its probes alike."""
    since = []
    for series in channels.values():
        moved = np.flatnonzero((series.marks & marks.STUCK) == 0)
        first = int(moved[-1]) + 1 if len(moved) else 0
        if first >= len(series):
            return None
        since.append(int(series.time[first]))
    return _utc(max(since)) if since else None


__all__ = ["LoggerSeen", "seen"]
