"""How kept files were understood: the layout in words, and the first rows as written beside what was read of them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import pandas as pd
from sqlalchemy import select

from envwatch.archive.intake.assign import LoggerMatcher
from envwatch.archive.store import files
from envwatch.archive.store.originals import harm, original, read_kept, unjson
from envwatch.archive.store.tables import BATCHES, FILES, TRAY
from envwatch.core.errors import EnvwatchError, NotThere, StudioError

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

ROWS = 4
HEAD_BYTES = 60_000


@dataclass(frozen=True)
class KeptFile:
    """A file that was kept: its number, name, logger, the add it came with, and how many readings it holds."""

    number: int
    name: str
    logger_id: str
    batch: int
    added_at: pd.Timestamp
    readings: int
    last: pd.Timestamp | None


@dataclass(frozen=True)
class PreviewLine:
    """One line of a file as it is written, and what was read of it. Values are None where it holds no reading."""

    line: int
    written: str
    time: pd.Timestamp | None = None
    temp_c: float | None = None
    rh_percent: float | None = None
    channel: str = ""


@dataclass(frozen=True)
class FilePreview:
    """How a file was understood. `lines` end with its first readings, the lines above them as they stand."""

    name: str
    logger_id: str
    layout: tuple[tuple[str, str], ...]  # what, and what was understood
    lines: tuple[PreviewLine, ...]
    notes: tuple[str, ...]
    zone: str


def kept_files(studio: StudioFolder, most: int = 30) -> tuple[KeptFile, ...]:
    """The files kept last, the newest first."""
    query = select(FILES, BATCHES.c.added_at).join(BATCHES).order_by(FILES.c.id.desc()).limit(most)
    with studio.reading() as connection:
        return tuple(
            KeptFile(row["id"], files.label(row["name"]), row["logger"], row["batch"], pd.Timestamp(row["added_at"]),
                     row["readings"] or 0, _utc(row["last_us"]))
            for row in connection.execute(query).mappings()
        )  # fmt: skip


def glance(studio: StudioFolder, number: int, now: pd.Timestamp) -> FilePreview:
    """How a kept file was understood, read again from its original.

    NotThere: no such file. StudioError: its original is gone or was changed."""
    with studio.reading() as connection:
        row = connection.execute(select(FILES).where(FILES.c.id == number)).mappings().first()
    if row is None:
        raise NotThere(f"no file was kept as {number}")
    heads: list[bytes] = []
    try:
        log = read_kept(studio.folder, row, now, lambda data: heads.append(data[:HEAD_BYTES]))
    except StudioError:
        raise
    except EnvwatchError as error:
        raise NotThere(f"{row['name']}: its original cannot be read again ({error})") from error
    written = _written(heads[0], log.layout.encoding)
    lines = _beside(written, log) if written else _rows_alone(log)
    return FilePreview(files.label(row["name"]), row["logger"], _layout(log), lines, tuple(log.notes), studio.zone)


def first_lines(studio: StudioFolder, number: int, most: int = 6) -> tuple[str, ...]:
    """The first lines of a file that waits in the tray, as they stand; none of a workbook, or of no such file.

    Of an original that is gone or was changed: one line that says so."""
    with studio.reading() as connection:
        row = connection.execute(select(TRAY).where(TRAY.c.number == number)).mappings().first()
    if row is None:
        return ()
    try:
        content = original(studio.folder, row["sha256"], row["suffix"]).read_bytes()
    except OSError:
        content = None
    problem = harm(row, None if content is None else hashlib.sha256(content).hexdigest())
    return (problem,) if problem or content is None else tuple(_written(content[:HEAD_BYTES], "")[:most])


@dataclass(frozen=True)
class WaitingFor:
    """A file that waits in the tray and may be a logger's. `spans`: first and last reading by each answer, if known."""

    number: int
    name: str
    spans: tuple[tuple[pd.Timestamp, pd.Timestamp], ...] = ()


def waiting(studio: StudioFolder) -> dict[str, tuple[WaitingFor, ...]]:
    """Which files wait that may be a logger's, by logger.

    By what they were asked about, by their names, by a serial in their first lines; a file of which none of that is
    known may be of any logger that hangs somewhere and was never read.
    """
    return studio.state().worked_out.get("waiting", lambda: _waiting(studio))


def _waiting(studio: StudioFolder) -> dict[str, tuple[WaitingFor, ...]]:
    with studio.reading() as connection:
        rows = connection.execute(select(TRAY.c.number, TRAY.c.name, TRAY.c.about).order_by(TRAY.c.number)).all()
        whose = LoggerMatcher.of(connection) if rows else LoggerMatcher()
    unread = [id for id, one in studio.loggers().items() if one.hangings and id not in studio.state().parts]
    found: dict[str, tuple[WaitingFor, ...]] = {}
    for row in rows:
        about = unjson(row.about)
        spans = tuple((_instant(first), _instant(last)) for first, last in about.get("spans", ()))
        one = WaitingFor(row.number, files.label(row.name), spans)
        loggers = about.get("loggers") or whose.candidates(row.name).all
        for id in loggers or whose.serials_in(" ".join(first_lines(studio, row.number))) or unread:
            found[id] = (*found.get(id, ()), one)
    return found


def _instant(time_us: int) -> pd.Timestamp:
    return pd.Timestamp(time_us, unit="us", tz="UTC")


def _utc(time_us: int | None) -> pd.Timestamp | None:
    return None if time_us is None else _instant(time_us)


def _layout(log: Any) -> tuple[tuple[str, str], ...]:
    layout, counts = log.layout, log.counts
    minutes = layout.cadence_s / 60
    aside = "; ".join(f"{count} {why}" for why, count in counts.set_aside.items() if count)
    rows = f"{counts.data_rows:,} with data, {counts.used:,} used"
    return (
        ("columns", ", ".join(layout.columns)),
        ("dates", layout.date_format),
        ("clock", layout.time_basis),
        ("a reading every", f"{minutes:g} min"),
        ("decimal mark", {",": "comma", ".": "point"}.get(layout.decimal, layout.decimal)),
        ("characters", layout.encoding),
        ("rows", rows + (f"; set aside: {aside}" if aside else "")),
    )


def _written(head: bytes, encoding: str) -> list[str]:
    """The first lines of a text file as they stand; none of a workbook."""
    if head.startswith(b"PK"):
        return []
    for codec in (encoding, "utf-16" if head[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"):
        try:
            text = head.decode(codec, "replace")
            break
        except LookupError:
            continue
    lines = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n").replace("\t", " → ").split("\n")
    return [files.label(line)[:200] for line in lines]


def _beside(written: list[str], log: Any) -> tuple[PreviewLine, ...]:
    """From the heading to the first readings, each line with what was read of it."""
    several = len(log.channels) > 1
    read: dict[int, list[PreviewLine]] = {}
    for c in log.channels:
        for i in sorted(range(len(c.line)), key=lambda i: int(c.line[i]))[:ROWS]:
            one = PreviewLine(int(c.line[i]), "", _utc(int(c.time[i])), float(c.temp_c[i]), _known(c.rh_percent[i]))
            read.setdefault(one.line, []).append(replace(one, channel=c.label if several else ""))
    if not read:
        return ()
    shown = range(max(min(read) - 3, 1), min(max(sorted(read)[:ROWS]) + 1, len(written) + 1))
    out = []
    for n in shown:
        first, *more = read.get(n, [PreviewLine(n, "")])
        out += [replace(first, written=written[n - 1]), *more]
    return tuple(out)


def _rows_alone(log: Any) -> tuple[PreviewLine, ...]:
    channel = log.channels[0]
    return tuple(
        PreviewLine(
            int(channel.line[i]), "(a row of the workbook)", _utc(int(channel.time[i])), float(channel.temp_c[i]),
            _known(channel.rh_percent[i]),
        )
        for i in range(min(ROWS, len(channel.time)))
    )  # fmt: skip


def _known(value: float) -> float | None:
    return None if value != value else float(value)


__all__ = ["PreviewLine", "FilePreview", "KeptFile", "first_lines", "glance", "kept_files"]
