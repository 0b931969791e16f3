"""A big file's bytes, hashed and put on disk while the very same bytes are being read.

Nothing is kept by that: until they get their name (`originals.take`) the bytes are litter that a sweep takes away.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

from envwatch.archive.store import files, originals
from envwatch.archive.store.writing import Journal
from envwatch.core.errors import StudioError
from envwatch.logs.text.lines import line_ends

BIG_BYTES = 1 << 24  # below this a thread is not worth its start


class Bytes(NamedTuple):
    """What was found out about a file's bytes. put_down : where they stand under a rough name, if they do."""

    sha256: str
    size: int
    lines: int  # line ends
    put_down: Path | None


class HashingCopy:
    """Works in a thread of its own, in a `with` around the reading; a refusal there takes everything away again."""

    def __init__(self, journal: Journal, suffix: str) -> None:
        self.journal, self.suffix = journal, suffix
        self._pool = ThreadPoolExecutor(1)
        self._done: list[Future[Bytes]] = []  # one for each time that the file was read

    def __enter__(self) -> HashingCopy:
        return self

    def __exit__(self, _kind: object, error: BaseException | None, _where: object) -> None:
        self._pool.shutdown()
        written = [done.result().put_down for done in self._done if done.exception() is None]
        wanted = self._last().put_down if error is None else None
        for path in written:
            if path is not None and path != wanted:
                files.remove(path)

    def hashing(self, data: bytes) -> Callable[[], str]:
        """Take the bytes that are being read; gives what waits for their SHA-256."""
        held = [data]  # let go as soon as they are written
        future = self._pool.submit(self._put_down, held)
        self._done.append(future)
        return lambda: future.result().sha256

    def sha256(self) -> str:
        """SHA-256 of the bytes last read."""
        return self._last().sha256

    def size(self) -> int:
        """How many they are."""
        return self._last().size

    def lines(self) -> int:
        """How many line ends they hold."""
        return self._last().lines

    @property
    def put_down(self) -> Path | None:
        """Where they stand on disk, until their original gets its name."""
        return self._last().put_down

    def _last(self) -> Bytes:
        return self._done[-1].result()

    def _put_down(self, held: list[bytes]) -> Bytes:
        data = held.pop()
        sha256, lines, size = hashlib.sha256(data).hexdigest(), line_ends(data), len(data)
        target = originals.original(self.journal.folder, sha256, self.suffix)
        if originals.found(target) == sha256:
            return Bytes(sha256, size, lines, None)
        held.append(data)
        del data
        try:
            rough = files.write_rough(target, _letting_go(held), named=self.journal.name)
        except StudioError:  # tried again when it is to be kept, and told then
            return Bytes(sha256, size, lines, None)
        return Bytes(sha256, size, lines, rough)


def _letting_go(held: list[bytes]) -> Iterator[bytes]:
    while held:
        yield held.pop()
