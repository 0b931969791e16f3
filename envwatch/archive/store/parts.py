"""Readings on disk: one Parquet file for each logger and year, never changed once written.

A new version of a year is a new file under a new number; the register says which one holds. A part that is read
once is kept in memory, for what stands under its name cannot change.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from envwatch.archive.store.cache import LruCache
from envwatch.archive.store.files import free_name, plain, safe_name, write_whole
from envwatch.archive.store.writing import MADE, Journal
from envwatch.core.errors import StudioError
from envwatch.core.readings import TYPES, Series, joined

READ_ROWS = 10_000_000  # kept in memory, some 40 bytes each
YEAR_1970 = np.datetime64(0, "Y")


@dataclass(frozen=True)
class Part:
    """A written part, as the register's table of parts has it."""

    logger: str
    year: int
    path: str  # inside the studio folder, with `/`
    rows: int
    first_us: int
    last_us: int
    sha256: str


def of_row(row: Mapping[str, Any]) -> Part:
    """A part from its row in the register."""
    return Part(**{name: row[name] for name in Part.__dataclass_fields__})


def years(time: np.ndarray) -> np.ndarray:
    """The UTC year of each time. (n,) [µs] -> (n,)"""
    return time.view("M8[us]").astype("M8[Y]").astype(np.int64) + 1970


def by_year(channels: Mapping[str, Series]) -> dict[int, dict[str, Series]]:
    """Series in the order of time, cut at the turns of the year: year -> channel -> rows."""
    out: dict[int, dict[str, Series]] = {}
    for name, series in channels.items():
        if not len(series):
            continue
        first, last = years(series.time[[0, -1]]).tolist()
        turns = (np.arange(first + 1, last + 1) - 1970).astype("M8[Y]").astype("M8[us]").astype(np.int64)
        at = [0, *np.searchsorted(series.time, turns).tolist(), len(series)]
        for year, rows in zip(range(first, last + 1), itertools.starmap(slice, itertools.pairwise(at)), strict=True):
            if rows.start < rows.stop:
                out.setdefault(year, {})[name] = series.take(rows)
    return out


def write(journal: Journal, logger: str, year: int, number: int, channels: Mapping[str, Series]) -> Part:
    """Write one part, whole and durable, where nothing is. Its channels are ordered by name, their rows by time."""
    content = encode(channels)
    sha256 = hashlib.sha256(content).hexdigest()
    path = free_name(journal.folder / f"readings/logger={safe_name(logger)}/year={year}-v{number}.parquet")
    journal.name(path, MADE, sha256)
    write_whole(path, content, named=journal.name)
    rows = joined(list(channels.values()))
    return Part(logger, year, path.relative_to(journal.folder).as_posix(), len(rows), int(rows.time.min()),
                int(rows.time.max()), sha256)  # fmt: skip


def encode(channels: Mapping[str, Series]) -> bytes:
    """Channels as the bytes of a Parquet file."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    names = sorted(channels)
    rows = joined([channels[name] for name in names])
    code = np.repeat(np.arange(len(names), dtype=np.int32), [len(channels[name]) for name in names])
    columns = {"channel": pa.DictionaryArray.from_arrays(code, pa.array(names, pa.string()))}
    columns |= {name: pa.array(getattr(rows, name)) for name in TYPES}
    columns["time"] = columns["time"].cast(pa.timestamp("us", tz="UTC"))
    sink = BytesIO()
    pq.write_table(
        pa.table(columns), sink, compression="zstd",
        use_dictionary=["channel", "temp_c", "rh_percent", "marks", "file"],
        column_encoding={"time": "DELTA_BINARY_PACKED", "line": "DELTA_BINARY_PACKED"},
    )  # fmt: skip
    return sink.getvalue()


def decode(content: bytes) -> dict[str, Series]:
    """The channels in the bytes of a part."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    # one thread: a part is small, and threads that are still starting when the program ends can abort it
    file = pq.ParquetFile(pa.BufferReader(content), read_dictionary=["channel"], pre_buffer=False)
    table = file.read(use_threads=False).combine_chunks()
    times = table["time"].cast(pa.int64())
    columns = [times if name == "time" else table[name] for name in TYPES]
    rows = Series(*(c.to_numpy().astype(kind, copy=False) for c, kind in zip(columns, TYPES.values(), strict=True)))
    channel = table["channel"].chunk(0) if table.num_rows else None
    if channel is None:
        return {}
    code = channel.indices.to_numpy()
    starts = np.flatnonzero(np.append(True, np.diff(code) != 0))
    names = [channel.dictionary[int(code[start])].as_py() for start in starts]
    stops = [*starts[1:], len(code)]
    return {n: rows.take(slice(a, b)) for n, a, b in zip(names, starts, stops, strict=True)}


class PartReader:
    """Reads parts, and keeps the last ones read. What is not as it was written is refused, never read in part."""

    def __init__(self, folder: Path, most_rows: int = READ_ROWS) -> None:
        self.folder, self._read = folder, LruCache(most_rows)

    def read(self, part: Part) -> dict[str, Series]:
        """The channels of one part. StudioError: it is gone or damaged, and how to get it back."""
        return self._read.get(part.path, lambda: self._load(part), lambda channels: sum(map(len, channels.values())))

    def _load(self, part: Part) -> dict[str, Series]:
        try:
            content = self._content(part.path)
        except OSError as error:
            what = plain(error)
        else:
            if hashlib.sha256(content).hexdigest() == part.sha256:
                return decode(content)
            what = "it was changed since it was written"
        raise StudioError(
            f"cannot be read ({what}). Rebuild it from the originals: envwatch check --rebuild", place=part.path
        )

    def _content(self, path: str) -> bytes:
        return (self.folder / path).read_bytes()

    def series(self, held: Iterable[Part]) -> dict[str, Series]:
        """All channels of a logger over parts given in the order of their years."""
        found: dict[str, list[Series]] = {}
        for part in held:
            for name, rows in self.read(part).items():
                found.setdefault(name, []).append(rows)
        return {name: joined(rows) for name, rows in sorted(found.items())}
