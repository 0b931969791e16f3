"""Files that are there whole or not at all, and names that are safe on any system."""

from __future__ import annotations

import hashlib
import itertools
import os
import re
import secrets
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from envwatch.core.errors import StudioError

CHUNK = 1 << 20
Named = Callable[[Path], None]  # gets the name of what is about to be written
KEPT_SUFFIXES = {".csv", ".txt", ".tsv", ".dat", ".log", ".asc", ".xls", ".xlsx"}


def digest(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def nobody(_path: Path) -> None:
    """Names a file nowhere: no sweep will take it away."""


def write_whole(path: Path, content: bytes, durable: bool = True, named: Named = nobody) -> None:
    """Write a file so that it is seen whole or not at all; `durable`: it outlives a power cut.

    named : gets the rough name under which the bytes stand first, before they do.
    """
    name_rough(write_rough(path, (content,), durable, named), path, durable)


def write_rough(path: Path, chunks: Iterable[bytes], durable: bool = True, named: Named = nobody) -> Path:
    """The first half of `write_whole`: all bytes on disk, under a name that was never there before."""
    rough = rough_name(path)
    with _whole_or_not_at_all(path, rough):
        path.parent.mkdir(parents=True, exist_ok=True)
        named(rough)
        with rough.open("xb") as file:
            chunk = b""
            for chunk in chunks:
                file.write(chunk)
            del chunk  # it may be big, and the disk may take its time
            file.flush()
            if durable:
                os.fsync(file.fileno())
    return rough


def name_rough(rough: Path, path: Path, durable: bool = True) -> None:
    """The second half: what was written gets its name."""
    with _whole_or_not_at_all(path, rough):
        rough.replace(path)
        if durable:
            sync_folder(path.parent)


def rough_name(path: Path) -> Path:
    """Where the bytes of a file may stand until it gets its name; another one each time."""
    return path.with_name(f"{path.name}.{secrets.token_hex(8)}.tmp")


@contextmanager
def _whole_or_not_at_all(path: Path, rough: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if not isinstance(error, FileExistsError):  # that one is somebody else's
            remove(rough)
        raise StudioError(f"could not be written ({plain(error)}). Nothing was kept of it.", place=path) from error


def free_name(path: Path) -> Path:
    """The path, or the first with a number at which nothing is."""
    tried = (path.with_name(f"{path.stem}-{number}{path.suffix}") for number in itertools.count(2))
    return path if not path.exists() else next(other for other in tried if not other.exists())


def sync(path: Path) -> None:
    """Make what was written to a file outlive a power cut."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def sync_folder(folder: Path) -> None:
    """Make a rename outlive a power cut, where the system can; elsewhere a folder cannot be synced."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # Windows opens no folders
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


def plain(error: OSError) -> str:
    """What the system said, without numbers and paths."""
    return (error.strerror or str(error)).lower()


def remove(path: Path) -> bool:
    """Delete a file if it can be deleted; one that another program holds open stays for the next time."""
    try:
        path.unlink()
    except OSError:
        return False
    return True


def safe_name(text: str, longest: int = 80) -> str:
    """A name that is one file name on any system, different texts giving different names.

    >>> safe_name("../store 1"), safe_name("Lager")
    ('..%2Fstore%201', 'Lager')
    """
    name = quote(text, safe="")
    if len(name) > longest:
        name = name[: longest - 13] + "-" + hashlib.sha256(text.encode()).hexdigest()[:12]
    return name


def label(name: str) -> str:
    """A file name for printing: one line, no control or direction-turning characters."""
    return re.sub(r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]", "?", name)
