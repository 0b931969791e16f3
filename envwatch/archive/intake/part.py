"""A file that is not the logger's that it was taken for: parted from it, with its readings."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from envwatch.archive.intake.add import Intake
from envwatch.archive.intake.assign import NEW
from envwatch.archive.intake.outcomes import FileOutcome, PartReport, WaitingFile
from envwatch.archive.intake.sources import from_kept
from envwatch.archive.store import files
from envwatch.archive.store.originals import found as digest_of
from envwatch.archive.store.records import found, in_order
from envwatch.archive.store.tables import FILES
from envwatch.core.errors import BadInput, NotThere, Question
from envwatch.core.text import date
from envwatch.logs.model import Answers

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


def part(studio: StudioFolder, file: str, logger: str = NEW) -> PartReport:
    """Part a kept file from its logger. See `Studio.part`."""
    with studio.writing("parting a file"):
        row = kept_file(studio, file)
        intake = Intake(studio, Answers(), logger, "part")
        if intake.given == row["logger"]:
            raise BadInput(f"is of {row['logger']} already", place=files.label(row["name"]))
        intake.take(from_kept(studio, row))
        (item,) = intake.waiting or intake.outcomes
        if isinstance(item, WaitingFile):
            raise item.question
        intake.keep()
        (outcome,) = intake.outcomes
        if outcome.status != "kept" or intake.batch is None:
            raise BadInput(outcome.reason or "nothing was changed")
        intake.try_again()
    return PartReport(files.label(row["name"]), row["logger"], outcome.logger_id, outcome.readings, intake.batch,
                      (*_conflicts(studio, row, outcome), *_asks(studio, row, outcome.logger_id)))  # fmt: skip


def kept_file(studio: StudioFolder, file: str) -> dict[str, Any]:
    """The row of a kept file, by its name, its number or where it lies. NotThere: none. Question: several."""
    with studio.reading() as connection:
        rows = found(connection, in_order(FILES))
    path, wanted = Path(file), file.casefold()
    sha256 = digest_of(path) if path.is_file() else None
    by_number = [row for row in rows if str(row["id"]) == file]
    fits = [row for row in rows if row["sha256"] == sha256] or by_number or [
        row for row in rows if wanted in (row["name"].casefold(), Path(row["name"]).name.casefold())
    ]  # fmt: skip
    if len(fits) > 1:
        told = "; ".join(f"{row['id']}: of {row['logger']}, from {_day(studio, row)}" for row in fits)
        raise Question(f"{file}: several files of this name are kept ({told}).", answer="its number")
    if not fits:
        raise NotThere(f"no file of this name is kept; its page or envwatch add tells how it is called: {file}")
    return fits[0]


def _conflicts(studio: StudioFolder, row: Mapping[str, Any], outcome: FileOutcome) -> tuple[str, ...]:
    """Readings that other files of its new logger give otherwise, with those files and the adds they came with."""
    if not outcome.conflict:
        return ()
    over = (FILES.c.logger == outcome.logger_id) & (FILES.c.sha256 != row["sha256"])
    over &= (FILES.c.first_us <= row["last_us"]) & (FILES.c.last_us >= row["first_us"])
    with studio.reading() as connection:
        others = found(connection, in_order(FILES).where(over))
    told = ", ".join(f"{files.label(one['name'])} (add {one['batch']})" for one in others)
    return (f"{outcome.conflict:,} of them differ from what {told} gives for the same instants: both are kept, and the "
            "harsher counts until one of the files is parted from it or its add taken back.",)  # fmt: skip


def _day(studio: StudioFolder, row: Mapping[str, Any]) -> str:
    return date(pd.Timestamp(row["first_us"], unit="us", tz="UTC"), studio.zone)


def _asks(studio: StudioFolder, row: Mapping[str, Any], logger: str) -> tuple[str, ...]:
    """Where the readings count from now on, or that somebody has to say it."""
    start, end = (pd.Timestamp(row[name], unit="us", tz="UTC") for name in ("first_us", "last_us"))
    loggers, places = studio.loggers(), studio.places()

    def hung(id: str) -> str:
        at = (
            [h for h in loggers[id].hangings if h.start <= end and (h.end is None or h.end > start)]
            if id in loggers
            else []
        )
        return " and ".join(dict.fromkeys(places[h.place_id].name for h in at))

    was, now = hung(row["logger"]), hung(logger)
    left = (f"They count no longer for {was}.",) if was and was != now else ()
    if now:
        return (*left, f"They count for {now}, where {logger} hung then.")
    day = f"{start.tz_convert(studio.zone):%Y-%m-%d}"
    return (*left, f"{logger} hung nowhere then: say where it hung from {day} on (envwatch hung {logger} PLACE).")
