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
from sqlalchemy import select

from envwatch.archive.intake import keep as keeping
from envwatch.archive.intake.assign import NEW, WHOSE, LoggerMatcher, name_key, path_key
from envwatch.archive.intake.cleanup import sweep
from envwatch.archive.intake.fit import Fit, beside, fit, in_time, overlaps
from envwatch.archive.intake.memory import Form, Memory, form
from envwatch.archive.intake.outcomes import AddReport, FileOutcome, IncomingFile, StagedFile, WaitingFile
from envwatch.archive.intake.revisit import revisit
from envwatch.archive.intake.sources import from_kept, from_tray, sources, waits
from envwatch.archive.intake.tray import about
from envwatch.archive.store import files, originals
from envwatch.archive.store.originals import read_log, unjson
from envwatch.archive.store.records import first, found, in_order
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
PUT_BACK = "its original in the archive was gone or changed and is put back from this file; no reading changes"
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
        if intake.united:
            intake.unite()
        intake.try_again()
        if progress:
            progress(len(taken), len(taken), "")
        return AddReport(tuple(intake.outcomes), intake.batch)


class Intake:
    """One `add`: its files one after the other, kept in batches."""

    def __init__(self, studio: StudioFolder, answers: Answers, logger: str | None, kind: str = "") -> None:
        self.studio, self.given, self.kind = studio, logger, kind
        self.said = {name: value for name, value in asdict(answers).items() if value is not None}
        self.now = pd.Timestamp.now(tz="UTC").floor("s")
        self.outcomes: list[FileOutcome] = []
        self.waiting: list[StagedFile | WaitingFile | FileOutcome] = []
        self.hashes: set[str] = set()
        self.sizes: set[int] = set()
        self.united: dict[str, str] = {}  # loggers that are others by their readings
        self.told = logger is not None  # a person says whose the files are
        self.answering: str | None = None  # whose a person said a file is, as others are tried again by that
        self.moved: set[str] = set()  # files that founded a logger and were given to another
        self.came: set[str] = set()  # loggers of which something was kept since files that wait were tried
        self.batch: int | None = None
        self.begun = time.monotonic()
        self.memory = Memory.of(studio)
        with studio.reading() as connection:
            self.whose = LoggerMatcher.of(connection)
            self.zones = {row.id: row.zone for row in connection.execute(select(LOGGERS.c.id, LOGGERS.c.zone))}
        if logger is not None and logger != NEW:
            self.given = self.whose.named(logger)

    # ------------------------------------------------------------------------------------------------- one file

    def take(self, source: IncomingFile, again: bool = False) -> None:
        """Read one file; it is kept with its batch. again : it waited; where it still does all stays as it is."""
        name = source.label
        try:
            item = self._stage(source)
        except EnvwatchError as error:
            item = FileOutcome(name, "refused", reason=error.sentence.replace(source.path.name, name))
        except OSError as error:
            item = FileOutcome(name, "refused", reason=f"{name}: cannot be read ({files.plain(error)})")
        except Exception as error:  # a fault of ours must not hold up the other files
            item = FileOutcome(name, "refused", reason=f"{name}: a fault in envwatch, please report it "
                               f"with the file ({type(error).__name__}: {error})")  # fmt: skip
        if not again or isinstance(item, StagedFile) or (isinstance(item, WaitingFile) and _asks_anew(item)):
            self.waiting.append(item)
        readings = sum(item.readings for item in self.waiting if isinstance(item, StagedFile))
        full = len(self.waiting) >= BATCH_FILES or readings >= BATCH_READINGS
        if full or time.monotonic() - self.begun > BATCH_S:
            self.keep()

    def _stage(self, source: IncomingFile) -> StagedFile | WaitingFile | FileOutcome:
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
                item = self._read(replace(source, beside=copy), None)
                if copy.size() != size:  # it may have become one that is kept
                    raise BadInput(originals.CHANGED, place=source.name)
            self.hashes.add(item.sha256)
            return item
        source = replace(source, sha256=source.sha256 or files.digest(path))
        if source.sha256 in self.hashes:
            return FileOutcome(source.label, "already kept", notes=("the same file stood twice in this add",))
        with self.studio.reading() as connection:
            row, waits = (first(connection, select(table).where(table.c.sha256 == source.sha256))
                          for table in (FILES, TRAY))  # fmt: skip
        held, healed = row or waits, ()
        if held and source.kept is None and originals.take(self.studio.journal, path, source.sha256, held["suffix"]):
            originals.write_sidecar(self.studio.journal, held)
            healed = (PUT_BACK,)
        if row is not None and source.tray is None and self._nothing_new(row, source):
            note = f"kept before as {files.label(row['name'])}, logger {row['logger']}"
            return FileOutcome(source.label, "already kept", row["logger"], notes=(note, *healed))
        self.hashes.add(source.sha256)
        item = self._read(source, row)
        return replace(item, notes=(*item.notes, *healed)) if healed else item

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
        if size < BIG_BYTES or size in self.sizes:
            return False
        self.sizes.add(size)
        with self.studio.reading() as connection:
            alike = (select(table.c.sha256).where(table.c.size == size).limit(1) for table in (FILES, TRAY))
            return all(first(connection, query) is None for query in alike)

    def _nothing_new(self, row: Mapping[str, Any], source: IncomingFile) -> bool:
        """Whether a file that is kept already would be kept in the very same way now."""
        before = unjson(row["answers"])
        if self.given not in (None, row["logger"]):
            return False
        now = {**before, **self.said}
        return now == before or _alike(self._log(source, before), self._log(source, now))

    def _read(self, source: IncomingFile, row: Mapping[str, Any] | None) -> StagedFile | WaitingFile:
        """A file read and given to its logger, or asked about. row : kept before; whose it is nobody is asked again."""
        said, log = {**source.answered, **self.said}, None
        given = self.given or (row["logger"] if row else None)
        if row and source.tray and given == NEW:
            given = row["logger"]  # it was asked about as it was kept, and stays what it is
        try:
            guess, used, log = self._first_reading(source, given, said)
            if not (new := originals.series(log, 0)):
                raise BadInput("holds no readings", place=source.name)
            label = log.label or (None if given else self._label_above(source, log))
            owner = self.whose.owner(given, label, source.name, lambda id: fit(new, self.kept_of(id, new)),
                                     lambda known: self._equals(new, known))  # fmt: skip
            if self.answering and owner.by_name and source.tray and (source.kept or {})["option"] == "logger":
                self.whose.require_same_name(owner, source.name)
            if owner.logger != guess and (
                (fits := self._answers(owner.logger, said)) != used or self.memory.forms.get(owner.logger)
            ):
                used, log = self._in_form(source, fits, owner.logger)
        except Question as question:
            known = source.beside.sha256() if source.beside else source.sha256
            of = about([log], question) if log and question.field == "logger" else self._about(source, said, question)
            return WaitingFile(source, known, question, said, about=of)
        self.united |= dict.fromkeys(owner.one_with, owner.logger)
        if owner.is_new:
            self.whose.know(owner.logger, log.label or name_key(source.name), founded=True)
        self.whose.learn(owner.logger, log.label, path_key(source.name))
        self.memory.learn(owner.logger, asdict(log.layout), said)
        others = sorted({name for channel in log.channels for name in channel.others})
        notes = (
            *(note.replace(source.path.name, source.label) for note in log.notes),
            *filter(None, (owner.note,)),
            *self.memory.notes(owner.logger, asdict(log.layout), used, said),
        )
        if others:
            notes += (f"also in the file and not kept as readings: {', '.join(others)}; the original keeps them",)
        used = used | {originals.READ_AT: str(self.now)}
        if self.told:
            said = {**said, WHOSE: ";".join(self._not_of(source, row))}
        return StagedFile(source, source.sha256 or log.sha256, log, owner.logger, owner.is_new, used, said, notes,
                      lines_after(source, log), None if row is None else int(row["id"]))  # fmt: skip

    def _label_above(self, source: IncomingFile, log: LogFile) -> str | None:
        """A registered name with a number that stands above the rows of a file whose label nothing else tells."""
        first = min(int(channel.line.min()) for channel in log.channels if len(channel.line))
        with source.path.open("rb") as file:
            above = file.read(HEAD_BYTES).decode("utf-8", "replace").split("\n")[: first - 1]
        return self.whose.stated_in("\n".join(above))

    def _not_of(self, source: IncomingFile, row: Mapping[str, Any] | None) -> list[str]:
        """The loggers that a file is not of, as a person says by giving it to another, or by answering "new"."""
        if self.kind == "part" and row:
            return [row["logger"]]
        asked = source.kept if source.tray and source.kept else {}
        choices = unjson(asked["choices"]) if asked and asked["option"] == "logger" and self.given == NEW else []
        return [id for id in choices if id != NEW]

    def _first_reading(self, source: IncomingFile, given: str | None, said: dict[str, str]):
        """The file read as its name suggests: (whose answers helped, answers used, log).

        Where it asks, what is known of a logger that it may be of is tried: a registered zone is not asked for. So is
        what is known of one whose serial stands at its head.
        """
        tries = [None if given == NEW else given]
        if not given:
            candidates = self.whose.candidates(source.name)
            guess = candidates.best or candidates.all
            with source.path.open("rb") as file:
                serials = self.whose.serials_in(file.read(HEAD_BYTES).decode("utf-8", "replace"))
            tries = [guess[0] if len(guess) == 1 else None, None, *sorted(serials), *candidates.all]
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

    def kept_of(self, logger: str, new: Mapping[str, Series]) -> dict[str, Series]:
        """What is kept of a logger near a file's time, with what is about to be."""
        of = [item for item in self.waiting if isinstance(item, StagedFile) and item.logger == logger]
        found = [beside(self.studio, logger, new), *(originals.series(item.log, 0) for item in of)]
        names = dict.fromkeys(name for channels in found for name in channels)
        return {name: in_time(channels[name] for channels in found if name in channels) for name in names}

    def _equals(self, new: Mapping[str, Series], known: Collection[str]) -> dict[str, Fit]:
        """Loggers, but for those known, whose readings over a file's time are the same, corrected or not."""
        about = {item.logger for item in self.waiting if isinstance(item, StagedFile)}
        others = {*overlaps(self.studio, new), *about} - {*known}
        fits = {id: fit(new, self.kept_of(id, new)) for id in sorted(others)}
        return {id: one for id, one in fits.items() if one.equal or one.corrected}

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
        staged = [item for item in self.waiting if isinstance(item, StagedFile)]
        asked = [item for item in self.waiting if isinstance(item, WaitingFile)]
        kept: dict[int, FileOutcome] = {}
        if staged or asked:
            self.batch, kept = keeping.keep(self.studio, [*staged, *asked], self.batch, self.now, self.kind)
            self.came |= {item.logger for item in staged}
            if any(item.replaces is not None for item in staged):
                self.know_again()
        settled = {item.source.tray for item in (*staged, *asked)} - {None}  # what was said of them is over
        self.outcomes = [one for one in self.outcomes if one.number not in settled]
        self.outcomes += [item if isinstance(item, FileOutcome) else kept[id(item)] for item in self.waiting]
        self.waiting, self.begun = [], time.monotonic()

    def unite(self) -> None:
        """Files of loggers that are others, by a file that reads as both do, go to these."""
        while self.united:
            was, logger = self.united.popitem()
            self.united = {id: logger if into == was else into for id, into in self.united.items() if id != logger}
            self.given, self.said, self.told = logger, {}, False
            with self.studio.reading() as connection:
                rows = found(connection, in_order(FILES).where(FILES.c.logger == was))
            self.hashes -= {row["sha256"] for row in rows}
            for row in rows:
                self.take(from_kept(self.studio, row))
            self.keep()

    def know_again(self) -> None:
        """Loggers as the register has them now: a batch may have forgotten some, or been told of others."""
        with self.studio.reading() as connection:
            self.whose = LoggerMatcher.of(connection)

    def try_again(self) -> None:
        """Files that wait and may be of loggers of which something came in: those whose question it answers go in."""
        self.answering, self.given, self.said, self.told = self.given if self.told else None, None, {}, False
        while self.came:
            came, self.came, self.hashes = self.came, set(), set()
            for number, name, known in waits(self.studio):
                if came & {*self.whose.candidates(name).all, *known}:
                    self.take(from_tray(self.studio, number), again=True)
                    self.keep()
                    self.unite()
                    self.given = None
            of_labels = [ids for ids in self.whose.labels.values() if ids & came]
            mixed = any(len(ids) > 1 or ids & came & self.whose.folders.keys() for ids in of_labels)
            if mixed or len(came | self.whose.unasked) > 1:
                revisit(self, came)


def _asks_anew(item: WaitingFile) -> bool:
    """Whether a file that waits is asked about otherwise than before."""
    asked = item.question.field, [*item.question.choices]
    return bool(was := item.source.kept) and (was["option"], unjson(was["choices"])) != asked


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
