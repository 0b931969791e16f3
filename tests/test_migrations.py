"""A register of any layout that was ever released is brought up to date, every row of it kept."""

import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from envwatch.archive import Studio
from envwatch.archive.store import schema
from envwatch.archive.store.tables import META, VERSION
from envwatch.core.errors import StudioError

RELEASED = range(1, VERSION)
ROWS = 3


def at_layout(folder: Path, layout: int) -> Path:
    """A studio folder with the register that an envwatch of that layout made, a few rows in each table."""
    folder.mkdir()
    (folder / "studio.toml").write_text('name = "Old"\nzone = "UTC"\n', encoding="utf-8")
    engine = schema.engine(folder)
    scripts = ScriptDirectory(str(Path(schema.__file__).parent / "migrations"))
    with engine.begin() as connection:
        steps = MigrationContext.configure(
            connection, opts={"fn": lambda current, _context: scripts._upgrade_revs(f"{layout:04}", current)}
        )
        with Operations.context(steps):
            steps.run_migrations()
        connection.exec_driver_sql(f"PRAGMA user_version = {layout}")
    engine.dispose()
    with sqlite3.connect(folder / schema.REGISTER) as register:
        register.execute("PRAGMA foreign_keys = OFF")
        for table in tables(register):
            fill(register, table)
        assert register.execute("PRAGMA foreign_key_check").fetchall() == []
    register.close()
    return folder


def tables(register: sqlite3.Connection) -> list[str]:
    found = register.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return [name for (name,) in found if name != "alembic_version" and not name.startswith("sqlite_")]


def fill(register: sqlite3.Connection, table: str) -> None:
    """Rows that differ in every column; a reference names a row that is there."""
    columns = {row[1]: (row[2], row[5]) for row in register.execute(f"PRAGMA table_info({table})")}
    text_keys = {"paintings", "places", "loggers", "treatments", "limits"}
    refers = {row[3]: row[2] for row in register.execute(f"PRAGMA foreign_key_list({table})")}

    def value(name: str, kind: str, n: int):
        if name in refers:
            return f"{refers[name]} {n}" if refers[name] in text_keys else n
        if columns[name][1]:
            return f"{table} {n}" if kind == "TEXT" else n
        kinds = {"INTEGER": n * 7, "FLOAT": n + 0.25, "BOOLEAN": n % 2}
        return kinds.get(kind, f"{table}.{name} {n} ä'\"")

    for n in range(1, ROWS + 1):
        values = [value(name, kind, n) for name, (kind, _) in columns.items()]
        register.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(values))})", values)


def rows(folder: Path, only: dict[str, list[str]] | None = None) -> dict[str, list[dict]]:
    """Every row of every table by column; of the columns named, if any are."""
    register = sqlite3.connect(folder / schema.REGISTER)
    register.row_factory = sqlite3.Row
    out = {}
    for table in only or tables(register):
        found = [dict(row) for row in register.execute(f"SELECT * FROM {table}")]
        out[table] = [{name: row[name] for name in (only[table] if only else row)} for row in found]
    register.close()
    return out


@pytest.mark.parametrize("layout", RELEASED)
def test_every_row_of_an_older_layout_is_there_after_opening(tmp_path, layout):
    folder = at_layout(tmp_path / "old", layout)
    before = rows(folder)
    assert all(len(found) == ROWS for found in before.values())
    with Studio.open(folder) as opened:
        with opened.reading() as connection:
            assert schema.version(connection) == VERSION
            assert compare_metadata(MigrationContext.configure(connection), META) == []
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
            assert connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall() == []
        assert rows(folder, {table: list(found[0]) for table, found in before.items()}) == before


def layout_of(folder: Path) -> dict[str, list]:
    """Each table's columns in their order, with their defaults, what they refer to, and the indexes."""
    register = sqlite3.connect(folder / schema.REGISTER)
    asked = ("table_xinfo", "foreign_key_list", "index_list", "index_xinfo")
    names = register.execute("SELECT name FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' ORDER BY name").fetchall()
    out = {name: [register.execute(f'PRAGMA {what}("{name}")').fetchall() for what in asked] for (name,) in names}
    out["step"] = register.execute("SELECT * FROM alembic_version").fetchall()
    register.close()
    return out


def test_a_new_register_is_laid_out_as_the_migrations_leave_one(tmp_path):
    migrated, made = at_layout(tmp_path / "old", VERSION), tmp_path / "new"
    Studio.create(made, name="New", zone="UTC").close()
    assert layout_of(made) == layout_of(migrated)


@pytest.mark.parametrize("layout", [1, 4])
def test_of_older_looks_neither_how_nor_by_whom_is_known(tmp_path, layout):
    folder = at_layout(tmp_path / "old", layout)
    Studio.open(folder).close()
    assert rows(folder, {"observations": ["look", "by"]})["observations"] == [{"look": "unknown", "by": ""}] * ROWS


@pytest.mark.parametrize("layout", [1, 2, 3])
def test_a_migration_that_cannot_end_changes_nothing(tmp_path, layout):
    folder = at_layout(tmp_path / "old", layout)
    with sqlite3.connect(folder / schema.REGISTER) as register:
        register.execute("CREATE TABLE mark_answers (mine TEXT)")  # in the way of the fourth layout
    register.close()
    before = rows(folder)
    with pytest.raises(StudioError, match="mark_answers already exists"):
        Studio.open(folder)
    assert rows(folder) == before
    with sqlite3.connect(folder / schema.REGISTER) as register:
        assert register.execute("PRAGMA user_version").fetchone() == (layout,)
    register.close()


@pytest.mark.parametrize("ahead", [1, 95])
def test_a_layout_from_the_future_is_refused_and_not_touched(tmp_path, ahead):
    folder = at_layout(tmp_path / "new", VERSION)
    with sqlite3.connect(folder / schema.REGISTER) as register:
        register.execute(f"PRAGMA user_version = {VERSION + ahead}")
    register.close()
    before = (folder / schema.REGISTER).read_bytes()
    with pytest.raises(StudioError, match="newer envwatch.*Update envwatch on this computer; nothing was changed"):
        Studio.open(folder)
    assert (folder / schema.REGISTER).read_bytes() == before
