"""`add --follow`: add what appears in a folder, once it has stopped growing."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from envwatch.core.errors import BadInput

LOOK_EVERY_S = 5.0


def settled_files(folders: Sequence[Path], every_s: float = LOOK_EVERY_S) -> Iterator[list[Path]]:
    """For ever, the files that are new or changed since they were last given and kept their size for one look.

    Raises
    ------
    BadInput : one of the paths is no folder.
    """
    for folder in folders:
        if not folder.is_dir():
            raise BadInput(f"{folder}: --follow watches folders; this is none")
    given: dict[Path, tuple[int, int]] = {}
    before: dict[Path, tuple[int, int]] = {}
    while True:
        now = dict(_states(folders))
        ready = [path for path, state in now.items() if before.get(path) == state and given.get(path) != state]
        given |= {path: now[path] for path in ready}
        before = now
        yield sorted(ready)
        time.sleep(every_s)


def _states(folders: Sequence[Path]) -> Iterator[tuple[Path, tuple[int, int]]]:
    for folder in folders:
        for path in folder.rglob("*"):
            if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts):
                facts = path.stat()
                yield path, (facts.st_size, facts.st_mtime_ns)
