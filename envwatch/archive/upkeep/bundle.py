"""What a dispute needs: the original files behind a painting's climate and the checks of their loggers, in one file."""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
from sqlalchemy import select

from envwatch.archive.climates.deployments import hung_in
from envwatch.archive.register.redaction import Names, names_of
from envwatch.archive.register.sheets import BY_NAME, as_csv
from envwatch.archive.store import records, writing
from envwatch.archive.store.files import label, write_whole
from envwatch.archive.store.originals import harm, original
from envwatch.archive.store.tables import BATCHES, FILES
from envwatch.climate.exposure import Stint

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

UNFIT = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')


@dataclass(frozen=True)
class OriginalFile:
    """A logger file as it was added: its own name, whose it is, what it covers, and its SHA-256."""

    name: str
    sha256: str
    logger: str
    first: pd.Timestamp
    last: pd.Timestamp
    readings: int
    suffix: str
    added: pd.Timestamp | None = None  # when it came in; read anew, or of another logger since: then


class Bundled(tuple[str, ...]):
    """The names in a bundle, in order. `problems`: a line for each original that was gone or changed and left out."""

    problems: tuple[str, ...] = ()

    def with_problems(self, problems: Iterable[str]) -> Bundled:
        """These names with such lines."""
        self.problems = tuple(problems)
        return self


def files_behind(studio: StudioFolder, stints: Iterable[Stint]) -> tuple[OriginalFile, ...]:
    """The original files of every logger that hung where a painting stood, as far as they overlap its stints."""
    wanted: dict[str, list[Stint]] = {}
    for stint in stints:
        for hung in hung_in(studio, stint.place_id):
            if hung.covers(stint.start, stint.end):
                wanted.setdefault(hung.logger.id, []).append(stint)
    query = (
        select(FILES, BATCHES.c.added_at)
        .join(BATCHES)
        .where(FILES.c.logger.in_(list(wanted)))
        .order_by(FILES.c.logger, FILES.c.first_us, FILES.c.id)
    )
    with studio.reading() as connection:
        rows = connection.execute(query).mappings().all()
    made = (
        OriginalFile(row["name"], row["sha256"], row["logger"], _at(row["first_us"]), _at(row["last_us"]),
                     row["readings"], row["suffix"], pd.Timestamp(row["added_at"]))
        for row in rows if row["first_us"] is not None
    )  # fmt: skip
    return tuple(f for f in made if any(f.first < s.end and f.last >= s.start for s in wanted[f.logger]))


def _at(us: int) -> pd.Timestamp:
    return pd.Timestamp(us, unit="us", tz="UTC")


def rows_of(studio: StudioFolder, sheet: str, loggers: Iterable[str], names: Names | None = None) -> bytes:
    """The register's "calibrations", "hangings" or "mark_answers" of some loggers, as the CSV file of that name.

    `names`: who is not named; by default every owner.
    """
    table, columns, chosen = BY_NAME[sheet].table, BY_NAME[sheet].fields, set(loggers)
    names = names_of(studio) if names is None else names
    with studio.reading() as connection:
        found = [row for row in records.rows(connection, table) if chosen & {row["logger"], names.ident(row["logger"])}]
    rows = [row | names.row(columns, row) for row in found]
    return as_csv([f.name for f in columns], rows)


def write_bundle(
    studio: StudioFolder, path: Path, papers: Mapping[str, bytes], files: Iterable[OriginalFile], at: pd.Timestamp,
    names: Names | None = None,
) -> Bundled:  # fmt: skip
    """Papers and original files as one ZIP file with a list of what is in it; returns the names, in order.

    Each original is checked against its SHA-256 on the way; one that was changed or is gone is named and not put in.
    Nor is one that bears a name of `names` (by default every owner's): an original cannot be changed. Its SHA-256 is
    in the list, so that it can be handed over, or shown to be the same, later.
    """
    names = names_of(studio) if names is None else names
    held, listed, wrong, problems = dict(papers), [], [], []
    for file in files:
        content = _content(original(studio.folder, file.sha256, file.suffix))
        found = None if content is None else hashlib.sha256(content).hexdigest()
        called = f"{names.ident(file.logger)}/{names.ident(Path(file.name).name)}"
        if (problem := harm(vars(file), found)) or content is None:
            wrong.append(f"{called}: the original is gone or was changed; it is not in the bundle")
            problems.append(names.hide(problem))
            continue
        if names.borne_by(content):
            wrong.append(f"{called}: a name stands in the original, so it is not in the bundle; SHA-256 {file.sha256}")
            continue
        name = f"originals/{'/'.join(_name(part) for part in called.split('/', 1))}"
        held[_free(name, file.sha256, held)] = content
    for name, content in held.items():
        listed.append(f"{hashlib.sha256(content).hexdigest()}  {name}")
    held["SHA256SUMS.txt"] = "\n".join([*listed, *wrong, ""]).encode("utf-8")
    sink = io.BytesIO()
    stamp = at.tz_convert(studio.zone)
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, content in held.items():
            entry = zipfile.ZipInfo(name, (max(stamp.year, 1980), *stamp.timetuple()[1:6]))
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            bundle.writestr(entry, content)
    with writing.beside(studio.folder) as named:
        write_whole(path, sink.getvalue(), named=named)
    return Bundled(held).with_problems(problems)


def _content(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _name(text: str) -> str:
    """A name that any system can unpack."""
    return UNFIT.sub("-", label(text)).strip(". ") or "file"


def _free(name: str, sha256: str, held: Mapping[str, bytes]) -> str:
    """The name, or one with its SHA-256 where two files have the same."""
    if name not in held:
        return name
    stem, dot, ending = name.rpartition(".")
    return f"{stem}-{sha256[:8]}{dot}{ending}" if dot else f"{name}-{sha256[:8]}"


__all__ = ["OriginalFile", "as_csv", "files_behind", "rows_of", "write_bundle"]
