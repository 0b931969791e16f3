"""What came into the archive, in sentences: arrivals, rows set aside, marks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from sqlalchemy import select

from envwatch.archive.climates.answers import doubts
from envwatch.archive.climates.deployments import channels_of, hung_in, within
from envwatch.archive.climates.drift import drifted
from envwatch.archive.store.originals import unjson
from envwatch.archive.store.tables import BATCHES, FILES
from envwatch.logs.quality.marks import DRIFT, MARK_NAMES

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder
    from envwatch.core.place import Logger


@dataclass(frozen=True)
class Arrivals:
    """What was added since a moment: a sentence for each logger, and one for each whose rows were set aside."""

    came_in: tuple[str, ...]
    set_aside: tuple[str, ...]


def arrivals(studio: StudioFolder, since: pd.Timestamp | None = None) -> Arrivals:
    """What was added since a moment; of all time, if none is given."""
    stamp = "" if since is None else since.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
    query = select(FILES).join(BATCHES).where(BATCHES.c.added_at > stamp).order_by(FILES.c.id)
    with studio.reading() as connection:
        rows = connection.execute(query).mappings().all()
    files: Counter[str] = Counter()
    readings: Counter[str] = Counter()
    aside: dict[str, Counter[str]] = {}
    last: dict[str, int] = {}
    for row in rows:
        id, counts = row["logger"], unjson(row["counts"])
        files[id] += 1
        readings[id] += row["readings"]
        last[id] = max(last.get(id, row["last_us"]), row["last_us"])
        aside.setdefault(id, Counter()).update(counts.get("set_aside", {}))
    names = {id: logger.name for id, logger in studio.loggers().items()}
    return Arrivals(
        tuple(f"{names[id]}: {_count(files[id], 'file')}, {_count(readings[id], 'reading')}, "
              f"until {_local(last[id], studio.zone)}" for id in files),
        tuple(f"{names[id]}: {_list(reasons)} set aside" for id, reasons in aside.items() if reasons.total()),
    )  # fmt: skip


def came_in(
    studio: StudioFolder, places: Iterable[str], start: pd.Timestamp, end: pd.Timestamp, after: int | pd.Timestamp
) -> pd.Timestamp | None:
    """When readings of a span in these places were added, the last of them; None: none was.

    `after`: in files of a higher number alone; or where that is not known, added after a moment.
    """
    hung = [one for place in places for one in hung_in(studio, place) if one.covers(start, end)]
    read = [channels_of(studio, one.logger.id, start, end, one.hanging.channel) for one in hung]
    rows = [series.file[within(series, start, end)] for channels in read for series in channels.values()]
    numbers = set(np.concatenate(rows).tolist()) if rows else set()
    added = {number: time for number, time in _added_at(studio).items() if number in numbers}
    late = (time for number, time in added.items() if (number > after if isinstance(after, int) else time > after))
    return max(late, default=None)


def last_file(studio: StudioFolder) -> int:
    """The highest number of a file that was added; 0 where none was."""
    return max(_added_at(studio), default=0)


def _added_at(studio: StudioFolder) -> dict[int, pd.Timestamp]:
    """When each file was added, by its number."""

    def read() -> dict[int, pd.Timestamp]:
        query = select(FILES.c.id, BATCHES.c.added_at).join(BATCHES)
        with studio.reading() as connection:
            return {row.id: pd.Timestamp(row.added_at) for row in connection.execute(query)}

    return studio.state().worked_out.get("added at", read)


def mark_notes(
    studio: StudioFolder, start: pd.Timestamp, end: pd.Timestamp, place: str | None = None
) -> tuple[str, ...]:
    """How many readings of a span bear which mark, a sentence for each logger with any; `place`: that hung there."""
    chosen = [one for one in studio.loggers().values() if place is None or one.ever_in({place})]
    kept = studio.state().worked_out
    notes = [
        kept.get(("marks", one.id, start, end), lambda one=one: _note_of(studio, one, start, end)) for one in chosen
    ]
    return tuple(note for note in notes if note)


def _note_of(studio: StudioFolder, logger: Logger, start: pd.Timestamp, end: pd.Timestamp) -> str:
    channels = channels_of(studio, logger.id, start, end)
    marks = [rows.marks for rows in channels.values()]
    found = _marks(np.concatenate(marks)) if marks else Counter()
    drift = sum(int(drifted(studio, logger.id, channel, rows.time).sum()) for channel, rows in channels.items())
    found.update({DRIFT: drift} if drift else {})
    if not found:
        return ""
    said = {d.answer.sentence for d in doubts(studio, start, end, logger.id) if d.answer}
    tail = "".join(f"; {sentence}" for sentence in sorted(said))
    return f"{logger.name}: {_list(found)}, of {_count(sum(map(len, marks)), 'reading')}{tail}"


def _marks(marks: np.ndarray) -> Counter[str]:
    odd = marks[marks != 0]
    found = {name: int(np.count_nonzero(odd & bit)) for bit, name in MARK_NAMES.items()}
    return Counter({name: count for name, count in found.items() if count})


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _list(found: Counter[str]) -> str:
    return ", ".join(f"{count:,} {name}" for name, count in found.most_common() if count)


def _local(time_us: int, zone: str) -> str:
    local = pd.Timestamp(time_us, unit="us", tz="UTC").tz_convert(zone)
    return f"{local:%a} {local.day} {local:%b %Y %H:%M}"
