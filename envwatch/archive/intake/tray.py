"""Files that wait for an answer: what is known of each, drawn beside what it may go on from; leaving one out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from sqlalchemy import delete, select

from envwatch.archive.intake.assign import NEW
from envwatch.archive.intake.fit import beside
from envwatch.archive.intake.keep import giving_up
from envwatch.archive.intake.outcomes import TrayItem
from envwatch.archive.intake.sources import from_tray
from envwatch.archive.store import files
from envwatch.archive.store.originals import original, read_log, series, unjson
from envwatch.archive.store.records import first
from envwatch.archive.store.tables import FILES, TRAY
from envwatch.core.arrays import Array, Whole
from envwatch.core.errors import EnvwatchError, NotThere, Question
from envwatch.core.readings import EMPTY, Series
from envwatch.logs.model import LogFile

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

HOUR_US = 3_600_000_000


def about(readings: Sequence[LogFile], question: Question) -> dict[str, Any]:
    """What is known of a file that waits, as it reads by each answer."""
    return known_of(readings[0].label, question, [_ends(log) for log in readings])


def known_of(label: str | None, question: Question, spans: list[list[int]]) -> dict[str, Any]:
    """Of a file that waits: its label, which loggers it may be of, and over which times [µs]."""
    loggers = [id for id in question.choices if id != NEW] if question.field == "logger" else []
    return {"label": label or "", "loggers": loggers, "spans": spans}


def _ends(log: LogFile) -> list[int]:
    ends = [int(time) for channel in log.channels for time in (*channel.time[:1], *channel.time[-1:])]
    return [min(ends), max(ends)]


@dataclass(frozen=True, eq=False)
class RecordCurve:
    """A record as it is drawn beside another, both over [start, end) in equal steps; (n,) means, NaN where not read."""

    name: str
    start: pd.Timestamp
    end: pd.Timestamp
    temp_c: Array
    rh_percent: Array


def courses(studio: StudioFolder, number: int, steps: int = 38) -> tuple[RecordCurve, ...]:
    """A file that waits for its logger, and the loggers it may be of, drawn over one time: the file first.

    Nothing where it waits for something else, or its original cannot be read.
    """
    with studio.reading() as connection:
        row = first(connection, select(TRAY).where(TRAY.c.number == number))
    known = unjson(row["about"]) if row else {}
    if row is None or not known.get("loggers"):
        return ()
    try:
        used = {"zone_default": studio.zone, **unjson(row["answers"])}
        log = read_log(original(studio.folder, row["sha256"], row["suffix"]), used, pd.Timestamp(row["asked_at"]))
    except (EnvwatchError, OSError):
        return ()
    new = series(log, 0)
    names = studio.loggers()
    of = {id: beside(studio, id, new) for id in known["loggers"] if id in names}
    records = [(files.label(row["name"]), _widest(new)), *((names[id].name, _widest(held)) for id, held in of.items())]
    start, end = _span([rows for _, rows in records])
    widest = max(float(np.median(np.diff(rows.time))) if len(rows) > 2 else 0.0 for _, rows in records)
    steps = max(min(steps, int((end - start) / widest)), 1) if widest else steps  # no step without a reading of its own
    return tuple(_course(name, rows, start, end, steps) for name, rows in records)


def _widest(channels: Mapping[str, Series]) -> Series:
    return max(channels.values(), key=len, default=EMPTY)


def _span(records: Sequence[Series]) -> tuple[int, int]:
    """The file's time, and as much of what is kept before and after it, up to the nearest readings."""
    own, others = records[0].time, np.concatenate([rows.time for rows in records[1:]] or [np.empty(0, np.int64)])
    long = max(int(own[-1] - own[0]), HOUR_US)
    before, after = others[others < own[0]], others[others > own[-1]]
    start = int(max(before, default=own[0])) - long if len(before) else int(own[0])
    end = int(min(after, default=own[-1])) + long if len(after) else int(own[-1])
    return max(start, int(min([own[0], *before]))), min(end, int(max([own[-1], *after]))) + 1


def _course(name: str, rows: Series, start: int, end: int, steps: int) -> RecordCurve:
    inside = rows.take((rows.time >= start) & (rows.time < end))
    at = ((inside.time - start) * steps // (end - start)).astype(int)
    temp_c, rh_percent = (_means(at, values, steps) for values in (inside.temp_c, inside.rh_percent))
    return RecordCurve(name, *(pd.Timestamp(time, unit="us", tz="UTC") for time in (start, end)), temp_c, rh_percent)


def _means(at: Whole, values: Array, steps: int) -> Array:
    known = np.isfinite(values)
    count = np.bincount(at[known], minlength=steps)
    total = np.bincount(at[known], values[known], minlength=steps)
    return np.divide(total, count, out=np.full(steps, np.nan), where=count > 0)


def tray(studio: StudioFolder) -> tuple[TrayItem, ...]:
    """Files that wait for an answer, the longest waiting first."""
    with studio.reading() as connection:
        found = connection.execute(select(TRAY).order_by(TRAY.c.number)).mappings().all()
    return tuple(
        TrayItem(row["number"], files.label(row["name"]), *_asked(row["question"], row["option"]),
                 tuple(unjson(row["choices"])), pd.Timestamp(row["asked_at"]))
        for row in found
    )  # fmt: skip


def _asked(question: str, option: str) -> tuple[str, str]:
    """A question of the tray, and the input that answers it; older registers hold that as a command writes it."""
    field = option.removeprefix("--").replace("-", "_")
    return (question.replace(option, f"⟦{field}⟧"), field) if option != field else (question, field)


def discard(studio: StudioFolder, number: int) -> TrayItem:
    """Take a file out of the tray unread. See `Studio.discard`."""
    item = next((item for item in tray(studio) if item.number == number), None)
    if item is None:
        raise NotThere(f"no file waits in the tray as {number}")
    with studio.writing("clearing the tray"):
        path = from_tray(studio, number).path
        with giving_up(studio) as given_up, studio.saving() as connection:
            connection.execute(delete(TRAY).where(TRAY.c.number == number))
            if first(connection, select(FILES).where(FILES.c.sha256 == path.stem)) is None:  # else it stays as kept
                given_up([{"sha256": path.stem, "suffix": path.suffix}])
    return item
