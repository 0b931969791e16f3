"""A checksum of each row of the register's file: by it `check` names a row that something else than envwatch changed.

They stand in a table of their own. Triggers that live in a writing connection of envwatch alone keep them, so whatever
else writes to the file, or harms it, leaves them behind. A row that is not as its checksum says keeps the wrong one
when envwatch changes it further. They guard against damage and a stray hand; who computes them again is found by the
digest on a printed dossier alone. On a server there are none.

Beside them stands how many transactions were kept, and the folder holds the same number (`register.state`): a register
put back from an earlier day knows fewer than its folder.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import Any, NamedTuple

from envwatch.core.errors import StudioError

STATE = "register.state"
ROW_SUMS = "row_sums"
CHANGES, BEHIND = "changes", "behind"  # rows of `row_sums` that are of no table: how often, and what the folder knew

# What a row is of, in plain words, by its table.
WORDS = {
    "places": "place {id}", "loggers": "logger {id}", "calibrations": "check of logger {logger} on {on}",
    "hangings": "hanging of logger {logger} from {from}", "stand_ins": "stand-in for {place} from {from}",
    "mark_answers": "answer about marked readings of logger {logger}", "causes": "named cause of {place} from {from}",
    "paintings": "painting {id}", "layers": "layer {order} of painting {painting}",
    "treatments": "treatment of painting {painting} on {on}", "stays": "stay of painting {painting} from {from}",
    "observations": "look at painting {painting} on {on}", "batches": "add {id}", "files": "logger file number {id}",
    "file_channels": "what file number {file} holds", "learned": "what is known of logger {logger}",
    "tray": "waiting file number {number}", "parts": "readings {path}", "limits": "limits that a kept review rests on",
    "reviews": "kept review of {period_start}", "findings": "finding {number}", "tasks": "task {number}",
    "accepted": "what was accepted on {on}",
}  # fmt: skip


class Amiss(NamedTuple):
    """A row that is not as envwatch wrote it. what : in plain words. row : which of its table, in plain words."""

    table: str
    key: str
    row: str
    what: str


def row_sum(table: str, *values: Any) -> str:
    """The checksum of a row's values, in the order of its table's columns: SHA-256, the first 16 hexadecimal digits.

    >>> row_sum("places", "store", 12.0) == row_sum("places", "store", 12)
    False
    """
    text = json.dumps([table, *values], default=_bytes)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _bytes(value: bytes) -> dict[str, str]:
    return {"bytes": value.hex()}


def tables(connection: sqlite3.Connection) -> dict[str, tuple[str, list[str]]]:
    """The tables whose rows have a checksum: the key of each, and its columns in their order."""
    names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    out = {}
    for (name,) in names:
        if name not in (ROW_SUMS, "alembic_version") and not name.startswith("sqlite_"):
            columns = connection.execute(f'PRAGMA table_info("{name}")').fetchall()
            key = next(row[1] for row in columns if row[5])
            out[name] = key, [row[1] for row in columns]
    return out


def keep(connection: sqlite3.Connection) -> None:
    """Have this connection keep the checksums of what it writes from now on."""
    connection.create_function("row_sum", -1, row_sum, deterministic=True)
    connection.execute("PRAGMA temp_store = MEMORY")
    for name, (key, columns) in tables(connection).items():
        new, old = (", ".join([f"'{name}'", *(f'{row}."{c}"' for c in columns)]) for row in ("NEW", "OLD"))
        this = f"table_name = '{name}' AND row_key = CAST(OLD.\"{key}\" AS TEXT)"
        for when, does in {
            "INSERT": f"INSERT OR REPLACE INTO {ROW_SUMS} VALUES ('{name}', NEW.\"{key}\", row_sum({new}))",
            "UPDATE": f'UPDATE {ROW_SUMS} SET row_key = NEW."{key}", sum = row_sum({new}) '
                      f"WHERE {this} AND sum = row_sum({old})",
            "DELETE": f"DELETE FROM {ROW_SUMS} WHERE {this}",
        }.items():  # fmt: skip
            connection.execute(f'CREATE TEMP TRIGGER "{name} {when}" AFTER {when} ON main."{name}" BEGIN {does}; END')


def fill(connection: sqlite3.Connection, but: Sequence[Amiss] = ()) -> None:
    """Give every row its checksum as it stands, but for those that were amiss before: they stay so."""
    connection.create_function("row_sum", -1, row_sum, deterministic=True)
    left = {(row.table, row.key) for row in but}
    for name, (key, columns) in tables(connection).items():
        values = ", ".join(f'"{c}"' for c in columns)
        connection.execute(f"DELETE FROM {ROW_SUMS} WHERE table_name = ?", (name,))
        connection.execute(
            f"INSERT INTO {ROW_SUMS} SELECT '{name}', \"{key}\", row_sum('{name}', {values}) FROM \"{name}\""
        )
    for table, row in left:
        connection.execute(f"INSERT OR REPLACE INTO {ROW_SUMS} VALUES (?, ?, '')", (table, row))


def amiss(register: Path) -> list[Amiss]:
    """The rows of a register's file that are not as envwatch wrote them, or that are gone.

    Raises
    ------
    StudioError : the file cannot be read.
    """
    try:
        with closing(sqlite3.connect(register)) as connection:
            connection.text_factory = _text
            connection.execute("BEGIN")
            return list(_amiss(connection))
    except (sqlite3.Error, UnicodeError) as error:  # a column's name may be harmed, too
        raise StudioError(f"cannot be read ({error}). Restore it from a backup", place=register) from error


def _text(content: bytes) -> str:
    return content.decode("utf-8", "surrogateescape")


def _amiss(connection: sqlite3.Connection) -> Iterator[Amiss]:
    sums: dict[str, dict[str, str]] = {}
    for table, row, found in connection.execute(f"SELECT table_name, row_key, sum FROM {ROW_SUMS}"):
        sums.setdefault(table, {})[row] = found
    for name, (key, columns) in tables(connection).items():
        held, at = sums.pop(name, {}), columns.index(key)
        quoted = ", ".join(f'"{c}"' for c in columns)
        for values in connection.execute(f'SELECT {quoted} FROM "{name}"'):
            due = held.pop(str(values[at]), None)
            if due != row_sum(name, *values):
                what = "was put in" if due is None else "was changed"
                row = dict(zip(columns, values, strict=True))
                yield Amiss(name, str(values[at]), WORDS.get(name, "row").format_map(row), what)
        yield from (Amiss(name, row, f"row {row}", "was taken out") for row in held)
    yield from (Amiss(table, row, f"row {row}", "was taken out") for table in sums.keys() - {""} for row in sums[table])


# --------------------------------------------------------------------------------------------------- its state


def counted(connection: sqlite3.Connection, folder: Path) -> int:
    """Count a transaction that is about to be kept; note where the folder knows of more than the register does."""
    changes, known = state(connection).get(CHANGES, 0), folder_state(folder)
    rows = {CHANGES: changes + 1} | ({BEHIND: known} if known > changes else {})
    put = f"INSERT OR REPLACE INTO {ROW_SUMS} VALUES ('', ?, ?)"
    connection.executemany(put, [(name, str(number)) for name, number in rows.items()])
    return changes + 1


def settle(connection: sqlite3.Connection, folder: Path) -> None:
    """Take the register as it stands: its rows, its layout, and that there were no changes but those it knows of."""
    (layout,) = connection.execute("PRAGMA user_version").fetchone()
    connection.execute("DELETE FROM alembic_version")
    connection.execute("INSERT INTO alembic_version VALUES (?)", (f"{layout:04}",))
    changes = max(state(connection).get(CHANGES, 0), folder_state(folder))
    connection.execute(f"DELETE FROM {ROW_SUMS}")
    connection.execute(f"INSERT INTO {ROW_SUMS} VALUES ('', '{CHANGES}', '{changes}')")
    fill(connection)


def state(connection: sqlite3.Connection) -> Mapping[str, int]:
    """What the register knows of its own state."""
    rows = connection.execute(f"SELECT row_key, sum FROM {ROW_SUMS} WHERE table_name = ''")
    return {row[0]: int(row[1]) for row in rows if str(row[1]).isdigit()}


def folder_state(folder: Path) -> int:
    """How many transactions the folder knows of; 0 where it says nothing."""
    with suppress(OSError, ValueError):
        return int((folder / STATE).read_text(encoding="ascii"))
    return 0


def note(folder: Path, changes: int) -> None:
    """Have the folder know of so many; where it cannot be written to, it knows of fewer than there are."""
    if changes > folder_state(folder):
        with suppress(OSError):
            (folder / STATE).write_text(str(changes), encoding="ascii")
