"""Moving a studio's register from its file in the folder to a PostgreSQL server, every row and number of it."""

from __future__ import annotations

from sqlalchemy import Connection, Table, func, insert, select

from envwatch.archive.store import schema
from envwatch.archive.store.files import write_whole
from envwatch.archive.store.folder import FACTS, StudioFolder
from envwatch.archive.store.postgres import Server
from envwatch.archive.store.records import found, in_order
from envwatch.archive.store.sqlite import KEPT_AS
from envwatch.archive.store.tables import META, ROW_SUMS
from envwatch.core.errors import BadInput, StudioError


def to_server(studio: StudioFolder, address: str) -> dict[str, int]:
    """Move the register to an empty database; `studio.toml` then names it. Rows by table.

    The server's commit comes first and `studio.toml` decides: whatever goes wrong before it is written leaves the
    studio as it was. The file stays in the folder under another name. The studio is closed.

    Raises
    ------
    BadInput : the register is on a server already, or no such address. StudioError : the database is not empty or
    not to be reached; nothing was changed.
    """
    if studio.home.on_server:
        raise BadInput("is on a server already", place=studio.home.told)
    server = Server.new(studio.folder, address)
    facts = studio.folder / FACTS
    try:
        with studio.writing("moving the register to a server"):
            server.must_be_empty()
            with server.in_words():
                schema.migrate(server)
            with studio.saving() as old, server.in_words(), server.saving() as new:
                counts = {table.name: _copied(old, new, table) for table in META.sorted_tables if table is not ROW_SUMS}
            keys = "".join(f'{name} = "{value}"\n' for name, value in server.facts.items())
            write_whole(facts, keys.encode() + facts.read_bytes())  # above any table of the file
        studio.close()
        (studio.folder / schema.REGISTER).replace(studio.folder / KEPT_AS)
    finally:
        server.close()
    return counts


def _copied(old: Connection, new: Connection, table: Table) -> int:
    rows = found(old, in_order(table))
    if rows:
        new.execute(insert(table), rows)
    if new.execute(select(func.count()).select_from(table)).scalar_one() != len(rows):
        raise StudioError("not all rows arrived; nothing was changed", place=table.name)
    key = next(iter(table.primary_key.columns))
    if key.type.python_type is int:  # a number is given once, also that of a row that is gone
        numbered = {row["name"]: row["seq"] for row in old.exec_driver_sql("SELECT * FROM sqlite_sequence").mappings()}
        last = max([row[key.name] for row in rows] + [numbered.get(table.name, 0)], default=0)
        if last:
            new.execute(select(func.setval(func.pg_get_serial_sequence(table.name, key.name), last)))
    return len(rows)
