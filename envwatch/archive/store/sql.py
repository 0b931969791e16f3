"""What is asked of the register all the time, with plain dictionaries for rows, in the words of either database."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Select, Table, insert, literal_column, select
from sqlalchemy.dialects import postgresql, sqlite

PUT_IN = literal_column("rowid")  # of a table with a key of text: the order in which its rows were put in


def in_order(table: Table) -> Select:
    """All rows of a table, in the order they were put in."""
    key = next(iter(table.primary_key.columns))
    return select(table).order_by(key if key.type.python_type is int else PUT_IN)


def found(connection: Connection, query: Select) -> list[dict[str, Any]]:
    """All rows of a query."""
    return [dict(row) for row in connection.execute(query).mappings()]


def first(connection: Connection, query: Select) -> dict[str, Any] | None:
    """The first row of a query, if there is one."""
    row = connection.execute(query).mappings().first()
    return None if row is None else dict(row)


def put(connection: Connection, table: Table, **values: Any) -> int:
    """Put a row in; returns its number."""
    return int(connection.execute(insert(table).values(**values)).inserted_primary_key[0])  # type: ignore[index]


def inserting(connection: Connection, table: Table) -> Any:
    """An insert that can say what happens where the key is there already."""
    return (sqlite if connection.dialect.name == "sqlite" else postgresql).insert(table)


def put_if_new(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Put those rows in whose key is not there yet."""
    connection.execute(inserting(connection, table).on_conflict_do_nothing(), [dict(row) for row in rows])
