"""One writer at a time.

The lock is an exclusive SQLite transaction on a file of its own: SQLite knows the locks of each system, and
the system lets go of them when a program dies, so that a lock can never be left behind.
"""

from __future__ import annotations

import getpass
import json
import os
import platform
import sqlite3
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from envwatch.archive.store.files import plain
from envwatch.core.errors import StudioError

LOCK, OWNER = "writer.lock", "writer.json"


@contextmanager
def writer(folder: Path, what: str, wait_s: float = 5.0):
    """Hold the studio folder's one writing place.

    Parameters
    ----------
    what : what is being done, for the person who is kept waiting ("adding logger files").
    wait_s : how long to wait for another writer.

    Raises
    ------
    StudioError : another program writes, or the folder cannot be written to.
    """
    try:
        connection = sqlite3.connect(folder / LOCK, timeout=wait_s, isolation_level=None)
    except sqlite3.OperationalError as error:
        raise StudioError("cannot be written to. Ask for the right to write in this folder.", place=folder) from error
    with closing(connection):
        try:
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise StudioError(f"{owner(folder)}. Try again when that is done.", place=folder) from error
            raise StudioError(f"cannot be written to ({error}).", place=folder) from error
        except sqlite3.DatabaseError as error:
            said = f"is not a lock file ({error}). Delete it and try again."
            raise StudioError(said, place=folder / LOCK) from error
        with named(folder, what):
            yield


@contextmanager
def named(folder: Path, what: str):
    """Leave word of who writes, for as long as that is so."""
    now = datetime.now().astimezone().isoformat(timespec="minutes")
    me = {"user": user(), "host": platform.node(), "process": os.getpid(), "what": what, "since": now}
    with suppress(OSError):
        (folder / OWNER).write_text(json.dumps(me), encoding="utf-8")
    try:
        yield
    finally:
        with suppress(OSError):
            (folder / OWNER).unlink()


def user() -> str:
    """Who is logged in."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # no user name in this environment
        return "someone"


def owner(folder: Path) -> str:
    """Who writes, in words; what is known of it."""
    try:
        me = json.loads((folder / OWNER).read_text(encoding="utf-8"))
        return f"{me['user']} on {me['host']} is {me['what']} since {me['since']} (process {me['process']})"
    except FileNotFoundError:
        return "another program is writing"
    except (OSError, ValueError, KeyError, TypeError) as error:
        return f"another program is writing ({plain(error) if isinstance(error, OSError) else 'name unreadable'})"
