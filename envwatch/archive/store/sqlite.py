"""The register as a SQLite file in the studio folder: what nearly every studio has."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError

from envwatch.archive.store import lock
from envwatch.archive.store.tables import VERSION
from envwatch.core.errors import StudioError

REGISTER = "register.sqlite"
BUSY_S = 10  # how long a reader or writer waits for the other to let go of the file


def engine(folder: Path) -> Engine:
    """The register as a SQLAlchemy engine: write-ahead log, full sync, foreign keys held."""
    address = URL.create("sqlite+pysqlite", database=str(folder / REGISTER))
    made = create_engine(address, connect_args={"timeout": BUSY_S})

    @event.listens_for(made, "connect")
    def _set_up(connection, _record):
        connection.isolation_level = None  # the driver must not begin and commit by itself
        for setting in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON"):
            connection.execute(f"PRAGMA {setting}").close()

    @event.listens_for(made, "begin")
    def _begin(connection):
        now = connection.get_execution_options().get("immediate", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if now else "BEGIN")

    return made


class Embedded:
    """Where the register is, how one writes to it alone, and how it is told that others wrote.

    `told`: its name for a person. `server.Server` answers the same calls.
    """

    on_server = False

    def __init__(self, folder: Path) -> None:
        self.folder, self.told = folder, str(folder / REGISTER)
        self.engine = engine(folder)
        self._watching: list[Any] = []

    def close(self) -> None:
        """Let go of the file."""
        while self._watching:
            self._watching.pop().close()
        self.engine.dispose()

    def must_be_there(self) -> None:
        """StudioError: there is no register; it is never made silently in a folder that had one."""
        if not (self.folder / REGISTER).is_file():
            raise StudioError("is missing. Restore it from a backup; nothing was changed.", place=self.told)

    def writer(self, what: str) -> AbstractContextManager[None]:
        """Hold the folder's one writing place. StudioError: another program writes."""
        return lock.writer(self.folder, what)

    def saving(self) -> AbstractContextManager[Connection]:
        """One transaction that writes."""
        return self.engine.execution_options(immediate=True).begin()

    def changes(self) -> int:
        """SQLite's own count of changes by others, as a connection sees it that never writes."""
        if not self._watching:
            self._watching.append(self.engine.raw_connection())
        return int(self._watching[0].cursor().execute("PRAGMA data_version").fetchone()[0])

    def prepare(self, _connection: Connection) -> None:
        """Nothing: the migrations are written for SQLite."""

    def migrated(self, connection: Connection) -> None:
        """Note the layout's version where it is looked for at every opening."""
        connection.exec_driver_sql(f"PRAGMA user_version = {VERSION}")

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
                raise StudioError(f"{lock.owner(folder)}. Try again when that is done.", place=folder) from error
            if "readonly" in said:
                raise StudioError(
                    "cannot be written to. Ask for the right to write in this folder.", place=folder
                ) from error
            if "full" in said:
                raise StudioError(
                    "the disk is full. Make room and try again; nothing was kept half.", place=folder
                ) from error
            raise StudioError(f"{said}. Restore it from a backup if this stays.", place=self.told) from error
        except DatabaseError as error:
            raise StudioError(f"{error.orig}. Restore it from a backup.", place=self.told) from error
