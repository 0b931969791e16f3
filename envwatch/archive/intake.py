"""Taking logger files in: each is read, given to its logger, and kept; or questioned; or refused in one line.

Files are kept in batches. A batch is one transaction of the register: originals and new parts are on disk before
it, and until it is done nobody sees them.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
from sqlalchemy import select

from envwatch.archive import disk, keeping
from envwatch.archive.litter import sweep
from envwatch.archive.originals import original, read_log, unjson
from envwatch.archive.outcomes import AddReport, Asked, FileOutcome, Source, Staged, TrayItem
from envwatch.archive.tables import FILES, LEARNED, LOGGERS, TRAY
from envwatch.archive.whose import NEW, Whose
from envwatch.errors import BadInput, EnvwatchError, Question
from envwatch.logs.model import Answers, LogFile

if TYPE_CHECKING:
    from envwatch.archive.studio import Studio

Progress = Callable[[int, int, str], None] | None
BATCH_FILES, BATCH_READINGS, BATCH_S = 250, 1_000_000, 10.0
LEARNT = ("zone", "dates", "decimal", "temp_unit")  # answers that hold for a logger's next files too


def add(
    studio: Studio, paths: Iterable[Path | str | int], answers: Answers | None = None, *, logger: str | None = None,
    progress: Progress = None,
) -> AddReport:  # fmt: skip
    """Take files in. See `Studio.add`."""
    with studio.writing("adding logger files"):
        sweep(studio)
        intake = Intake(studio, answers or Answers(), logger)
        sources = list(_sources(studio, paths))
        for done, source in enumerate(sources):
            if progress:
                progress(done, len(sources), source.name)
            intake.take(source)
        intake.keep()
        if progress:
            progress(len(sources), len(sources), "")
        return intake.report()


def _sources(studio: Studio, paths: Iterable[Path | str | int]) -> Iterator[Source]:
    for path in paths:
        if isinstance(path, int):
            yield _from_tray(studio, path)
        elif Path(path).is_dir():
            yield from (Source(file, _inside(file, Path(path))) for file in _files_in(Path(path), studio.folder))
        else:
            yield Source(Path(path), Path(path).name)


def _inside(file: Path, folder: Path) -> str:
    return file.relative_to(folder).as_posix()


def _files_in(folder: Path, studio: Path) -> Iterator[Path]:
    """Files below a folder, not the hidden ones, nor what the studio folder keeps itself."""
    own = studio.resolve()
    for path in sorted(folder.rglob("*")):
        hidden = any(part.startswith((".", "~$")) for part in path.relative_to(folder).parts)
        if not hidden and path.is_file() and own not in path.resolve().parents:
            yield path


def _from_tray(studio: Studio, number: int) -> Source:
    with studio.reading() as connection:
        row = connection.execute(select(TRAY).where(TRAY.c.number == number)).mappings().first()
    if row is None:
        raise BadInput(f"{number}: no file waits under this number. See envwatch tray")
    return Source(original(studio.folder, row["sha256"], row["suffix"]), row["name"], number, unjson(row["answers"]))


class Intake:
    """One `add`: its files one after the other, kept in batches."""

    def __init__(self, studio: Studio, answers: Answers, logger: str | None) -> None:
        self.studio, self.given = studio, logger
        self.said = {name: value for name, value in asdict(answers).items() if value is not None}
        self.now = pd.Timestamp.now(tz="UTC").floor("s")
        self.outcomes: list[FileOutcome] = []
        self.waiting: list[Staged | Asked | FileOutcome] = []
        self.hashes: set[str] = set()
        self.batch: int | None = None
        self.begun = time.monotonic()
        with studio.reading() as connection:
            self.whose = Whose.of(connection)
            self.zones = dict(connection.execute(select(LOGGERS.c.id, LOGGERS.c.zone)).tuples().all())
            self.profiles: dict[str, dict[str, str]] = {}
            for row in connection.execute(select(LEARNED).where(LEARNED.c.kind.in_(LEARNT)).order_by(LEARNED.c.id)):
                self.profiles.setdefault(row.logger, {})[row.kind] = row.value
        if logger is not None and logger != NEW:
            self.given = self.whose.named(logger)

    # ------------------------------------------------------------------------------------------------- one file

    def take(self, source: Source) -> None:
        """Read one file; it is kept with its batch."""
        self.waiting.append(self._outcome(source))
        readings = sum(item.readings for item in self.waiting if isinstance(item, Staged))
        full = len(self.waiting) >= BATCH_FILES or readings >= BATCH_READINGS
        if full or time.monotonic() - self.begun > BATCH_S:
            self.keep()

    def _outcome(self, source: Source) -> Staged | Asked | FileOutcome:
        name = source.label
        try:
            return self._stage(source)
        except EnvwatchError as error:
            return FileOutcome(name, "refused", reason=_renamed(str(error), source))
        except OSError as error:
            return FileOutcome(name, "refused", reason=f"{name}: cannot be read ({disk.plain(error)})")
        except Exception as error:  # a fault of ours must not hold up the other files
            return FileOutcome(name, "refused", reason=f"{name}: a fault in envwatch, please report it "
                               f"with the file ({type(error).__name__}: {error})")  # fmt: skip

    def _stage(self, source: Source) -> Staged | Asked | FileOutcome:
        path = source.path
        if not path.exists():
            raise BadInput(f"{source.name}: is not there")
        if not path.is_file():
            raise BadInput(f"{source.name}: is not a regular file")
        sha256 = disk.digest(path)
        if sha256 in self.hashes:
            return FileOutcome(source.label, "already kept", notes=("the same file stood twice in this add",))
        replaces = self._kept_before(source, sha256)
        if isinstance(replaces, FileOutcome):
            return replaces
        self.hashes.add(sha256)
        said = {**source.answered, **self.said}
        try:
            return self._read(source, sha256, said, replaces)
        except Question as question:
            return Asked(source, sha256, question, said)

    def _kept_before(self, source: Source, sha256: str) -> int | None | FileOutcome:
        """None: never kept. An outcome: kept, as it would be now. A number: kept, but now answered otherwise."""
        with self.studio.reading() as connection:
            row = connection.execute(select(FILES).where(FILES.c.sha256 == sha256)).mappings().first()
        if row is None:
            return None
        before = unjson(row["answers"])
        other = {name: value for name, value in self.said.items() if before.get(name) != value}
        if not other and self.given in (None, row["logger"]):
            return FileOutcome(source.label, "already kept", row["logger"],
                               notes=(f"kept before as {row['name']}, logger {row['logger']}",))  # fmt: skip
        return int(row["id"])

    def _read(self, source: Source, sha256: str, said: dict[str, str], replaces: int | None) -> Staged:
        guess = self.given if self.given != NEW else None
        guess = guess or self.whose.guess(source.name)
        used = self._answers(guess, said)
        try:
            log = self._log(source, used)
        except EnvwatchError:
            if used == self._answers(None, said) or self.given is not None:
                raise
            guess, used = None, self._answers(None, said)  # what was remembered of another logger does not fit
            log = self._log(source, used)
        owner = self.whose.owner(self.given, log.label, source.name)
        fits = self._answers(owner.logger, said)
        if fits != used:
            used, log = fits, self._log(source, fits)
        if not any(len(channel.time) for channel in log.channels):
            raise BadInput(f"{source.name}: holds no readings")
        if owner.is_new:
            self.whose.know(owner.logger, log.label or source.name)
            self.zones[owner.logger] = ""
        self.whose.learn(owner.logger, log.label, source.name)
        self.profiles.setdefault(owner.logger, {}).update({k: v for k, v in said.items() if k in LEARNT})
        notes = (*log.notes, *filter(None, (owner.note,)), *self._remembered(owner.logger, said))
        return Staged(source, sha256, log, owner.logger, owner.is_new, used, said, notes,
                      _lines_after(source.path, log), replaces)  # fmt: skip

    def _answers(self, logger: str | None, said: dict[str, str]) -> dict[str, str | None]:
        """What a file is read with: what is said now, what was said of its logger, and the zone if nobody says."""
        zone = self.zones.get(logger or "", "") or self.studio.zone
        return {**self.profiles.get(logger or "", {}), **said, "zone_default": zone}

    def _remembered(self, logger: str, said: dict[str, str]) -> list[str]:
        known = self.profiles.get(logger, {})
        return [f"{name} {value}, as answered for an earlier file of {logger}"
                for name, value in known.items() if name not in said]  # fmt: skip

    def _log(self, source: Source, used: dict[str, str | None]) -> LogFile:
        return read_log(source.path, used, self.now)

    # ---------------------------------------------------------------------------------------------- a batch

    def keep(self) -> None:
        """Keep what was read so far; only then is it reported as kept."""
        staged = [item for item in self.waiting if isinstance(item, Staged)]
        asked = [item for item in self.waiting if isinstance(item, Asked)]
        kept: dict[int, FileOutcome] = {}
        if staged or asked:
            self.batch, kept = keeping.keep(self.studio, [*staged, *asked], self.batch, self.now)
        self.outcomes += [kept.get(id(item), item) for item in self.waiting]
        self.waiting, self.begun = [], time.monotonic()

    def report(self) -> AddReport:
        """What became of all files."""
        return AddReport(tuple(self.outcomes), self.batch)


def _renamed(message: str, source: Source) -> str:
    """A message about a file in the tray, under the name it came with."""
    return message.replace(source.path.name, source.label)


def tray(studio: Studio) -> tuple[TrayItem, ...]:
    """Files that wait for an answer, the longest waiting first."""
    with studio.reading() as connection:
        found = connection.execute(select(TRAY).order_by(TRAY.c.number)).mappings().all()
    return tuple(
        TrayItem(row["number"], disk.label(row["name"]), row["question"], row["option"],
                 tuple(unjson(row["choices"])), pd.Timestamp(row["asked_at"]))
        for row in found
    )  # fmt: skip


def _lines_after(path: Path, log: LogFile) -> int:
    """How many lines of a text file follow its last reading."""
    if path.suffix.lower() in (".xls", ".xlsx"):
        return 0
    last = max(int(channel.line.max()) for channel in log.channels if len(channel.time))
    with path.open("rb") as file:
        lines = sum(chunk.count(b"\n") for chunk in iter(lambda: file.read(disk.CHUNK), b""))
    return max(lines - last, 0)
