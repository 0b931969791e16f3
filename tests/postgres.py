"""A PostgreSQL of the tests' own: Debian's programs, a scratch folder, a socket in it and no other address."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

PASSWORD = "under%40the%2Fstairs"  # as it stands in an address
PLAIN = "under@the/stairs"


def program(name: str) -> str:
    """Where Debian keeps a server's program of the newest version that is installed."""
    found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[-3]))
    where = str(found[-1]) if found else shutil.which(name)
    assert where, f"{name} is missing; install it with: apt-get install postgresql"
    return where


class Server:
    """A running server. Its addresses carry the password, as a person's would."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def address(self, database: str, password: str = PASSWORD) -> str:
        """The address of a database."""
        return f"postgresql://keeper:{password}@/{database}?host={self.folder}"

    def make(self, database: str, like: str = "template0") -> str:
        """A new database, empty or like another one that nobody uses just now; its address."""
        import psycopg

        address = self.address("postgres")
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{database}" TEMPLATE "{like}"')  # type: ignore[arg-type]
        return self.address(database)


@contextmanager
def running() -> Iterator[Server]:
    """A server, gone with all it held at the end. A server does not run as root: then it is the user postgres's."""
    owner = "postgres" if hasattr(os, "geteuid") and os.geteuid() == 0 else None
    folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))

    def call(*words: str) -> None:
        subprocess.run(words, cwd=folder, user=owner, check=True, stdout=subprocess.DEVNULL)

    (folder / "password").write_text(PLAIN, encoding="utf-8")
    if owner:
        for path in (folder, folder / "password"):
            shutil.chown(path, owner)
    data = str(folder / "data")
    try:
        call(program("initdb"), "-D", data, "-U", "keeper", "--auth=scram-sha-256", f"--pwfile={folder}/password",
             "--encoding=UTF8", "--no-sync")  # fmt: skip
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        call(program("pg_ctl"), "-D", data, "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield Server(folder)
        finally:
            call(program("pg_ctl"), "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
