"""Where a studio's register is, and bringing one from an older envwatch up to date.

SQLite's `user_version` holds the layout's version, so that Alembic is loaded only when there is something to do; on a
server its number is read from Alembic's own table.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, inspect
from sqlalchemy.dialects import sqlite
from sqlalchemy.exc import DatabaseError
from sqlalchemy.schema import CreateIndex, CreateTable, ExecutableDDLElement

from envwatch.archive.store import postgres
from envwatch.archive.store.postgres import Server
from envwatch.archive.store.sqlite import REGISTER, Embedded, engine
from envwatch.archive.store.tables import META, VERSION
from envwatch.core.errors import StudioError

Home = Embedded | Server
LAST_STEP = "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL PRIMARY KEY)"


def home(folder: Path, facts: Mapping[str, Any]) -> Home:
    """Where the register of a folder with these facts is. BadInput: an address that is none."""
    url = postgres.of_facts(facts)
    return Embedded(folder) if url is None else Server(folder, url, str(facts.get(postgres.MARK, "")))


def version(connection: Connection) -> int:
    """The layout version of an open register."""
    if connection.dialect.name == "sqlite":
        return int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())
    if not inspect(connection).has_table("alembic_version"):
        return 0
    return int(connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() or 0)


def is_due(home: Home) -> bool:
    """Whether the register must be migrated before use.

    Raises
    ------
    StudioError : it was made by a newer envwatch, or it is not a register.
    """
    try:
        with home.engine.connect() as connection:
            found = version(connection)
    except DatabaseError as error:
        raise StudioError(
            f"cannot be opened ({getattr(error, 'orig', error)}). "
            "Ask for the right to read and write in this folder, or restore the file from a backup.",
            place=home.told,
        ) from error
    if found > VERSION:
        raise StudioError(
            f"was last written by a newer envwatch (register layout {found}, this one knows {VERSION}). "
            "Update envwatch on this computer; nothing was changed.",
            place=home.folder,
        )
    return found < VERSION


def migrate(home: Home) -> None:
    """Run the migrations the register has not had, in one transaction. Call it while holding the writer's lock."""
    if isinstance(home, Embedded) and _made(home):
        return
    from alembic.operations import Operations
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    scripts = ScriptDirectory(str(Path(__file__).parent / "migrations"))
    with home.engine.begin() as connection:
        home.prepare(connection)
        context = MigrationContext.configure(
            connection, opts={"fn": lambda current, _context: scripts._upgrade_revs("head", current)}
        )
        with Operations.context(context):
            context.run_migrations()
        home.migrated(connection)


@cache
def _statements() -> tuple[str, ...]:
    """What makes the tables and their indexes, in SQLite's words."""
    made: list[ExecutableDDLElement] = []
    for table in META.sorted_tables:
        made += [CreateTable(table), *map(CreateIndex, sorted(table.indexes, key=str))]
    return tuple(str(part.compile(dialect=sqlite.dialect())) for part in made)


def _made(home: Embedded) -> bool:
    """Whether the register held nothing at all and so was made as the migrations leave it: Alembic is slow to load."""
    with home.engine.begin() as connection:
        if connection.exec_driver_sql("SELECT count(*) FROM sqlite_master").scalar_one():
            return False
        for statement in (*_statements(), LAST_STEP):
            connection.exec_driver_sql(statement)
        connection.exec_driver_sql("INSERT INTO alembic_version VALUES (?)", (f"{VERSION:04}",))
        home.migrated(connection)
    return True


__all__ = ["REGISTER", "Home", "engine", "home", "is_due", "migrate", "version"]
