"""Files given to a logger unasked, held against what came in since: had that been there, one might have asked.

So any order of adding comes to the same questions. Looked at are loggers that files founded, and labelled files that a
logger got by its name alone before it had any other; where one hangs of the former, or a person said whose a file is,
all stays as it is. Each file is given elsewhere once an add at most.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from sqlalchemy import select

from envwatch.archive.intake.assign import NEW, WHOSE, LoggerMatcher
from envwatch.archive.intake.fit import fit
from envwatch.archive.intake.outcomes import WaitingFile
from envwatch.archive.intake.sources import from_kept
from envwatch.archive.intake.tray import known_of
from envwatch.archive.store.originals import unjson
from envwatch.archive.store.records import found, in_order
from envwatch.archive.store.tables import FILES, LEARNED, TRAY
from envwatch.core.errors import Question
from envwatch.core.text import fold

Row = Mapping[str, Any]


def revisit(intake: Any, came: set[str]) -> None:
    """Ask about files that were kept unasked, or give them to the logger that they are of by what came in.

    intake : the `add.Intake` under way. came : loggers of which it kept something.
    """
    intake.know_again()
    for id in sorted(intake.whose.unasked):
        rows, waiting = _of(intake, id)
        others = came - {id} - intake.whose.apart.get(id, set())
        for row in [row for row in rows if row["sha256"] in waiting] or rows:
            may_be = {*intake.whose.candidates(row["name"]).all, *intake.whose.labels.get(fold(row["label"]), ())}
            if row["sha256"] not in intake.moved and others & may_be and _asked(intake, rows, row, waiting):
                break
    shared = {id for ids in intake.whose.labels.values() if ids & came for id in ids}
    for id in sorted((came | shared) - intake.whose.unasked):
        rows, waiting = _of(intake, id)
        for label in {row["label"]: None for row in rows if row["label"]}:
            own = [row for row in rows if row["label"] == label]
            alone = len(own) == len(rows) and len(intake.whose.labels.get(fold(label), ())) < 2
            if not alone and not any(row["told"] or row["sha256"] in intake.moved for row in own):
                _asked(intake, own, own[0], waiting)


def _of(intake: Any, id: str) -> tuple[list[dict[str, Any]], dict[str, list[str]]]:
    """The files of a logger, and the answers among which each file that waits is asked about, by its SHA-256."""
    with intake.studio.reading() as connection:
        rows = found(connection, in_order(FILES).where(FILES.c.logger == id))
        told = {*connection.execute(select(LEARNED.c.file).where(LEARNED.c.kind == WHOSE)).scalars()}
        waiting = {row.sha256: unjson(row.choices) for row in connection.execute(select(TRAY))}
    return [{**row, "told": row["id"] in told} for row in rows], waiting


def _asked(intake: Any, own: Sequence[Row], row: Row, waiting: Mapping[str, list[str]]) -> bool:
    """Whether a file would be asked about were these, it among them, not there; all go where it is given unasked."""
    studio, numbers = intake.studio, [one["id"] for one in own]
    with studio.reading() as connection:
        whose = LoggerMatcher.of(connection, row["logger"], numbers)
    held = studio.reader.series(studio.state().parts.get(row["logger"], ()))
    new = {name: some for name, rows in held.items() if len(some := rows.take(rows.file == row["id"]))}
    if not new:
        return False

    def fits(other: str):
        rows = intake.kept_of(other, new)
        return fit(new, {name: rest for name, some in rows.items()
                         if len(rest := some.take(~np.isin(some.file, numbers)))})  # fmt: skip

    try:
        owner = whose.owner(None, row["label"] or None, row["name"], fits, lambda _known: {})
    except Question as question:
        if waiting.get(row["sha256"]) != [*question.choices]:
            known = known_of(row["label"], question, [[row["first_us"], row["last_us"]]])
            intake.waiting.append(WaitingFile(from_kept(studio, row), row["sha256"], question, {}, about=known))
            intake.keep()
        return True
    if owner.logger != row["logger"] and not (owner.is_new and row["logger"] in intake.whose.unasked):
        _give(intake, own if owner.is_new else [row], NEW if owner.is_new else owner.logger)
    return False


def _give(intake: Any, rows: Sequence[Row], logger: str) -> None:
    intake.given = logger
    for row in rows:
        intake.moved.add(row["sha256"])
        intake.hashes.discard(row["sha256"])
        intake.take(from_kept(intake.studio, row))
        if logger == NEW:  # the first of them founds it
            intake.given = getattr(intake.waiting[-1], "logger", NEW) if intake.waiting else intake.given
    intake.keep()
    intake.given = None
