"""The three things asked of the register all the time, with plain dictionaries for rows."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Connection, Select, Table, insert


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
