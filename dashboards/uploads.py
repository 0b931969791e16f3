"""Files dropped on a page: under names that cannot lead out of a folder, and held while a question needs them."""

from __future__ import annotations

import base64
import binascii
import hashlib
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from dashboards.session import StudioSession
from envwatch.core.errors import BadInput


def read(content: str, name: str, most_bytes: int) -> tuple[str, bytes]:
    """One dropped file: its name, made safe, and its bytes. BadInput: too big, or it did not arrive whole."""
    if len(content) * 3 // 4 > most_bytes:
        raise BadInput(f"{name}: more than {most_bytes // 2**20} MB; such a file is not read here")
    return safe(name), whole(content, name)


def safe(name: str) -> str:
    """The last part of a file's name, without what a system could not store or would understand as a device."""
    last = "".join(c if c.isprintable() else "_" for c in name.replace("\\", "/").rpartition("/")[2])
    plain = re.sub(r'[<>:"|?*]', "_", last).strip(". ")[-120:]
    return f"_{plain}" if re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?|", plain) else plain


def whole(content: str, name: str) -> bytes:
    """The bytes of a dropped content. BadInput: it did not arrive whole."""
    try:
        return base64.b64decode(content.partition(",")[2], validate=True)
    except (binascii.Error, ValueError):
        raise BadInput(f"{name}: did not arrive whole. Drop it again") from None


def hold(home: StudioSession, content: str, name: str, most_bytes: int) -> tuple[str, str]:
    """Hold a dropped file beside its question; the token that stands for it in an address, and its name."""
    kept, its_bytes = read(content, name, most_bytes)
    token = hashlib.sha256(its_bytes).hexdigest()[:16]
    home.keep_on_shelf(token, kept, its_bytes)
    return token, kept


def held(home: StudioSession, token: str, what: str, field: str = "") -> tuple[str, bytes]:
    """Name and bytes of a file that is held. BadInput: it is not, any more; `what` says which, `field` its input."""
    if token not in home.shelf:
        raise BadInput(f"{what} is not held any more; drop it again", field=field)
    return home.shelf[token]


@contextmanager
def as_file(home: StudioSession, token: str, what: str, field: str = "") -> Iterator[Path]:
    """A file that is held, on disk for as long as it is read. BadInput: as `held`."""
    name, content = held(home, token, what, field)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        yield path
