"""The original files, byte for byte under their SHA-256, each with a sidecar of what is known of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from envwatch import logs
from envwatch.archive import disk
from envwatch.archive.series import Series
from envwatch.errors import BadInput, StudioError
from envwatch.logs.model import Answers, LogFile
from envwatch.logs.rawbytes import Hashing

SIDECAR = ".json"
CHANGED = "changed while it was read; add it again when it is complete"
GIVEN_UP = ".undone"  # a sidecar's name from before the register forgets a file until it is set apart


def original(folder: Path, sha256: str, suffix: str) -> Path:
    """Where an original is kept."""
    return folder / "originals" / (sha256 + suffix)


def stands(target: Path, size: int) -> bool:
    """Whether an original is there and whole."""
    return target.exists() and target.stat().st_size == size


def take(folder: Path, source: Path, sha256: str, suffix: str, put_down: bool = False) -> None:
    """Put a file among the originals, unless it is there. BadInput: it changed since it was read.

    put_down : its bytes stand there already, as `beside.Beside` leaves them.
    """
    target = original(folder, sha256, suffix)
    if put_down:
        disk.name_rough(target)
        return
    if stands(target, source.stat().st_size):
        return
    if disk.copy_whole(source, target) != sha256:
        disk.remove(target)
        raise BadInput(f"{source.name}: {CHANGED}")


def read_log(path: Path, used: Mapping[str, str | None], now: pd.Timestamp, hashing: Hashing | None = None) -> LogFile:
    """A logger file, read with what was answered about it. hashing : as for `logs.read`."""
    answers = Answers(**{name: value for name, value in used.items() if name != "zone_default"})
    return logs.read(path, answers, now=now, zone_default=used.get("zone_default"), hashing=hashing)


def series(log: LogFile, file: int) -> dict[str, Series]:
    """The channels of a file that was read, under its number; marks not yet set."""
    return {
        channel.label: Series(
            np.asarray(channel.time, np.int64), np.asarray(channel.temp_c, float),
            np.asarray(channel.rh_percent, float),
            np.zeros(len(channel.time), np.uint16), np.full(len(channel.time), file, np.int32),
            np.asarray(channel.line, np.int32),
        )
        for channel in log.channels if len(channel.time)
    }  # fmt: skip


JSON_COLUMNS = ("answers", "layout", "counts", "notes", "events", "choices")


def write_sidecar(folder: Path, row: Mapping[str, Any]) -> None:
    """What the register knows of an original, beside it. It can be written again from the register at any time."""
    facts = {name: unjson(value) if name in JSON_COLUMNS else value for name, value in row.items()}
    path = original(folder, row["sha256"], row["suffix"])
    content = json.dumps(facts, ensure_ascii=False, indent=1).encode("utf-8", "replace")
    disk.write_whole(path.with_name(row["sha256"] + SIDECAR), content, durable=False)


def set_apart(folder: Path, sha256: str, suffix: str) -> None:
    """Take an original out of the archive without deleting it: its file may be gone from the logger by now."""
    apart = folder / "originals" / "undone"
    apart.mkdir(exist_ok=True)
    for name in (sha256 + suffix, sha256 + GIVEN_UP, sha256 + SIDECAR):  # what says that it is given up goes after it
        with suppress(OSError):  # it stays where it is, and `check` names it
            (folder / "originals" / name).replace(apart / name.replace(GIVEN_UP, SIDECAR))


def give_up(folder: Path, sha256: str) -> None:
    """Mark an original as given up, before the register forgets it: whoever is killed then, a sweep sets it apart."""
    _rename(folder / "originals" / (sha256 + SIDECAR), GIVEN_UP)


def keep_after_all(folder: Path, sha256: str) -> None:
    """Take that mark away again: the register did not forget it."""
    _rename(folder / "originals" / (sha256 + GIVEN_UP), SIDECAR)


def _rename(path: Path, suffix: str) -> None:
    with suppress(OSError):
        path.replace(path.with_suffix(suffix))


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
