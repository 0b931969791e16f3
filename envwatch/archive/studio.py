"""The studio folder: making it, opening it, and everything that is asked of it.

Each method is one call into the module that does the work; what this one owns is the folder, the register's
connection, and the lock.
"""

from __future__ import annotations

import json
import threading
import tomllib
import weakref
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd
from sqlalchemy import Connection, select

from envwatch import materials
from envwatch.archive import (
    backing,
    bundling,
    checking,
    climates,
    doubts,
    exposure,
    fields,
    intake,
    keeping,
    lock,
    reviews,
    schema,
    seen,
    tables,
    telling,
    tracing,
    transfer,
    verbs,
)
from envwatch.archive.backing import BackupReport
from envwatch.archive.checking import CheckReport
from envwatch.archive.dates import instant
from envwatch.archive.disk import plain, write_whole
from envwatch.archive.journal import BESIDE, BESIDE_LOCK, WRITING, Journal
from envwatch.archive.memory import Kept
from envwatch.archive.outcomes import AddReport, TrayItem, UndoReport
from envwatch.archive.parts import Part, PartReader, of_row
from envwatch.archive.redacting import Names
from envwatch.archive.register import MarkAnswer, Register, load
from envwatch.archive.reviews import Task
from envwatch.archive.seen import LoggerSeen
from envwatch.archive.server import Server
from envwatch.archive.telling import Arrivals
from envwatch.archive.tracing import Trace
from envwatch.errors import BadInput, StudioError
from envwatch.logs.model import Answers
from envwatch.materials import Profile
from envwatch.records import (
    Climate,
    Exposure,
    Finding,
    Hanging,
    Logger,
    Observation,
    Painting,
    Place,
    Stay,
    Stint,
    Treatment,
)

FACTS = "studio.toml"
WORKED_OUT_ROWS = 8_000_000  # readings of climates kept in memory, some 60 bytes each
MATERIALS = "materials.toml"
FOLDERS = ("originals", "readings", "sheets")
OURS = {FACTS, MATERIALS, schema.REGISTER, lock.LOCK, lock.OWNER, WRITING, BESIDE, BESIDE_LOCK, *FOLDERS}


@dataclass
class State:
    """What was read of the register at one state of it, and what was worked out from it."""

    version: int
    register: Register
    parts: dict[str, list[Part]]  # the parts that hold, by logger, in the order of their years
    worked_out: Kept = field(default_factory=lambda: Kept(WORKED_OUT_ROWS))


class Studio:
    """One studio folder. Make one with `Studio.create` or `Studio.open`; close it, or use it in a `with`.

    Attributes
    ----------
    folder, name, zone, altitude_m, units : where it is and what `studio.toml` says of it.
    """

    def __init__(self, folder: Path, facts: dict[str, Any], home: schema.Home | None = None) -> None:
        self.folder = folder
        self.name: str = facts["name"]
        self.zone: str = facts["zone"]
        self.altitude_m = float(facts.get("altitude_m", 0.0))
        self.units: str = facts.get("units", "metric")
        self.adopted_on: str = facts.get("limits_adopted_on", "")
        self.adopted_because: str = facts.get("limits_because", "")
        self.reader = PartReader(folder)
        self.journal = Journal(folder)
        self.home = schema.home(folder, facts) if home is None else home
        self._state: State | None = None
        self._held = threading.local()
        self._reading = threading.RLock()
        self._closing = weakref.finalize(self, self.home.close)

    # ------------------------------------------------------------------------------------ making and opening

    @classmethod
    def create(cls, folder: Path | str, *, name: str, zone: str, altitude_m: float = 0.0, register: str = "") -> Studio:
        """Make an empty studio folder.

        Parameters
        ----------
        register : address of an empty PostgreSQL database for the register; by default it is a file in the folder.

        Raises
        ------
        StudioError : the folder or the database holds something already, or cannot be written to. BadInput : no such
        time zone, or no such address.
        """
        folder = Path(folder)
        facts = {"name": name, "zone": _zone(zone), "altitude_m": _altitude(altitude_m), "units": "metric"}
        server = Server.new(folder, register) if register else None
        _make_folder(folder)
        studio = cls(folder, facts, server)
        try:
            with studio.home.writer("making the studio folder"), studio.home.in_words():
                if server is not None:
                    server.must_be_empty()
                    facts |= server.facts
                schema.migrate(studio.home)
                for sub in FOLDERS:
                    (folder / sub).mkdir(exist_ok=True)
                write_whole(folder / FACTS, _toml(facts).encode("utf-8"))  # last: it makes the folder a studio
        except BaseException:
            studio.close()
            raise
        return studio

    @classmethod
    def open(cls, folder: Path | str) -> Studio:
        """Open a studio folder; one from an older envwatch is brought up to date.

        Raises
        ------
        StudioError : not a studio folder, from a newer envwatch, no permission, or damaged.
        """
        folder = Path(folder)
        studio = cls(folder, _read_facts(folder))
        try:
            studio.home.must_be_there()
            if schema.is_due(studio.home):
                with studio.home.writer("bringing the register up to date"), studio.home.in_words():
                    schema.migrate(studio.home)
        except BaseException:
            studio.close()
            raise
        return studio

    @property
    def adoption(self) -> str:
        """What the studio says of envwatch's working limits, in words; empty where it has said nothing."""
        return f"on {self.adopted_on}, because {self.adopted_because}" if self.adopted_on else ""

    def adopt_limits(self, on: str, because: str) -> None:
        """Put down in `studio.toml` that the studio works by envwatch's own limits, from a day on and why.

        Raises
        ------
        BadInput : no such day, or no reason. StudioError : the folder cannot be written to.
        """
        if not because.strip():
            raise BadInput("a reason is wanted: whoever reads a sheet asks why the studio works by these limits")
        try:
            day = str(instant(on, self.zone).tz_convert(self.zone).date())
        except ValueError:
            raise BadInput(f"{on}: expected a day such as 2026-11-02") from None
        adopted = {"limits_adopted_on": day, "limits_because": " ".join(because.split())}
        with self.home.writer("adopting the limits"), self.home.in_words():
            facts = _read_facts(self.folder) | adopted  # as they are now, whoever wrote last
            write_whole(self.folder / FACTS, _toml(facts).encode("utf-8"))
        self.adopted_on, self.adopted_because = adopted.values()

    def close(self) -> None:
        """Let go of the register. A studio that is forgotten is closed by itself."""
        self._closing()

    def __reduce__(self):
        """Sent to another process, it is opened there afresh."""
        return Studio.open, (self.folder,)

    def __enter__(self) -> Studio:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    # -------------------------------------------------------------------------------------- reading and writing

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The register, at one state of it."""
        with self.home.in_words(), self.home.engine.connect() as connection:
            yield connection

    @contextmanager
    def saving(self) -> Iterator[Connection]:
        """One transaction on the register alone: all of it, or nothing."""
        with self.home.in_words(), self.home.saving() as connection:
            yield connection

    @contextmanager
    def writing(self, what: str) -> Iterator[None]:
        """Hold the folder's one writing place; within one that is held already, nothing more happens."""
        if getattr(self._held, "by_us", False):
            yield
            return
        with self.home.writer(what):
            self._held.by_us = True
            try:
                self.journal.begin()
                yield
                self.journal.end()
            finally:
                self._held.by_us = False

    def state(self) -> State:
        """The register as it is now; read again only if it has changed since."""
        with self._reading:
            with self.home.in_words():
                version = self.home.changes()
            if self._state is None or self._state.version != version:
                with self.reading() as connection:
                    self._state = State(version, load(connection, self.zone, self.altitude_m), _parts(connection))
            return self._state

    def register(self) -> Register:
        """All nouns."""
        return self.state().register

    def places(self) -> dict[str, Place]:
        """All places by id, in the order they were put in."""
        return self.register().places

    def loggers(self) -> dict[str, Logger]:
        """All loggers by id."""
        return self.register().loggers

    def materials(self) -> Mapping[str, Profile]:
        """The material profiles in force here: envwatch's own, and what `materials.toml` adds or overrules."""
        path = self.folder / MATERIALS
        key = ("materials", path.stat().st_mtime_ns if path.is_file() else None)
        return self.state().worked_out.get(key, lambda: materials.load(path))

    def paintings(self) -> dict[str, Painting]:
        """All paintings by id."""
        return self.register().paintings

    def find_painting(self, words: str) -> Painting:
        """The one painting that its number, or words of its title, maker or owner, or of where it is, fit.

        Words in any order; letters with or without their marks ("Wärter", "warter", "Waerter").

        Raises
        ------
        NotThere : none fits; the nearest are named. Question : several fit.
        """
        return verbs.find_painting(self, words)

    def find_place(self, words: str) -> Place:
        """The one place that its id, or words of its name, fit. NotThere: none does. Question: several do."""
        return verbs.find_place(self, words)

    # ------------------------------------------------------------------------------------- changing the register

    def import_register(self, folder: Path | str) -> dict[str, int]:
        """Read the register from CSV files (columns: DEVELOPERS.md); rows kept by file.

        A row with a known id changes that noun; layers, stays, hangings and observations replace all that the
        register had for the paintings (loggers) named. BadInput: one line with file and row; nothing is kept then.
        """
        return transfer.import_register(self, folder)

    def export_register(self, folder: Path | str, *, private: bool = False, redact: bool = False) -> transfer.Exported:
        """Write the register as CSV files; rows by file. Owners only if `private`; then importing it changes nothing.

        Else a number stands where an owner's name stood in a text. `redact`: in the owner column too, and houses
        without a name.
        """
        return transfer.export_register(self, folder, private=private, redact=redact)

    def names(self, houses: bool = False, owner_of: Painting | None = None) -> Names:
        """Who is not named in what leaves the studio, to be taken out of texts, files and results.

        Parameters
        ----------
        houses : the names of owners' houses go too.
        owner_of : the owner of this painting, and the houses it stood in, may be named.
        """
        return Names.of(self.register(), houses, owner_of, self.name)

    def move(self, painting_id: str, place_id: str, on: verbs.When, *, position: str = "unknown",
             intended: bool = False, purpose: str = "", until: verbs.When | None = None) -> Stay:  # fmt: skip
        """A painting moves to a place; the stay it was in ends that day. Dates as in the register's CSV files.

        An intended stay with an end (a humidity chamber) is fitted into the stay around it, which goes on after it.

        Raises
        ------
        NotThere : no such painting or place. BadInput : a date or a word is wrong, or the stays would overlap.
        """
        return verbs.move(self, painting_id, place_id, on, position=position, intended=intended, purpose=purpose,
                          until=until)  # fmt: skip

    def treat(self, painting_id: str, kind: str, on: verbs.When, *, material: str = "",
              end: verbs.When | None = None, temp_interface_c: float | None = None, note: str = "",
              id: str | None = None, adds_layer: bool = True, **trade: Any) -> Treatment:  # fmt: skip
        """Record a treatment, and with it the layer that it puts on (a lining its film, and its cloth if named).

        Parameters
        ----------
        trade : further fields of `Treatment` by name: batch, temps_interface_c, hold_min, pressure_mbar, …
        adds_layer : False where the stack has, or gets, the layer otherwise.

        Raises
        ------
        BadInput : before the painting was made, a second lining of one day without hours, a field or family unknown.
        """
        return verbs.treat(self, painting_id, kind, on, material=material, end=end, temp_interface_c=temp_interface_c,
                           note=note, id=id, adds_layer=adds_layer, **trade)  # fmt: skip

    def enter(self, noun: str, cells: Mapping[str, str]) -> bool:
        """Enter a "painting", "place", "logger" or "layer" by the columns of its CSV file; whether it is new.

        A known id changes what is given of that noun. BadInput: one line on what is wrong; nothing is kept then.
        """
        return verbs.enter(self, noun, cells)

    def observe(self, painting_id: str, on: verbs.When, sign: str, *, where: str = "", finding: int | None = None,
                confirms: bool | None = None, note: str = "", photo: str = "") -> Observation:  # fmt: skip
        """Record a sign seen on a painting; it may confirm or deny a finding by its number. `photo`: a file's name."""
        return verbs.observe(self, painting_id, on, sign, where=where, finding=finding, confirms=confirms, note=note,
                             photo=photo)  # fmt: skip

    def set_hanging(self, logger_id: str, place_id: str, on: verbs.When, *, position: str = "unknown",
                    channel: str = "", until: verbs.When | None = None) -> Hanging:  # fmt: skip
        """Say where a logger, or one of its probes, hangs from a day on; also afterwards, to correct the register.

        What the register has from that day on gives way, up to the end of the hanging it falls into.
        """
        return verbs.set_hanging(self, logger_id, place_id, on, position=position, channel=channel, until=until)

    def stand_in(self, place_id: str, neighbour_id: str, on: verbs.When, *, temp_u_c: float, rh_u_percent: float,
                 until: verbs.When | None = None, note: str = "") -> None:  # fmt: skip
        """A neighbour's air counts while a place's own loggers read nothing, with what it may be off by.

        Parameters
        ----------
        temp_u_c, rh_u_percent : half-widths a person vouches for; carried into every finding's ±. [°C], [% RH]
        """
        verbs.stand_in(self, place_id, neighbour_id, on, temp_u_c=temp_u_c, rh_u_percent=rh_u_percent, until=until,
                       note=note)  # fmt: skip

    def calibrate(self, logger_id: str, on: verbs.When, **check: Any) -> None:
        """Record a check of a logger, which corrects its readings from that day on; raw readings stay.

        Parameters
        ----------
        check : `rh_points`, one or two (true, read) in % RH; `temp_point`, (true, read) in °C;
            `rh_accuracy_percent`, `temp_accuracy_c`, limits of error after it; `channel`, `due`, `basis`, `note`.

        Raises
        ------
        BadInput : a correction so strong that the sensor should be replaced.
        """
        verbs.calibrate(self, logger_id, on, **check)

    def doubts(self, start: pd.Timestamp, end: pd.Timestamp, logger: str | None = None) -> tuple[doubts.Doubt, ...]:
        """Stretches of readings in [start, end) that bear a mark of doubt, each with what a person answered."""
        return doubts.doubts(self, start, end, logger)

    def answer_marks(self, logger_id: str, answer: str, start: verbs.When, end: verbs.When | None, *, because: str,
                     mark: str = "", channel: str = "", by: str = "") -> MarkAnswer:  # fmt: skip
        """A person's dated answer about readings that bear a mark, from a day (or instant) to another, included.

        Parameters
        ----------
        answer : "out", the marked readings count as missing from now on; "good", they are no longer doubted.
        mark : by its name; empty, any mark of doubt. Readings without the mark are not touched.
        by : who says so; by default who is logged in.

        Raises
        ------
        BadInput : no reason, no such mark or answer, or no reading of that time bears it. NotThere : no such logger.
        """
        return verbs.answer_marks(self, logger_id, answer, start, end, because=because, mark=mark, channel=channel,
                                  by=by)  # fmt: skip

    def withdraw_answer(self, number: int) -> None:
        """Take an answer about marked readings back; they are doubted again. NotThere: no such number."""
        verbs.withdraw_answer(self, number)

    # ---------------------------------------------------------------------------------------------- logger files

    def add(self, paths: Iterable[Path | str | int], answers: Answers | None = None, *, logger: str | None = None,
            progress: intake.Progress = None) -> AddReport:  # fmt: skip
        """Read logger files and keep them, byte for byte and as readings.

        Parameters
        ----------
        paths : files; folders, with all below them; numbers of files that wait in the tray.
        answers : what a person says about them. It is remembered for the loggers they belong to.
        logger : whose files they are, by id, name or label; "new": another, new logger's.
        progress : called with (done, of, name).

        Returns
        -------
        An outcome for each file. Files are kept in batches, each whole or not at all; a file with a question goes
        into the tray and holds up no other; one that is no log is refused and leaves nothing. A file that was kept
        before changes nothing, unless `answers` or `logger` now say otherwise: then it is read again.
        """
        return intake.add(self, paths, answers, logger=logger, progress=progress)

    def undo(self, batch: int | None = None) -> UndoReport:
        """Take back an add, by default the last; its files are set apart in `originals/undone`."""
        return keeping.undo(self, batch)

    def tray(self) -> tuple[TrayItem, ...]:
        """Files that wait for an answer; `add` takes them by number, with the answer."""
        return intake.tray(self)

    def discard(self, number: int) -> TrayItem:
        """Take a file out of the tray unread; it is set apart in `originals/undone`. NotThere: no such number."""
        return intake.discard(self, number)

    def seen(self, now: pd.Timestamp | None = None, place: str | None = None) -> dict[str, LoggerSeen]:
        """Until when each logger was seen, and whether late by the clock `now`, stopped or flat; `place`: there."""
        return seen.seen(self, now, place)

    def arrivals(self, since: pd.Timestamp | None = None) -> Arrivals:
        """What was added since a moment, in sentences; of all time, if none is given."""
        return telling.arrivals(self, since)

    def mark_notes(self, start: pd.Timestamp, end: pd.Timestamp, place: str | None = None) -> tuple[str, ...]:
        """How many readings of a span bear which quality mark, a sentence for each logger; `place`: that hung there."""
        return telling.mark_notes(self, start, end, place)

    # -------------------------------------------------------------------------------------------------- climates

    def climate(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp, position: str | None = None) -> Climate:
        """The air in a place over [start, end): bad readings missing, checks applied, raw data untouched.

        `position`: the air there, while a logger hangs there; else, and where none does, the room's.
        """
        return climates.climate(self, place_id, start, end, position)

    def place_exposure(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> Exposure:
        """The exposure of whatever stands in a place."""
        return exposure.place_exposure(self, place_id, start, end)

    def exposures(
        self, painting: Painting, start: pd.Timestamp, end: pd.Timestamp, doubt_from: pd.Timestamp | None = None,
        weekly: bool = False, reviewed: pd.Timestamp | None = None,
    ) -> tuple[Exposure, ...]:  # fmt: skip
        """What a painting was exposed to over [start, end), from its stays; hours without a logger are unknown.

        One; two where only the day of a move is known and lies in the span: first with that day given to the place
        left, then to the next (and more where three places share a day). The worse counts. Such a day before
        `doubt_from` is given to the place left. `weekly`, `reviewed`: see `records.Exposure`.
        """
        return exposure.exposures(self, painting, start, end, doubt_from, weekly, reviewed)

    def has_logger(self, place_id: str, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether a logger hung in a place at any time of a span."""
        return any(hung.covers(start, end) for hung in climates.hung_in(self, place_id))

    def has_readings(self, start: pd.Timestamp, end: pd.Timestamp) -> bool:
        """Whether any logger read anything in a span."""
        return any(climates.channels_of(self, id, start, end) for id in self.loggers())

    def trace(self, where: str, time: pd.Timestamp, position: str | None = None) -> Trace:
        """The reading behind a moment in a place, or of a logger: its file and line, raw and corrected.

        NotThere: neither a place nor a logger, or nothing was read within an hour of it.
        """
        return tracing.trace(self, where, time, position)

    # --------------------------------------------------------------------------------------------- kept results

    def number_findings(self, findings: Iterable[Finding]) -> tuple[Finding, ...]:
        """Findings with their numbers, the same for the same `Finding.key` for good.

        What asks for nothing and never did gets none; nor does anything in a folder that cannot be written to.
        """
        return reviews.number_findings(self, findings)

    def painting_of_finding(self, number: int) -> str:
        """The id of the painting that a numbered finding is of. NotThere: no such number."""
        return reviews.painting_of_finding(self, number)

    def finding(self, number: int) -> dict[str, Any]:
        """What the last kept review said of a finding, with that review's period. NotThere: no such number."""
        return reviews.finding(self, number)

    def keep_review(self, period_start: pd.Timestamp, period_end: pd.Timestamp, record: Mapping[str, Any],
                    limits: Mapping[str, Any], made_at: pd.Timestamp | None = None) -> int:  # fmt: skip
        """Keep a review with the limits in force; returns its number. `record["findings"]` go by their numbers."""
        return reviews.keep_review(self, period_start, period_end, record, limits, made_at)

    def reviews(self) -> list[dict[str, Any]]:
        """All kept reviews in the order they were made."""
        return reviews.reviews(self)

    def previous_review(self, before: pd.Timestamp) -> dict[str, Any] | None:
        """The kept review of the latest period that begins before a moment."""
        return reviews.previous_review(self, before)

    def last_review(self) -> dict[str, Any] | None:
        """The review kept last."""
        return reviews.last_review(self)

    def tasks(self, open_only: bool = True) -> tuple[Task, ...]:
        """Tasks in the order they were raised; those put off count as open."""
        return reviews.tasks(self, open_only)

    def raise_task(self, number: int, painting_id: str, what: str, due: pd.Timestamp | None = None,
                   raised_on: pd.Timestamp | None = None) -> Task:  # fmt: skip
        """Raise a task for a finding's number, unless one is open already."""
        return reviews.raise_task(self, number, painting_id, what, due, raised_on)

    def close_task(self, number: int, word: str, on: pd.Timestamp | None = None) -> Task:
        """Close a task with a word on what was done. NotThere: none is open under this number."""
        return reviews.close_task(self, number, word, on)

    def put_off(self, number: int, reason: str, until: pd.Timestamp) -> Task:
        """Put a task off, or a finding that has none yet. NotThere: no such number."""
        return reviews.put_off(self, number, reason, until)

    def put_off_reason(self, finding: Finding, moment: pd.Timestamp) -> str:
        """Until when and why a finding was put off; empty if it was not, it is over, or the finding grew worse."""
        return reviews.put_off_reason(self, finding, moment)

    def keep_sheet(self, name: str, content: bytes) -> Path:
        """Keep a printed sheet under a name; other content under the same name gets a number."""
        return reviews.keep_sheet(self, name, content)

    def files_behind(self, stints: Iterable[Stint]) -> tuple[bundling.OriginalFile, ...]:
        """The original files of the loggers that hung where a painting stood, as far as they overlap its stints."""
        return bundling.files_behind(self, stints)

    def rows_of(self, sheet: str, loggers: Iterable[str], names: Names | None = None) -> bytes:
        """The "calibrations" or "hangings" of some loggers, as the CSV file of that name; by default without owners."""
        return bundling.rows_of(self, sheet, loggers, names)

    def write_bundle(self, path: Path | str, papers: Mapping[str, bytes], files: Iterable[bundling.OriginalFile],
                     at: pd.Timestamp, names: Names | None = None) -> bundling.Bundled:  # fmt: skip
        """Papers and original files as one ZIP file, with a list of what is in it and each one's SHA-256.

        An original in which one of `names` stands (by default any owner's) is listed and not put in.
        """
        return bundling.write_bundle(self, Path(path), papers, files, at, names)

    def back_up(self, target: Path | str, progress: intake.Progress = None) -> BackupReport:
        """Write the whole folder, owners included, to one ZIP file; others may read and write meanwhile.

        `target`: a new file, or a folder to put it in under the studio's name and the day. BadInput: the file is
        there already, or lies in the studio folder. `backing.restore` makes a folder from it again.
        """
        return backing.back_up(self, target, progress)

    def check(self, rebuild: bool = False, progress: intake.Progress = None) -> CheckReport:
        """Whether the folder is whole; with `rebuild`, whether the originals still give the same readings.

        A part that is gone or damaged is then written again; any other difference is told and not applied.
        """
        return checking.check(self, rebuild, progress)


def _parts(connection: Connection) -> dict[str, list[Part]]:
    table = tables.PARTS
    held = select(table).where(table.c.superseded_at == "").order_by(table.c.year, table.c.id)
    parts: dict[str, list[Part]] = {}
    for row in connection.execute(held).mappings():
        part = of_row(row)
        parts.setdefault(part.logger, []).append(part)
    return parts


def _zone(zone: str) -> str:
    try:
        return fields.zone(zone)
    except ValueError as error:
        raise BadInput(f"time zone {error}") from None


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        found = {path.name for path in folder.iterdir()}
    except OSError as error:
        raise StudioError(f"{folder}: cannot be made a studio folder ({plain(error)})") from error
    if FACTS in found:
        raise StudioError(f"{folder}: is a studio folder already. Use it, or name another folder.")
    if found - OURS - {f"{schema.REGISTER}-wal", f"{schema.REGISTER}-shm"}:
        raise StudioError(f"{folder}: holds other things ({sorted(found - OURS)[0]}). Name a new or empty folder.")


def _read_facts(folder: Path) -> dict[str, Any]:
    path = folder / FACTS
    try:
        facts = tomllib.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        raise StudioError(
            f"{folder}: is not a studio folder (no {FACTS}). Make one with: envwatch new FOLDER"
        ) from None
    except OSError as error:
        raise StudioError(f"{path}: cannot be read ({plain(error)})") from error
    except ValueError as error:
        raise StudioError(f"{path}: is damaged ({error}). Correct it, or restore it from a backup.") from error
    if not isinstance(facts.get("name"), str) or not isinstance(facts.get("zone"), str):
        raise StudioError(f'{path}: must say name and zone, such as zone = "Europe/Berlin"')
    try:
        fields.zone(facts["zone"])
        _altitude(facts.get("altitude_m", 0.0))
    except (ValueError, TypeError, BadInput) as error:
        raise StudioError(f"{path}: {error}") from None
    return facts


def _altitude(metres: float) -> float:
    """BadInput: no height at which anybody hangs a picture."""
    if not -500 <= float(metres) <= 9000:
        raise BadInput(f"altitude {metres} m: expected -500 to 9000")
    return float(metres)


def _toml(facts: dict[str, Any]) -> str:
    """Facts as TOML: its strings and numbers are written as JSON's."""
    return "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in facts.items())
