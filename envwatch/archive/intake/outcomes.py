"""What is said of files that were taken in, and what passes between reading and keeping them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from envwatch.archive.store import files as disk
from envwatch.archive.store.stream import HashingCopy
from envwatch.core.errors import Question
from envwatch.logs.model import LogFile


@dataclass(frozen=True)
class FileOutcome:
    """What became of one file: "kept", "already kept", "in the tray" or "refused".

    `new`, `duplicate`, `conflict`: its readings, each counted once. `set_aside`, `marked`: rows by reason, readings
    by mark. `reason`: why it was refused. A file in the tray has its `question`, the `option` that answers it with
    the `choices`, and its `number` there.
    """

    name: str
    status: str
    logger_id: str = ""
    new: int = 0
    duplicate: int = 0
    conflict: int = 0
    data_rows: int = 0
    set_aside: dict[str, int] = field(default_factory=dict)
    marked: dict[str, int] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    reason: str = ""
    question: str = ""
    option: str = ""
    choices: tuple[str, ...] = ()
    number: int | None = None

    @property
    def readings(self) -> int:
        """All readings of the file."""
        return self.new + self.duplicate + self.conflict


@dataclass(frozen=True)
class Totals:
    """Sums over an add. `readings` are those that are new."""

    files: int
    readings: int
    duplicate: int
    conflict: int
    set_aside: int
    already: int
    in_tray: int
    refused: int


@dataclass(frozen=True)
class AddReport:
    """What became of each file, in the order they were taken; `batch` numbers it for `undo`, None if none was kept.

    `revised`: in words, which reviewed weeks say otherwise by it; whoever judges fills it in.
    """

    outcomes: tuple[FileOutcome, ...]
    batch: int | None = None
    revised: tuple[str, ...] = ()

    @property
    def ok(self) -> bool:
        """No file was refused and none waits for an answer."""
        return all(outcome.status in ("kept", "already kept") for outcome in self.outcomes)

    @property
    def totals(self) -> Totals:
        """Sums over all files."""
        count = dict.fromkeys(("kept", "already kept", "in the tray", "refused"), 0)
        for outcome in self.outcomes:
            count[outcome.status] += 1
        kept = [outcome for outcome in self.outcomes if outcome.status == "kept"]
        return Totals(
            count["kept"], sum(o.new for o in kept), sum(o.duplicate for o in kept), sum(o.conflict for o in kept),
            sum(sum(o.set_aside.values()) for o in kept), count["already kept"], count["in the tray"], count["refused"],
        )  # fmt: skip


@dataclass(frozen=True)
class UndoReport:
    """An add that was taken back. Its files are set apart in `originals/undone`, not deleted.

    `problems`: a line for each of them that was no longer as it was kept. `back`: files that were kept before, and
    whose they are again; they stay.
    """

    batch: int
    files: tuple[str, ...]
    readings: int
    loggers: tuple[str, ...]
    problems: tuple[str, ...] = ()
    back: dict[str, str] = field(default_factory=dict)
    revised: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What was taken back, in words."""
        told = [f"{name} is kept as before, of {logger}" for name, logger in self.back.items()]
        told += ["The files are set apart in originals/undone"] if len(self.back) < len(self.files) else []
        files = f"{len(self.files)} file{'' if len(self.files) == 1 else 's'}"
        return (f"Add {self.batch} is taken back: {files}, {self.readings:,} readings of "
                f"{', '.join(self.loggers)}. " + ". ".join((*told, *self.problems)) + ".")  # fmt: skip


@dataclass(frozen=True)
class PartReport:
    """A file that was parted from a logger and is another's now; `batch` takes it back. `asks`: what is to be said."""

    file: str
    was: str
    logger: str
    readings: int
    batch: int
    asks: tuple[str, ...] = ()
    revised: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """What was done, in words."""
        return f"{self.file} is no longer of {self.was}: its {self.readings:,} readings are of {self.logger}."


@dataclass(frozen=True)
class TrayItem:
    """A file that waits for an answer."""

    number: int
    name: str
    question: str
    option: str
    choices: tuple[str, ...]
    asked_at: pd.Timestamp

    @property
    def sentence(self) -> str:
        """Its one question, with how to answer it."""
        asked = self.question if self.question.startswith(self.name) else f"{self.name}: {self.question}"
        return f"{self.number}: {asked}"


@dataclass(frozen=True, eq=False)
class IncomingFile:
    """A file to be taken: where its bytes are, what it is called, and its number if it waits in the tray.

    `kept`: its row there. `sha256`: of its bytes, where that is known before they are read.
    """

    path: Path
    name: str
    tray: int | None = None
    kept: Mapping[str, Any] | None = None
    sha256: str = ""
    answered: dict[str, str] = field(default_factory=dict)  # what was answered about it before
    beside: HashingCopy | None = None  # a big file's bytes, put down while it is read

    @property
    def suffix(self) -> str:
        """Under which its original is kept, so that it still opens by a click; else none."""
        suffix = Path(self.name).suffix.lower()
        return suffix if suffix in disk.KEPT_SUFFIXES else ""

    @property
    def label(self) -> str:
        """Its name, fit for printing."""
        return disk.label(self.name)


@dataclass(frozen=True, eq=False)
class StagedFile:
    """A file that was read and is about to be kept."""

    source: IncomingFile
    sha256: str
    log: LogFile
    logger: str
    is_new: bool  # the logger
    answers: dict[str, str | None]  # what it was read with, so that it can be read again
    said: dict[str, str]  # what a person answered about it
    notes: tuple[str, ...]
    lines_after: int  # lines of the file after its last reading
    replaces: int | None = None  # number of the same file, kept before under other answers

    @property
    def readings(self) -> int:
        return sum(len(channel.time) for channel in self.log.channels)


@dataclass(frozen=True, eq=False)
class WaitingFile:
    """A file that waits for an answer."""

    source: IncomingFile
    sha256: str
    question: Question
    said: dict[str, str]
    notes: tuple[str, ...] = ()
    about: dict[str, Any] = field(default_factory=dict)  # of which loggers it may be, over which time, where known
