"""Opening the register, and bringing one from an older envwatch up to date.

SQLite's `user_version` holds the layout's version, so that Alembic is loaded only when there is something to do.
"""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event
from sqlalchemy.exc import DatabaseError

from envwatch.archive.tables import VERSION
from envwatch.errors import StudioError

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


def version(connection: Connection) -> int:
    """The layout version of an open register."""
    return int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())


def is_due(engine: Engine, folder: Path) -> bool:
    """Whether the register must be migrated before use.

    Raises
    ------
    StudioError : it was made by a newer envwatch, or it is not a register.
    """
    try:
        with engine.connect() as connection:
            found = version(connection)
    except DatabaseError as error:
        raise StudioError(
            f"{folder / REGISTER}: cannot be opened ({getattr(error, 'orig', error)}). "
            "Ask for the right to read and write in this folder, or restore the file from a backup."
        ) from error
    if found > VERSION:
        raise StudioError(
            f"{folder}: was last written by a newer envwatch (register layout {found}, this one knows {VERSION}). "
            "Update envwatch on this computer; nothing was changed."
        )
    return found < VERSION


def migrate(engine: Engine) -> None:
    """Run the migrations the register has not had, in one transaction. Call it while holding the writer's lock."""
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(Path(__file__).parent / "migrations"))
    with engine.begin() as connection:
        context = MigrationContext.configure(
            connection, opts={"fn": lambda current, _context: scripts._upgrade_revs("head", current)}
        )
        with Operations.context(context):
            context.run_migrations()
        connection.exec_driver_sql(f"PRAGMA user_version = {VERSION}")
