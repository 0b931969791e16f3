"""Files that wait for an answer: what is known of each, and leaving one out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd
from sqlalchemy import delete, select

from envwatch.archive.intake.assign import NEW
from envwatch.archive.intake.keep import giving_up
from envwatch.archive.intake.outcomes import TrayItem
from envwatch.archive.intake.sources import from_tray
from envwatch.archive.store import files
from envwatch.archive.store.originals import unjson
from envwatch.archive.store.tables import TRAY
from envwatch.core.errors import NotThere, Question
from envwatch.logs.model import LogFile

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder


def about(log: LogFile, question: Question) -> dict[str, Any]:
    """What is known of a file that waits: of which loggers it may be, and over which time."""
    ends = [int(time) for channel in log.channels for time in (*channel.time[:1], *channel.time[-1:])]
    loggers = [id for id in question.choices if id != NEW]
    return {"label": log.label or "", "loggers": loggers, "first_us": min(ends), "last_us": max(ends)}


def waits(studio: StudioFolder) -> list[tuple[int, str, dict[str, Any]]]:
    """Number, name and what is known of each file that waits."""
    with studio.reading() as connection:
        rows = connection.execute(select(TRAY.c.number, TRAY.c.name, TRAY.c.about).order_by(TRAY.c.number)).all()
    return [(row.number, row.name, unjson(row.about)) for row in rows]


def tray(studio: StudioFolder) -> tuple[TrayItem, ...]:
    """Files that wait for an answer, the longest waiting first."""
    with studio.reading() as connection:
        found = connection.execute(select(TRAY).order_by(TRAY.c.number)).mappings().all()
    return tuple(
        TrayItem(row["number"], files.label(row["name"]), *_asked(row["question"], row["option"]),
                 tuple(unjson(row["choices"])), pd.Timestamp(row["asked_at"]))
        for row in found
    )  # fmt: skip


def _asked(question: str, option: str) -> tuple[str, str]:
    """A question of the tray, and the input that answers it; older registers hold that as a command writes it."""
    field = option.removeprefix("--").replace("-", "_")
    return (question.replace(option, f"⟦{field}⟧"), field) if option != field else (question, field)


def discard(studio: StudioFolder, number: int) -> TrayItem:
    """Take a file out of the tray unread. See `Studio.discard`."""
    item = next((item for item in tray(studio) if item.number == number), None)
    if item is None:
        raise NotThere(f"no file waits in the tray as {number}")
    with studio.writing("clearing the tray"):
        path = from_tray(studio, number).path
        with giving_up(studio) as given_up, studio.saving() as connection:
            connection.execute(delete(TRAY).where(TRAY.c.number == number))
            given_up([{"sha256": path.stem, "suffix": path.suffix}])
    return item
