"""Which files an `add` takes: by name, below a folder, and from the tray."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from envwatch.archive.intake.outcomes import IncomingFile
from envwatch.archive.store.originals import original, unjson
from envwatch.archive.store.tables import FILES, LEARNED, TRAY
from envwatch.core.errors import BadInput

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


DAY = re.compile(r"(?<!\d)((?:19|20)\d\d)[-_. ]?([01]\d)[-_. ]?([0-3]\d)(?!\d)")
OF_THE_FILE = ("dates", "decimal", "temp_unit", "encoding", "start")  # what was answered of it, whosever it is


def sources(studio: StudioFolder, paths: Iterable[Path | str | int]) -> Iterator[IncomingFile]:
    """Files, all files below a folder, and files of the tray by their number. BadInput: no such number."""
    for path in paths:
        if isinstance(path, int) or (str(path).isdigit() and not Path(path).exists()):
            yield from_tray(studio, int(str(path)))
        elif Path(path).is_dir():
            inside = _files_in(Path(path), studio.folder)
            yield from (IncomingFile(file, file.relative_to(path).as_posix()) for file in inside)
        else:
            yield IncomingFile(Path(path), Path(path).name)


def _files_in(folder: Path, studio: Path) -> Iterator[Path]:
    """Files below a folder, not the hidden ones, nor what the studio folder keeps itself."""
    own = studio.resolve()
    for path in sorted(folder.rglob("*")):
        hidden = any(part.startswith((".", "~$")) for part in path.relative_to(folder).parts)
        if not hidden and path.is_file() and own not in path.resolve().parents:
            yield path


def waits(studio: StudioFolder) -> list[tuple[int, str, set[str]]]:
    """Number, name and loggers of each file that waits and is not kept meanwhile: those that it was asked about, and
    those read over its time, whose readings may be its own."""
    query = select(TRAY.c.number, TRAY.c.name, TRAY.c.about).order_by(TRAY.c.number)
    with studio.reading() as connection:
        rows = connection.execute(query.where(TRAY.c.sha256.not_in(select(FILES.c.sha256)))).all()
    found = []
    for row in rows:
        known = unjson(row.about)
        spans = known.get("spans", ())
        over = {id for id, parts in studio.state().parts.items() for part in parts for first, last in spans
                if part.first_us <= last and part.last_us >= first}  # fmt: skip
        found.append((row.number, row.name, {*known.get("loggers", ()), *over}))
    return found


def from_tray(studio: StudioFolder, number: int) -> IncomingFile:
    """A file that waits in the tray. BadInput: none waits under this number."""
    with studio.reading() as connection:
        row = connection.execute(select(TRAY).where(TRAY.c.number == number)).mappings().first()
    if row is None:
        raise BadInput("no file waits under this number. See envwatch tray", place=number)
    path = original(studio.folder, row["sha256"], row["suffix"])
    return IncomingFile(path, row["name"], number, dict(row), row["sha256"], unjson(row["answers"]))


def from_kept(studio: StudioFolder, row: Mapping[str, Any]) -> IncomingFile:
    """The kept original, with what a person answered about it and not about its logger."""
    path, used = original(studio.folder, row["sha256"], row["suffix"]), unjson(row["answers"])
    said = {name: used[name] for name in OF_THE_FILE if used.get(name)}
    with studio.reading() as connection:
        zones = select(LEARNED.c.value).where(LEARNED.c.file == row["id"], LEARNED.c.kind == "zone")
        said |= dict.fromkeys(["zone"], zone) if (zone := connection.execute(zones).scalar()) else {}
    return IncomingFile(path, row["name"], kept=row, sha256=row["sha256"], answered=said)


def fetched_on(name: str) -> str:
    """The last day written in a file's name as year, month, day; empty where there is none.

    >>> fetched_on("store_2026-03-02_to_20260309.csv"), fetched_on("store.csv")
    ('2026-03-09', '')
    """
    days = []
    for match in DAY.finditer(name):
        try:
            days.append(date(*(int(part) for part in match.groups())).isoformat())
        except ValueError:
            continue
    return max(days, default="")
