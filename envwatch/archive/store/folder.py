"""A studio folder: made, opened, locked, closed, and what its register says now. What is done in it, others do."""

from __future__ import annotations

import json
import pickle
import re
import threading
import weakref
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Self

from sqlalchemy import Connection, select

from envwatch.archive.store import schema, tables, writing
from envwatch.archive.store.cache import LruCache, Scoped
from envwatch.archive.store.files import plain, write_whole
from envwatch.archive.store.parts import READ_ROWS, Part, PartReader, of_row
from envwatch.archive.store.postgres import Server
from envwatch.archive.store.records import Register, load
from envwatch.archive.store.sums import STATE
from envwatch.archive.store.writing import BESIDE, BESIDE_LOCK, WRITING, Journal
from envwatch.core import fields, toml
from envwatch.core.dates import instant
from envwatch.core.errors import BadInput, StudioError
from envwatch.core.painting import Painting
from envwatch.core.place import Logger, Place
from envwatch.figures import materials
from envwatch.figures.materials import Profile

FACTS = "studio.toml"
WORKED_OUT_ROWS = 8_000_000  # readings of climates kept in memory, some 60 bytes each
MATERIALS = "materials.toml"
FOLDERS = ("originals", "readings", "sheets")
OURS = {FACTS, MATERIALS, schema.REGISTER, STATE, writing.LOCK, writing.OWNER, WRITING, BESIDE, BESIDE_LOCK, *FOLDERS}


@dataclass
class RegisterState:
    """What was read of the register at one state of it, and what was worked out from it.

    Attributes
    ----------
    worked_out : what rests on anything in the register.
    air : what rests on readings and on where they were taken alone; it outlives a state that differs in neither.
    """

    version: int
    register: Register
    parts: dict[str, list[Part]]  # the parts that hold, by logger, in the order of their years
    worked_out: LruCache
    air: Scoped


class StudioFolder:
    """One studio folder. Make one with `create` or `open`; close it, or use it in a `with`.

    Attributes
    ----------
    folder, name, zone, altitude_m, units : where it is and what `studio.toml` says of it.
    most_read, most_worked_out : readings of parts, and of what rests on one state of the register, kept in memory.
    memory : climates and verdicts by what they are made of, shared by all studios of the process.
    """

    most_read, most_worked_out = READ_ROWS, WORKED_OUT_ROWS
    memory = LruCache(WORKED_OUT_ROWS)

    def __init__(self, folder: Path, facts: dict[str, Any], home: schema.Home | None = None) -> None:
        self.folder = folder
        self.name: str = facts["name"]
        self.zone: str = facts["zone"]
        self.altitude_m = float(facts.get("altitude_m", 0.0))
        self.units: str = facts.get("units", "metric")
        self.adopted_on: str = facts.get("limits_adopted_on", "")
        self.adopted_because: str = facts.get("limits_because", "")
        self.reader = PartReader(folder, self.most_read)
        self.journal = Journal(folder)
        self.home = schema.home(folder, facts) if home is None else home
        self._state: RegisterState | None = None
        self._held = threading.local()
        self._reading = threading.RLock()
        self._closing = weakref.finalize(self, self.home.close)

    @classmethod
    def create(cls, folder: Path | str, *, name: str, zone: str, altitude_m: float = 0.0, register: str = "") -> Self:
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
        facts = {"name": _name(name), "zone": _zone(zone), "altitude_m": _altitude(altitude_m), "units": "metric"}
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
    def open(cls, folder: Path | str) -> Self:
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
                with studio.home.migrating(), studio.home.in_words():
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
            raise BadInput("expected a day such as 2026-11-02", place=on) from None
        adopted = {"limits_adopted_on": day, "limits_because": " ".join(because.split())}
        with self.home.writer("adopting the limits"), self.home.in_words():
            _read_facts(self.folder)  # as they are now, whoever wrote last
            had = (self.folder / FACTS).read_text(encoding="utf-8")
            rest = re.sub(rf"(?m)^({'|'.join(adopted)})\s*=.*\n?", "", had)
            write_whole(self.folder / FACTS, (_toml(adopted) + rest).encode("utf-8"))  # above any table of the file
        self.adopted_on, self.adopted_because = adopted.values()

    def close(self) -> None:
        """Let go of the register. A studio that is forgotten is closed by itself."""
        self._closing()

    def __reduce__(self):
        """Sent to another process, it is opened there afresh."""
        return type(self).open, (self.folder,)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The register, at one state of it."""
        with self.home.in_words(), self.home.engine.connect() as connection:
            yield connection

    @contextmanager
    def saving(self) -> Iterator[Connection]:
        """One transaction on the register alone: all of it, or nothing; within one that is open already, part of it."""
        if (held := getattr(self._held, "connection", None)) is not None:
            yield held
            return
        with self.home.in_words(), self.home.saving() as connection:
            self._held.connection = connection
            try:
                yield connection
            finally:
                self._held.connection = None

    @contextmanager
    def writing(self, what: str) -> Iterator[None]:
        """Hold the folder's one writing place; within one that is held already, nothing more happens."""
        if getattr(self._held, "by_us", False):
            yield
            return
        with self.home.writer(what):
            self._held.by_us = True
            try:
                with self.journal.work():
                    yield
            finally:
                self._held.by_us = False

    def state(self) -> RegisterState:
        """The register as it is now; read again only if it has changed since."""
        with self._reading:
            with self.home.in_words():
                version = self.home.changes()
            if self._state is None or self._state.version != version:
                with self.reading() as connection:
                    self._state = self._loaded(connection, version)
            return self._state

    def _loaded(self, connection: Connection, version: int) -> RegisterState:
        try:
            register = load(connection, self.zone, self.altitude_m)
            held = select(tables.PARTS).where(tables.PARTS.c.superseded_at == "")
            parts: dict[str, list[Part]] = {}
            for row in connection.execute(held.order_by(tables.PARTS.c.year, tables.PARTS.c.id)).mappings():
                parts.setdefault(row["logger"], []).append(of_row(row))
            # all that a climate is made of: readings, as they lie there, and where they were taken
            files = [self.folder / part.path for of in parts.values() for part in of]
            lie = [(at.st_size, at.st_mtime_ns) for path in files if path.exists() and (at := path.stat())]
            about = replace(register, paintings={}, causes={})
            air = sha256(pickle.dumps((self.zone, self.altitude_m, about, parts, lie))).digest()
            return RegisterState(version, register, parts, LruCache(self.most_worked_out), Scoped(self.memory, air))
        except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError) as error:  # what no envwatch wrote
            said = f"holds what cannot be read ({type(error).__name__}: {error}). envwatch check names the row"
            raise StudioError(said, place=self.home.told) from error

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
        content = path.read_bytes() if path.is_file() else b""
        return self.memory.get(("materials", content), lambda: materials.load(path), lambda _made: 1000)

    def paintings(self) -> dict[str, Painting]:
        """All paintings by id."""
        return self.register().paintings


def _name(name: str) -> str:
    try:
        return fields.line(name)
    except ValueError as error:
        raise BadInput(f"the studio's name {error}", seen=name) from None


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
        raise StudioError(f"cannot be made a studio folder ({plain(error)})", place=folder) from error
    if FACTS in found:
        raise StudioError("is a studio folder already. Use it, or name another folder.", place=folder)
    if found - OURS - {f"{schema.REGISTER}-wal", f"{schema.REGISTER}-shm"}:
        raise StudioError(f"holds other things ({sorted(found - OURS)[0]}). Name a new or empty folder.", place=folder)


def _read_facts(folder: Path) -> dict[str, Any]:
    path = folder / FACTS
    try:
        facts = toml.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError):
        raise StudioError(
            f"is not a studio folder (no {FACTS}). Make one with: envwatch new FOLDER", place=folder
        ) from None
    except OSError as error:
        raise StudioError(f"cannot be read ({plain(error)})", place=path) from error
    except ValueError as error:
        raise StudioError(f"is damaged ({error}). Correct it, or restore it from a backup.", place=path) from error
    if not isinstance(facts.get("name"), str) or not isinstance(facts.get("zone"), str):
        raise StudioError('must say name and zone, such as zone = "Europe/Berlin"', place=path)
    try:
        fields.zone(facts["zone"])
        _altitude(facts.get("altitude_m", 0.0))
    except (ValueError, TypeError, BadInput) as error:
        raise StudioError(str(error), place=path) from None
    return facts


def _altitude(metres: float) -> float:
    """BadInput: no height at which anybody hangs a picture."""
    if not -500 <= float(metres) <= 9000:
        raise BadInput(f"altitude {metres} m: expected -500 to 9000")
    return float(metres)


def _toml(facts: dict[str, Any]) -> str:
    """Facts as TOML: its strings and numbers are written as JSON's."""
    return "".join(f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in facts.items())
