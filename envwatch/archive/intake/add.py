"""Taking logger files in: each is read, given to its logger, and kept; or questioned; or refused in one line.

Files are kept in batches. A batch is one transaction of the register: originals and new parts are on disk before
it, and until it is done nobody sees them.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import suppress
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from sqlalchemy import Table, select

from envwatch.archive.intake import keep as keeping
from envwatch.archive.intake.assign import NEW, Owner, Whose, name_key, path_key
from envwatch.archive.intake.cleanup import sweep
from envwatch.archive.intake.fit import beside, fit, in_time, overlaps
from envwatch.archive.intake.memory import Form, Memory, form
from envwatch.archive.intake.outcomes import AddReport, FileOutcome, IncomingFile, Staged, WaitingFile
from envwatch.archive.intake.sources import from_kept, from_tray, sources
from envwatch.archive.intake.tray import about, waits
from envwatch.archive.store import files, originals
from envwatch.archive.store.originals import read_log, unjson
from envwatch.archive.store.sql import found, in_order
from envwatch.archive.store.stream import BIG_BYTES, HashingCopy
from envwatch.archive.store.tables import FILES, LOGGERS, TRAY
from envwatch.core.errors import BadInput, EnvwatchError, Question
from envwatch.core.readings import Series
from envwatch.logs.model import Answers, LogFile
from envwatch.logs.text.lines import line_ends

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Progress = Callable[[int, int, str], None] | None
HEAD_BYTES = 2000  # where a serial is looked for
BATCH_FILES, BATCH_READINGS, BATCH_S = 250, 1_000_000, 10.0


def add(
    studio: StudioFolder,
    paths: Iterable[Path | str | int],
    answers: Answers | None = None,
    *,
    logger: str | None = None,
    progress: Progress = None,
) -> AddReport:
    """Take files in. See `Studio.add`."""
    with studio.writing("adding logger files"):
        sweep(studio)
        intake = Intake(studio, answers or Answers(), logger)
        taken = list(sources(studio, paths))
        for done, source in enumerate(taken):
            if progress:
                progress(done, len(taken), source.name)
            intake.take(source)
        intake.keep()
        intake.unite()
        intake.try_again()
        if progress:
            progress(len(taken), len(taken), "")
        return intake.report()


class Intake:
    """One `add`: its files one after the other, kept in batches."""

    def __init__(self, studio: StudioFolder, answers: Answers, logger: str | None, kind: str = "") -> None:
        self.studio, self.given, self.kind = studio, logger, kind
        self.said = {name: value for name, value in asdict(answers).items() if value is not None}
        self.now = pd.Timestamp.now(tz="UTC").floor("s")
        self.outcomes: list[FileOutcome] = []
        self.waiting: list[Staged | WaitingFile | FileOutcome] = []
        self.hashes: set[str] = set()
        self.sizes: set[int] = set()
        self.united: dict[str, str] = {}  # loggers that are others by their readings
        self.came: set[str] = set()  # loggers of which something was kept since files that wait were tried
        self.batch: int | None = None
        self.begun = time.monotonic()
        self.memory = Memory.of(studio)
        with studio.reading() as connection:
            self.whose = Whose.of(connection)
            self.zones = {row.id: row.zone for row in connection.execute(select(LOGGERS.c.id, LOGGERS.c.zone))}
        if logger is not None and logger != NEW:
            self.given = self.whose.named(logger)

    # ------------------------------------------------------------------------------------------------- one file

    def take(self, source: IncomingFile) -> None:
        """Read one file; it is kept with its batch."""
        self.waiting.append(self._outcome(source))
        readings = sum(item.readings for item in self.waiting if isinstance(item, Staged))
        full = len(self.waiting) >= BATCH_FILES or readings >= BATCH_READINGS
        if full or time.monotonic() - self.begun > BATCH_S:
            self.keep()

    def _outcome(self, source: IncomingFile) -> Staged | WaitingFile | FileOutcome:
        name = source.label
        try:
            return self._stage(source)
        except EnvwatchError as error:
            return FileOutcome(name, "refused", reason=_renamed(error.sentence, source))
        except OSError as error:
            return FileOutcome(name, "refused", reason=f"{name}: cannot be read ({files.plain(error)})")
        except Exception as error:  # a fault of ours must not hold up the other files
            return FileOutcome(name, "refused", reason=f"{name}: a fault in envwatch, please report it "
                               f"with the file ({type(error).__name__}: {error})")  # fmt: skip

    def _stage(self, source: IncomingFile) -> Staged | WaitingFile | FileOutcome:
        path = source.path
        if source.kept and (problem := originals.harm(source.kept, originals.found(path))):
            return FileOutcome(source.label, "refused", reason=problem)
        if not path.exists():
            raise BadInput("is not there", place=source.name)
        if not path.is_file():
            raise BadInput("is not a regular file", place=source.name)
        size = path.stat().st_size
        if source.tray is None and self._new_and_big(size):
            with HashingCopy(self.studio.journal, source.suffix) as copy:
                item = self._staged(replace(source, beside=copy), None, None)
                if copy.size() != size:  # it may have become one that is kept
                    raise BadInput(originals.CHANGED, place=source.name)
            return item
        sha256 = source.sha256 or files.digest(path)
        source = replace(source, sha256=sha256)
        if sha256 in self.hashes:
            return FileOutcome(source.label, "already kept", notes=("the same file stood twice in this add",))
        row = self._kept_before(sha256)
        healed = self._put_back(source, row) if source.kept is None else ()
        if row is not None and self._nothing_new(row, source):
            note = f"kept before as {files.label(row['name'])}, logger {row['logger']}"
            return FileOutcome(source.label, "already kept", row["logger"], notes=(note, *healed))
        item = self._staged(source, sha256, row)
        return replace(item, notes=(*item.notes, *healed))

    def _put_back(self, source: IncomingFile, kept: Mapping[str, Any] | None) -> tuple[str, ...]:
        """Put the bytes of a file that is kept, or waits, back where they were lost or changed; a note if they were."""
        row = kept or self._kept_before(source.sha256, TRAY)
        if row is None or not originals.take(self.studio.journal, source.path, row["sha256"], row["suffix"]):
            return ()
        originals.write_sidecar(self.studio.journal, row)
        return ("its original in the archive was gone or changed and is put back from this file; no reading changes",)

    def _staged(self, source: IncomingFile, sha256: str | None, row: Mapping[str, Any] | None) -> Staged | WaitingFile:
        """A file read or asked about. sha256 : known already; else it comes with the reading. row : kept before."""
        said = {**source.answered, **self.said}
        if sha256 is not None:
            self.hashes.add(sha256)
        try:
            item: Staged | WaitingFile = self._read(source, sha256, said, row)
        except Question as question:
            known = source.beside.sha256() if source.beside else sha256
            item = WaitingFile(source, known or "", question, said, about=self._about(source, said, question))
        self.hashes.add(item.sha256)
        return item

    def _about(self, source: IncomingFile, said: dict[str, str], question: Question) -> dict[str, Any]:
        """What is known of a file that asks how it is to be read; of a big one, or without listed answers, nothing."""
        read: list[LogFile] = []
        listed = source.beside is None and question.field in Answers.__dataclass_fields__
        for answer in question.choices if listed else ():
            with suppress(EnvwatchError):
                read.append(self._log(source, self._answers(None, said) | {question.field: answer}))
        read = [log for log in read if any(len(channel.time) for channel in log.channels)]
        return about(read, question) if read else {}

    def _new_and_big(self, size: int) -> bool:
        """Whether a file need not be hashed before it is read: no other has its size."""
        known = size in self.sizes
        self.sizes.add(size)
        if known or size < BIG_BYTES:
            return False
        with self.studio.reading() as connection:
            alike = (select(table.c.sha256).where(table.c.size == size).limit(1) for table in (FILES, TRAY))
            return all(connection.execute(query).first() is None for query in alike)

    def _kept_before(self, sha256: str, table: Table = FILES) -> Mapping[str, Any] | None:
        with self.studio.reading() as connection:
            row = connection.execute(select(table).where(table.c.sha256 == sha256)).mappings().first()
        return dict(row) if row else None

    def _nothing_new(self, row: Mapping[str, Any], source: IncomingFile) -> bool:
        """Whether a file that is kept already would be kept in the very same way now."""
        before = unjson(row["answers"])
        if self.given not in (None, row["logger"]):
            return False
        now = {**before, **self.said}
        return now == before or _alike(self._log(source, before), self._log(source, now))

    def _read(
        self, source: IncomingFile, sha256: str | None, said: dict[str, str], row: Mapping[str, Any] | None
    ) -> Staged | WaitingFile:
        given = self.given or (row["logger"] if row else None)  # of what is kept nobody is asked again whose it is
        guess, used, log = self._first_reading(source, given, said)
        new = originals.series(log, 0)
        if not new:
            raise BadInput("holds no readings", place=source.name)
        try:
            owner = self.whose.owner(given, log.label, source.name, lambda id: fit(new, self._kept_of(id, new)),
                                     lambda known: self._equals(new, known))  # fmt: skip
        except Question as question:
            return WaitingFile(source, sha256 or log.sha256, question, said, about=about([log], question))
        self.united |= dict.fromkeys(owner.one_with, owner.logger)
        if owner.logger != guess and (
            (fits := self._answers(owner.logger, said)) != used or self.memory.forms.get(owner.logger)
        ):
            used, log = self._in_form(source, fits, owner.logger)
        self._learn(owner, log, source, said)
        notes = (
            *(_renamed(note, source) for note in log.notes),
            *filter(None, (owner.note,)),
            *self.memory.notes(owner.logger, asdict(log.layout), used, said),
            *_others(log),
        )
        used = used | {originals.READ_AT: str(self.now)}
        return Staged(source, sha256 or log.sha256, log, owner.logger, owner.is_new, used, said, notes,
                      lines_after(source, log), None if row is None else int(row["id"]))  # fmt: skip

    def _first_reading(self, source: IncomingFile, given: str | None, said: dict[str, str]):
        """The file read as its name suggests: (whose answers helped, answers used, log).

        Where it asks, what is known of a logger that it may be of is tried: a registered zone is not asked for.
        """
        tries = [None if given == NEW else given]
        if not given:
            candidates = self.whose.candidates(source.name).all
            tries = [self.whose.guess(source.name), None, *self._by_serial(source), *candidates]
        failed: dict[tuple, EnvwatchError] = {}
        for logger in tries:
            used = self._answers(logger, said)
            memory = self.memory.forms.get(logger or "", {}), self.memory.orders(logger)
            if (key := (*used.items(), repr(memory))) in failed:
                continue  # it says nothing else
            try:
                return logger, *self._in_form(source, used, logger)
            except EnvwatchError as error:
                failed[key] = error
        raise next(iter(failed.values()))

    def _by_serial(self, source: IncomingFile) -> list[str]:
        """Loggers whose serial stands at the head of a file, before it is read."""
        with source.path.open("rb") as file:
            return sorted(self.whose.serials_in(file.read(HEAD_BYTES).decode("utf-8", "replace")))

    def _in_form(self, source: IncomingFile, used: dict[str, str | None], logger: str | None):
        """The file read with what was answered of its logger's files of the same layout; where it asks for the order of
        dates all the same, with that of the last of these. What was answered of another layout says nothing of it.
        """
        refused: dict[Form, Question] = {}
        for layout, answers in self.memory.forms.get(logger or "", {}).items():
            try:
                fits = {**answers, **used}
                log = self._log(source, fits)
            except Question as question:
                refused[layout] = question
            except EnvwatchError:
                continue
            else:
                if form(asdict(log.layout)) == layout:
                    return fits, log
        try:
            log = self._log(source, used)
        except Question as question:
            orders = {} if question.field != "dates" or used.get("dates") else self.memory.orders(logger)
            for layout, order in orders.items():
                with suppress(EnvwatchError):
                    log = self._log(source, used | {"dates": order})
                    if form(asdict(log.layout)) == layout:
                        return used | {"dates": order}, log
            raise
        if (question := refused.get(form(asdict(log.layout)))) is not None:
            raise question  # what was answered of this layout does not fit
        return used, log

    def _kept_of(self, logger: str, new: Mapping[str, Series]) -> dict[str, Series]:
        """What is kept of a logger near a file's time, with what is about to be."""
        of = [item for item in self.waiting if isinstance(item, Staged) and item.logger == logger]
        found = [beside(self.studio, logger, new), *(originals.series(item.log, 0) for item in of)]
        names = dict.fromkeys(name for channels in found for name in channels)
        return {name: in_time(channels[name] for channels in found if name in channels) for name in names}

    def _equals(self, new: Mapping[str, Series], known: Collection[str]) -> list[str]:
        """Loggers, but for those known, whose readings over a file's time are the same."""
        about = {item.logger for item in self.waiting if isinstance(item, Staged)}
        others = {*overlaps(self.studio, new), *about} - {*known}
        return sorted(id for id in others if fit(new, self._kept_of(id, new)).equal)

    def _learn(self, owner: Owner, log: LogFile, source: IncomingFile, said: dict[str, str]) -> None:
        if owner.is_new:
            self.whose.know(owner.logger, log.label or name_key(source.name), founded=True)
            self.zones[owner.logger] = ""
        self.whose.learn(owner.logger, log.label, path_key(source.name))
        self.memory.learn(owner.logger, asdict(log.layout), said)

    def _answers(self, logger: str | None, said: dict[str, str]) -> dict[str, str | None]:
        """What a file is read with: what is said now, what was said of its logger, what the register has of it."""
        zone = self.zones.get(logger or "", "")
        stated = {"zone": zone} if zone else {}
        return {**stated, **self.memory.answered.get(logger or "", {}), **said, "zone_default": self.studio.zone}

    def _log(self, source: IncomingFile, used: dict[str, str | None]) -> LogFile:
        log = read_log(source.path, used, self.now, source.beside.hashing if source.beside else None)
        if source.sha256 not in ("", log.sha256):
            raise BadInput(originals.CHANGED, place=source.name)
        return log

    # ---------------------------------------------------------------------------------------------- a batch

    def keep(self) -> None:
        """Keep what was read so far; only then is it reported as kept."""
        staged = [item for item in self.waiting if isinstance(item, Staged)]
        asked = [item for item in self.waiting if isinstance(item, WaitingFile)]
        kept: dict[int, FileOutcome] = {}
        if staged or asked:
            self.batch, kept = keeping.keep(self.studio, [*staged, *asked], self.batch, self.now, self.kind)
            self.came |= {item.logger for item in staged}
        self.outcomes += [item if isinstance(item, FileOutcome) else kept[id(item)] for item in self.waiting]
        self.waiting, self.begun = [], time.monotonic()

    def unite(self) -> None:
        """Files of loggers that are others, by a file that reads as both do, go to these."""
        while self.united:
            was, logger = self.united.popitem()
            self.united = {id: logger if into == was else into for id, into in self.united.items() if id != logger}
            self.given, self.said = logger, {}
            with self.studio.reading() as connection:
                rows = found(connection, in_order(FILES).where(FILES.c.logger == was))
            self.hashes -= {row["sha256"] for row in rows}
            for row in rows:
                self.take(from_kept(self.studio, row))
            self.keep()
            with self.studio.reading() as connection:
                self.whose = Whose.of(connection)

    def try_again(self) -> None:
        """Files that wait and may be of loggers of which something came in: those whose question it answers go in."""
        self.given, self.said, tried = None, {}, self.hashes
        while self.came:
            came, self.came = self.came, set()
            for number, name, known in waits(self.studio):
                if came & {*self.whose.candidates(name).all, *known.get("loggers", ())}:
                    source = from_tray(self.studio, number)
                    self.hashes = set() if source.sha256 not in tried else tried
                    item = self._outcome(source)
                    self.waiting += [item] if isinstance(item, Staged) else []
                    self.keep()
                    self.unite()
                    self.given = None

    def report(self) -> AddReport:
        """What became of all files."""
        return AddReport(tuple(self.outcomes), self.batch)


def _others(log: LogFile) -> list[str]:
    """What else the file holds: it stays in the original, and is not kept as readings."""
    found = sorted({name for channel in log.channels for name in channel.others})
    return [f"also in the file and not kept as readings: {', '.join(found)}; the original keeps them"] if found else []


def _renamed(message: str, source: IncomingFile) -> str:
    """A message about a file in the tray, under the name it came with."""
    return message.replace(source.path.name, source.label)


def _alike(a: LogFile, b: LogFile) -> bool:
    """Whether two readings of one file gave the same."""
    one, other = originals.series(a, 0), originals.series(b, 0)
    return one.keys() == other.keys() and all(
        np.array_equal(getattr(one[name], column), getattr(other[name], column), equal_nan=column != "time")
        for name in one for column in ("time", "temp_c", "rh_percent")
    )  # fmt: skip


def lines_after(source: IncomingFile, log: LogFile) -> int:
    """How many lines of a text file follow its last reading."""
    if source.path.suffix.lower() in (".xls", ".xlsx"):
        return 0
    last = max(int(channel.line.max()) for channel in log.channels if len(channel.time))
    if source.beside:
        return max(source.beside.lines() - last, 0)
    lines, sha = 0, hashlib.sha256()
    with source.path.open("rb") as file:
        while chunk := file.read(files.CHUNK):
            sha.update(chunk)
            lines += line_ends(chunk)
    if sha.hexdigest() != log.sha256:
        raise BadInput(originals.CHANGED, place=source.name)
    return max(lines - last, 0)
