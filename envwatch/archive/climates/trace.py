"""From a moment in a result back to the file and line it was read from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from sqlalchemy import select

from envwatch.archive.climates.answers import TAKEN_OUT, mark_states
from envwatch.archive.climates.deployments import channels_of, hung_in
from envwatch.archive.climates.place import speaking
from envwatch.archive.store.files import label
from envwatch.archive.store.originals import found, harm, original
from envwatch.archive.store.tables import FILES
from envwatch.core.errors import NotThere
from envwatch.core.readings import Series
from envwatch.logs.quality.marks import MARK_NAMES, bounds, without_bad
from envwatch.logs.quality.sensors import corrected

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

HOUR = pd.Timedelta(hours=1)


@dataclass(frozen=True)
class Provenance:
    """One reading: who read it, what file and line it stands on, raw and corrected, with its marks in words.

    `others`: readings that other lines give for the same instant. `problem`: the file's original in the archive is
    gone or was changed, so that the line cannot be looked up in it; the reading is as it was first read.
    """

    logger_id: str
    channel: str
    time: pd.Timestamp
    file_name: str
    sha256: str
    line: int
    raw_temp_c: float
    raw_rh_percent: float
    temp_c: float
    rh_percent: float
    marks: tuple[str, ...] = ()
    others: tuple[Provenance, ...] = ()
    problem: str = ""


def trace(studio: StudioFolder, where: str, time: pd.Timestamp, position: str | None = None) -> Provenance:
    """The reading of a place or a logger at a moment: the first in the hour that begins then, else the last before.

    Of a place that of the logger that speaks for it there; what was bad, or taken out by an answer, is not it. Of a
    whole hour the first that speaks decides; of another moment the logger that read at that very instant.

    Raises
    ------
    NotThere : neither a place nor a logger, or nothing was read within the hour before and after.
    """
    span = time - HOUR, time + HOUR
    found = [
        (*_order(rows, at, time), rank, name, logger, rows, at)
        for rank, (logger, channel) in enumerate(_speakers(studio, where, time, position))
        for name, rows in channels_of(studio, logger, *span, channel).items()
        for at in _nearest(rows, time, _counts(studio, logger, name, rows))
    ]
    if not found:
        raise NotThere(f"nothing was read around {time.tz_convert(studio.zone):%Y-%m-%d %H:%M}", place=where)
    *_, channel, logger, rows, at = min(found, key=lambda candidate: candidate[:4])
    same = np.flatnonzero(rows.time == rows.time[at])
    first, *others = (_trace(studio, logger, channel, rows, int(row)) for row in same)
    return replace(first, others=tuple(others))


def _speakers(studio: StudioFolder, where: str, time: pd.Timestamp, position: str | None) -> list[tuple[str, str]]:
    """Loggers and probes to ask, those that speak for the place first."""
    if where in studio.places():
        here = speaking(hung_in(studio, where), position, time, time + HOUR)
        return [(hung.logger.id, hung.hanging.channel) for hung in here]
    if where in studio.loggers():
        return [(where, "")]
    raise NotThere(f"{where!r} is neither a place nor a logger")


def _counts(studio: StudioFolder, logger: str, channel: str, rows: Series) -> np.ndarray:
    """The rows that count as read: neither bad nor taken out."""
    temp_c, rh_percent = without_bad(rows)
    out = mark_states(studio, logger, channel, rows) == TAKEN_OUT
    return np.flatnonzero((np.isfinite(temp_c) | np.isfinite(rh_percent)) & ~out)


def _order(rows: Series, at: int, time: pd.Timestamp) -> tuple[bool, bool]:
    early = rows.time[at] < time.value // 1000
    return early, time != time.floor("h") and rows.time[at] != time.value // 1000


def _nearest(rows: Series, time: pd.Timestamp, counts: np.ndarray) -> list[int]:
    """Of the rows that count the first of the hour that begins at a time, else the last before it, else none."""
    if not len(counts):
        return []
    at = int(np.searchsorted(rows.time[counts], time.value // 1000))
    return [int(counts[min(at, len(counts) - 1)])]


def _trace(studio: StudioFolder, logger: str, channel: str, rows: Series, at: int) -> Provenance:
    one = rows.take(slice(at, at + 1))
    checks = studio.register().calibrations.get(logger, ())
    temp_c, rh_percent = corrected(one.time, one.temp_c, one.rh_percent, checks, channel, studio.zone)
    with studio.reading() as connection:
        file = connection.execute(select(FILES).where(FILES.c.id == int(one.file[0]))).mappings().one()
    names = tuple(name for bit, name in MARK_NAMES.items() if int(one.marks[0]) & bit)
    names += ("written as a bound, such as >95",) * bool(bounds(one.marks, one.temp_c, one.rh_percent)[0])
    return Provenance(
        logger, channel, pd.Timestamp(int(one.time[0]), unit="us", tz="UTC"), label(file["name"]), file["sha256"],
        int(one.line[0]), float(one.temp_c[0]), float(one.rh_percent[0]), float(temp_c[0]), float(rh_percent[0]), names,
        problem=harm(file, found(original(studio.folder, file["sha256"], file["suffix"]))),
    )  # fmt: skip
