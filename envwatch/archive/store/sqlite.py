"""The register as a SQLite file in the studio folder: what nearly every studio has."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Dialect, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError

from envwatch.archive.store import sums, writing
from envwatch.archive.store.tables import VERSION
from envwatch.core.errors import StudioError

REGISTER = "register.sqlite"
KEPT_AS = "register-before-the-server.sqlite"
CANNOT_WRITE = "cannot be written to. Ask for the right to write in this folder."
UNKNOWN_END = "{}, and the disk still takes nothing. Whether it was kept is not known: look before you do it again"
COPIES = 5  # tries, should others write meanwhile
BUSY_S = 10  # how long a reader or writer waits for the other to let go of the file


def engine(folder: Path) -> Engine:
    """The register as a SQLAlchemy engine: write-ahead log, full sync, foreign keys held."""
    address = URL.create("sqlite+pysqlite", database=str(folder / REGISTER))
    made = create_engine(address, connect_args={"timeout": BUSY_S})
    made.dialect, compiled = _shared()  # a statement is put into SQL once a process, not once a folder
    made.update_execution_options(compiled_cache=compiled)

    @event.listens_for(made, "connect")
    def _set_up(connection, _record):
        connection.isolation_level = None  # the driver must not begin and commit by itself
        for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
            connection.execute(f"PRAGMA {setting}").close()

    @event.listens_for(made, "begin")
    def _begin(connection):
        now = connection.get_execution_options().get("immediate", False)
        if now and not connection.info.get(sums.ROW_SUMS):
            sums.keep(connection.connection.dbapi_connection)
            connection.info[sums.ROW_SUMS] = True
        connection.exec_driver_sql("BEGIN IMMEDIATE" if now else "BEGIN")

    return made


@cache
def _shared() -> tuple[Dialect, dict[Any, Any]]:
    """SQLite's dialect as a connection finds it, and what was put into it so far."""
    first = create_engine("sqlite://")
    first.connect().close()
    first.dispose()
    return first.dialect, {}


class Embedded:
    """Where the register is, how one writes to it alone, and how it is told that others wrote.

    `told`: its name for a person. `path`: the file that is opened; of a folder that may only be read (a disc, a share,
    a sealed copy) it is a copy for as long as the folder is open, for SQLite reads no such file where it lies.
    `postgres.Server` answers the same calls.
    """

    on_server = False

    def __init__(self, folder: Path) -> None:
        self.folder, self.told, self.path = folder, str(folder / REGISTER), folder / REGISTER
        self._watching: list[Any] = []
        self._scratch: tempfile.TemporaryDirectory | None = None
        self._copied: tuple[tuple[int, int], ...] = ()
        self._copies = 0
        self.only_read = self.path.is_file() and not os.access(folder, os.W_OK)
        if self.only_read:
            self._copy()
        self.engine = engine(self.path.parent)

    def close(self) -> None:
        """Let go of the file."""
        while self._watching:
            self._watching.pop().close()
        self.engine.dispose()
        if self._scratch is not None:
            self._scratch.cleanup()

    def _copy(self) -> None:
        """Copy the register as it is, with what others have not yet written into its file itself."""
        self._scratch = self._scratch or tempfile.TemporaryDirectory(prefix="envwatch-", ignore_cleanup_errors=True)
        self.path = Path(self._scratch.name) / REGISTER
        for _ in range(COPIES):
            self._copied = self._stamps()
            with suppress(FileNotFoundError):  # there is no log
                for end in ("", "-wal"):
                    Path(f"{self.path}{end}").unlink(missing_ok=True)
                    shutil.copyfile(f"{self.told}{end}", f"{self.path}{end}")
            if self._stamps() == self._copied:
                return

    def _stamps(self) -> tuple[tuple[int, int], ...]:
        there = [Path(f"{self.told}{end}") for end in ("", "-wal")]
        return tuple((path.stat().st_mtime_ns, path.stat().st_size) for path in there if path.exists())

    def must_be_there(self) -> None:
        """StudioError: there is no register; it is never made silently in a folder that had one."""
        if not (self.folder / REGISTER).is_file():
            raise StudioError("is missing. Restore it from a backup; nothing was changed.", place=self.told)

    def writer(self, what: str) -> AbstractContextManager[None]:
        """Hold the folder's one writing place. StudioError: another program writes, or the folder may only be read."""
        if self.only_read:
            raise StudioError(CANNOT_WRITE, place=self.folder)
        return writing.writer(self.folder, what)

    def migrating(self) -> AbstractContextManager[None]:
        """Hold what is needed to bring the register up to date: of a copy, nothing."""
        return nullcontext() if self.only_read else self.writer("bringing the register up to date")

    @contextmanager
    def saving(self) -> Iterator[Connection]:
        """One transaction that writes; register and folder then know of one more."""
        if self.only_read:
            raise StudioError(CANNOT_WRITE, place=self.folder)
        with self.engine.execution_options(immediate=True).connect() as connection:
            transaction = connection.begin()
            held: Any = connection.connection.dbapi_connection
            before, changes = held.total_changes, 0
            try:
                yield connection
                if held.total_changes > before:
                    changes = sums.counted(held, self.folder)
            except BaseException:
                transaction.rollback()
                raise
            try:
                transaction.commit()
            except DatabaseError:
                transaction.rollback()
                self._not_kept()
                raise
        sums.note(self.folder, changes)

    def _not_kept(self) -> None:
        """See to it that a transaction whose end failed is not kept after all.

        Its rows may stand whole in the log, of which SQLite could not tell whether it reached the disk: whoever opens
        the file next would find them. What is written in their place now takes them away.

        Raises
        ------
        StudioError : nothing can be written in their place.
        """
        try:
            with self.engine.execution_options(immediate=True).begin() as connection:
                connection.exec_driver_sql(f"INSERT OR REPLACE INTO {sums.ROW_SUMS} VALUES ('', 'failed', '')")
            with self.engine.execution_options(immediate=True).begin() as connection:
                connection.exec_driver_sql(f"DELETE FROM {sums.ROW_SUMS} WHERE row_key = 'failed' AND table_name = ''")
        except DatabaseError as error:
            raise StudioError(UNKNOWN_END.format(error.orig), place=self.told) from error

    def changes(self) -> int:
        """SQLite's own count of changes by others, as a connection sees it that never writes."""
        if self.only_read and self._stamps() != self._copied:
            self.engine.dispose()
            self._copy()
            self._copies += 1
        if self.only_read:
            return self._copies
        if not self._watching:
            self._watching.append(self.engine.raw_connection())
        return int(self._watching[0].cursor().execute("PRAGMA data_version").fetchone()[0])

    def prepare(self, _connection: Connection) -> None:
        """Nothing: the migrations are written for SQLite."""

    def migrated(self, connection: Connection) -> None:
        """Note the layout's version where it is looked for at every opening; give every row its checksum."""
        connection.exec_driver_sql(f"PRAGMA user_version = {VERSION}")
        sums.fill(connection.connection.dbapi_connection)  # type: ignore[arg-type]

    def settle(self, connection: Connection) -> None:
        """Take the rows as they stand for those that envwatch wrote."""
        sums.settle(connection.connection.dbapi_connection, self.folder)  # type: ignore[arg-type]

    def damage(self, connection: Connection) -> list[str]:
        """What SQLite finds wrong with the file, and rows that name what is not there."""
        said = [row[0] for row in connection.exec_driver_sql("PRAGMA integrity_check")]
        orphans = list(connection.exec_driver_sql("PRAGMA foreign_key_check"))
        return [f"{REGISTER}: {line}" for line in said if line != "ok"] + [
            f"{REGISTER}: a row of {row[0]} names a {row[2]} that is not there" for row in orphans
        ]

    @contextmanager
    def in_words(self) -> Iterator[None]:
        """What SQLite says, as one line that can be acted on."""
        folder = self.folder
        try:
            yield
        except IntegrityError:
            raise
        except OperationalError as error:
            said = str(error.orig)
            if "locked" in said:
                raise StudioError(f"{writing.owner(folder)}. Try again when that is done.", place=folder) from error
            if "readonly" in said:
                raise StudioError(CANNOT_WRITE, place=folder) from error
            if "full" in said:
                raise StudioError(
                    "the disk is full. Make room and try again; nothing was kept half.", place=folder
                ) from error
            said = f"{said}. Nothing was kept half. Restore it from a backup if this stays."
            raise StudioError(said, place=self.told) from error
        except DatabaseError as error:
            raise StudioError(f"{error.orig}. Restore it from a backup.", place=self.told) from error
