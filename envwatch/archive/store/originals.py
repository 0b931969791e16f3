"""The original files, byte for byte under their SHA-256, each with a sidecar of what is known of it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from envwatch import logs
from envwatch.archive.store import files
from envwatch.archive.store.writing import MADE, Journal
from envwatch.core.errors import BadInput, EnvwatchError, StudioError
from envwatch.core.readings import Series
from envwatch.logs.model import Answers, LogFile
from envwatch.logs.text.encoding import Hashing, hashed

SIDECAR = ".json"
APART_FOLDER = "undone"
READ_AT = "read_at"  # among the answers a file was read with: the clock then
CHANGED = "changed while it was read; add it again when it is complete"


def original(folder: Path, sha256: str, suffix: str) -> Path:
    """Where an original is kept."""
    return folder / "originals" / (sha256 + suffix)


def found(path: Path) -> str | None:
    """SHA-256 of what stands where an original should; None: nothing that can be read."""
    try:
        return files.digest(path)
    except OSError:
        return None


def harm(row: Mapping[str, Any], sha256: str | None) -> str:
    """What is wrong with an original, in one line; empty where nothing is.

    row : its name, sha256, suffix and, of a kept file, logger. sha256 : as `found` gives it.
    """
    if sha256 == row["sha256"]:
        return ""
    name, of_logger = files.label(row["name"]), f" (logger {row['logger']})" if row.get("logger") else ""
    what = "is gone" if sha256 is None else "was changed since it was kept"
    return (f"{name}{of_logger}: its original {what}, and nothing is built from it (originals/{row['sha256']}"
            f'{row["suffix"]}). Add the true file again: envwatch add "{name}"')  # fmt: skip


def take(journal: Journal, source: Path, sha256: str, suffix: str, put_down: Path | None = None) -> bool:
    """Put a file among the originals; whether it was not there, byte for byte, before.

    What stands under its name and is something else is set apart. BadInput: it changed since it was read.

    put_down : its bytes stand there already, as `stream.HashingCopy` leaves them.
    """
    target = original(journal.folder, sha256, suffix)
    if found(target) == sha256:
        if put_down is not None:
            files.remove(put_down)
        return False
    if put_down is None:
        try:
            content = source.read_bytes()
        except OSError as error:
            said = f"went away while it was read ({files.plain(error)}); add it again"
            raise BadInput(said, place=source.name) from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise BadInput(CHANGED, place=source.name)
        put_down = files.write_rough(target, (content,), named=journal.name)
    if target.exists():
        _lay(target, _apart(journal.folder) / f"{sha256}.changed{suffix}")
    journal.name(target, MADE, sha256)
    files.name_rough(put_down, target)
    return True


def read_kept(
    folder: Path, row: Mapping[str, Any], now: pd.Timestamp, look: Callable[[bytes], None] | None = None
) -> LogFile:
    """A kept file, read from its original as it was read then: the bytes that are read are those that are hashed.

    Parameters
    ----------
    row : the file's row in the register. now : as for `logs.read`, where it is not kept by what clock it was read.
    look : gets the bytes too.

    Raises
    ------
    StudioError : the original is gone or was changed; nothing of it is given.
    """

    def hashing(data: bytes) -> Callable[[], str]:
        if look is not None:
            look(data)
        return hashed(data)

    path, used = original(folder, row["sha256"], row["suffix"]), unjson(row["answers"])
    try:
        log = read_log(path, used, pd.Timestamp(used.get(READ_AT) or now), hashing)
    except EnvwatchError:  # perhaps only because it was changed
        if problem := harm(row, found(path)):
            raise StudioError(problem) from None
        raise
    if problem := harm(row, log.sha256):
        raise StudioError(problem)
    return log


def read_log(path: Path, used: Mapping[str, str | None], now: pd.Timestamp, hashing: Hashing | None = None) -> LogFile:
    """A logger file, read with what was answered about it. hashing : as for `logs.read`."""
    answers = Answers(**{name: value for name, value in used.items() if name not in ("zone_default", READ_AT)})
    return logs.read(path, answers, now=now, zone_default=used.get("zone_default"), hashing=hashing)


def series(log: LogFile, file: int) -> dict[str, Series]:
    """The channels of a file that was read, under its number; no marks yet but those of bounds."""
    return {
        channel.label: Series(
            np.asarray(channel.time, np.int64), np.asarray(channel.temp_c, float),
            np.asarray(channel.rh_percent, float),
            channel.bound if len(channel.bound) else np.zeros(len(channel.time), np.uint16),
            np.full(len(channel.time), file, np.int32),
            np.asarray(channel.line, np.int32),
        )
        for channel in log.channels if len(channel.time)
    }  # fmt: skip


TOLD = 3  # of what differs in a sidecar
JSON_COLUMNS = ("answers", "layout", "counts", "notes", "events", "choices", "about")


def write_sidecar(journal: Journal, row: Mapping[str, Any]) -> bool:
    """What the register knows of an original, beside it; whether it could be written.

    It comes after what it tells of was kept, so a failure undoes nothing; `check` writes it again at any time.
    """
    path = original(journal.folder, row["sha256"], SIDECAR)
    with suppress(StudioError):
        files.write_whole(path, _sidecar(row), durable=False, named=journal.name)
        return True
    return False


def sidecar_differs(folder: Path, row: Mapping[str, Any]) -> str:
    """How a sidecar differs from what the register knows, in words; empty where it does not."""
    try:
        content = original(folder, row["sha256"], SIDECAR).read_bytes()
    except OSError:
        return "was missing"
    if content == (due := _sidecar(row)):
        return ""
    if not content.strip():
        return "was emptied"
    try:
        said, right = json.loads(content), json.loads(due)
        differ = [name for name in right if said.get(name) != right[name]] + [
            name for name in said if name not in right
        ]
    except (ValueError, AttributeError, RecursionError):
        return "was changed and cannot be read"
    told = ", ".join(map(files.label, differ[:TOLD])) or "in its layout"
    return f"said otherwise than the register ({told})"


def _sidecar(row: Mapping[str, Any]) -> bytes:
    facts = {name: unjson(value) if name in JSON_COLUMNS else value for name, value in row.items()}
    return json.dumps(facts, ensure_ascii=False, indent=1).encode("utf-8", "replace")


def set_apart(folder: Path, sha256: str, suffix: str) -> None:
    """Take an original out of the archive without deleting it: its file may be gone from the logger by now."""
    kept, sidecar = original(folder, sha256, suffix), original(folder, sha256, SIDECAR)
    with suppress(OSError):  # it stays where it is, and `check` names it
        if kept.exists():
            changed = "" if found(kept) == sha256 else ".changed"
            _lay(kept, _apart(folder) / (sha256 + changed + suffix))
        sidecar.replace(_apart(folder) / sidecar.name)


def _apart(folder: Path) -> Path:
    apart = folder / "originals" / APART_FOLDER
    apart.mkdir(exist_ok=True)
    return apart


def _lay(source: Path, target: Path) -> None:
    """Move a file where nothing is; away, where the very same stands already."""
    if target.is_file() and found(target) == found(source) is not None:
        source.unlink()
    else:
        source.rename(files.free_name(target))


def to_json(value: object) -> str:
    """Anything a log file holds, as JSON text."""
    plain = asdict(value) if is_dataclass(value) and not isinstance(value, type) else value
    return json.dumps(plain, ensure_ascii=False, default=_other)


def _other(value: object) -> object:
    if isinstance(value, Mapping):
        return dict(value)
    return value.item() if isinstance(value, np.generic) else str(value)


def unjson(text: str) -> Any:
    """What `to_json` wrote; nothing for an empty text."""
    try:
        return json.loads(text) if text else {}
    except ValueError as error:
        raise StudioError(f"the register holds damaged text ({error}). Restore it from a backup.") from error
