"""Files given to a logger unasked, held against what came in since: had that been there, one might have asked.

So any order of adding comes to the same questions. Looked at are loggers that files founded, and labelled files that a
logger got by its name alone before it had any other; where one hangs of the former, or a person said whose a file is,
all stays as it is. A label by which a logger was founded is its own. Each file is given elsewhere once an add at most.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, select

from envwatch.archive.intake.assign import NEW, WHOSE, LoggerMatch, LoggerMatcher
from envwatch.archive.intake.fit import Fit, fit, in_time
from envwatch.archive.intake.keep import reread
from envwatch.archive.intake.outcomes import WaitingFile
from envwatch.archive.intake.sources import from_kept
from envwatch.archive.intake.tray import known_of
from envwatch.archive.store.originals import unjson
from envwatch.archive.store.records import found
from envwatch.archive.store.tables import BATCHES, FILES, LEARNED, TRAY
from envwatch.core.errors import Question
from envwatch.core.readings import Series
from envwatch.core.text import fold

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Row = Mapping[str, Any]


def revisit(intake: Any, came: set[str]) -> None:
    """Ask about files that were kept unasked, or give them to the logger that they are of by what came in.

    intake : the `add.Intake` under way. came : loggers of which it kept something.
    """
    intake.know_again()
    files, told, waiting = _kept(intake, came)
    for id in sorted(intake.whose.unasked):
        if not (intake.answering not in (None, NEW) and _as_answered(intake, files[id], came)):
            _founded(intake, files[id], came, waiting)
    if came & intake.came:
        files, told, waiting = _kept(intake, came)  # some were given elsewhere
    shared = {id for ids in intake.whose.labels.values() if ids & came for id in ids}
    for id in sorted((came | shared) - intake.whose.unasked):
        for label in {row["label"]: None for row in files[id] if row["label"]}:
            own = [row for row in files[id] if row["label"] == label]
            alone = len(own) == len(files[id]) and len(intake.whose.labels.get(fold(label), ())) < 2
            founder = id in intake.whose.founded and fold(intake.whose.ids[id]) == fold(label)
            if not alone and not founder and not any(row["id"] in told or row["sha256"] in intake.moved for row in own):
                match _owner(intake, own[0], own, _readings(intake.studio, files[id])):
                    case Question() as question:
                        _ask(intake, own[0], question, waiting)
                    case owner:
                        _give(intake, own, own[0], owner)


def _kept(intake: Any, came: set[str]) -> tuple[dict[str, list[Row]], set[int], dict[str, list[str]]]:
    """Files by logger, of those to be looked at; of which files a person said whose they are; and the answers among
    which each file that waits for its logger is asked about, by its SHA-256."""
    whose = intake.whose
    labelled = {id for ids in whose.labels.values() if ids & came for id in ids}
    files: dict[str, list[Row]] = defaultdict(list)
    with intake.studio.reading() as connection:
        of = FILES.c.logger.in_(whose.unasked | came | labelled)
        for row in found(connection, select(FILES, BATCHES.c.added_at).join(BATCHES).where(of).order_by(FILES.c.id)):
            files[row["logger"]].append(row)
        told = {*connection.execute(select(LEARNED.c.file).where(LEARNED.c.kind == WHOSE)).scalars()}
        asked = connection.execute(select(TRAY.c.sha256, TRAY.c.choices).where(TRAY.c.option == "logger"))
        return files, told, {sha256: unjson(choices) for sha256, choices in asked}


def _as_answered(intake: Any, rows: Sequence[Row], came: set[str]) -> bool:
    """Whether any of a logger's files reads as one does of which a person said whose it is, and so was given there."""
    parts, given = intake.studio.state().parts, False
    for id in came - {row["logger"] for row in rows}:
        over = [
            row
            for row in rows
            if row["sha256"] not in intake.moved
            and any(part.first_us <= row["last_us"] and part.last_us >= row["first_us"] for part in parts.get(id, ()))
        ]
        readings = _readings(intake.studio, rows) if over else {}
        for row in over:
            new, apart = readings[row["id"]], intake.whose.apart.get(row["logger"], set())
            if id not in apart and fit(new, intake.kept_of(id, new)).equal:
                _give(intake, [row], row, LoggerMatch(id))
                given = True
    return given


def _founded(intake: Any, rows: Sequence[Row], came: set[str], waiting: Mapping[str, list[str]]) -> None:
    """The files of a logger that a file founded, as if they came in last, each as soon as the others let it in: asked
    about is one that never gets in so; a question that is none any more is taken back."""
    whose, asked, left = intake.whose, {}, []
    for row in rows:
        may_be = {*whose.candidates(row["name"]).all, *whose.labels.get(fold(row["label"]), ())} - {row["logger"]}
        if may_be and row["sha256"] not in intake.moved:
            left.append((row, may_be - whose.apart.get(row["logger"], set())))
    again = any(row["sha256"] in waiting and row["logger"] in came for row, _ in left)
    if not again and not any(came & may_be for _, may_be in left):
        return
    readings = _readings(intake.studio, rows)
    rest, count = [row for row, _ in left], -1
    while rest and count != len(rest):
        count = len(rest)
        for row in [*rest]:
            match _owner(intake, row, rest, readings):
                case Question() as question:
                    asked[row["sha256"]] = question
                case owner:
                    rest.remove(row)
                    _give(intake, rest, row, owner)
    for row in sorted(rest, key=lambda row: row["sha256"] not in waiting)[:1]:
        _ask(intake, row, asked[row["sha256"]], waiting)
    over = [row["sha256"] for row, _ in left if row not in rest and row["sha256"] in waiting]
    if over:
        with intake.studio.saving() as connection:
            connection.execute(delete(TRAY).where(TRAY.c.sha256.in_(over)))


def _readings(studio: StudioFolder, rows: Sequence[Row]) -> dict[int, dict[str, Series]]:
    """What files of a logger hold, by number; anew from the original where another may hold the same, kept once."""
    held = studio.reader.series(studio.state().parts.get(rows[0]["logger"], ()))
    found = {}
    for row in rows:
        over = [one for one in rows if one["first_us"] <= row["last_us"] and one["last_us"] >= row["first_us"]]
        own = {name: some for name, of in held.items() if len(some := of.take(of.file == row["id"]))}
        found[row["id"]] = reread(studio, row) if len(over) > 1 else own
    return found


def _owner(
    intake: Any, row: Row, absent: Sequence[Row], readings: Mapping[int, Mapping[str, Series]]
) -> LoggerMatch | Question:
    """Whose a file would be, or what one would ask, were these of its logger's files, it among them, not there."""
    numbers, logger, new = [one["id"] for one in absent], row["logger"], readings[row["id"]]
    with intake.studio.reading() as connection:
        whose = LoggerMatcher.of(connection, logger, numbers)
    there = [of for number, of in readings.items() if number not in numbers]
    names = {name for of in there for name in of}
    rest = {name: in_time(of[name] for of in there if name in of) for name in names}

    def fits(other: str) -> Fit:
        return fit(new, rest if other == logger else intake.kept_of(other, new))

    def equals(known: Collection[str]) -> dict[str, Fit]:
        return {logger: fits(logger)} if logger in whose.ids and logger not in known else {}

    try:
        return whose.owner(None, row["label"] or None, row["name"], fits, equals)
    except Question as question:
        return question


def _ask(intake: Any, row: Row, question: Question, waiting: Mapping[str, list[str]]) -> None:
    if waiting.get(row["sha256"]) != [*question.choices]:
        known = known_of(row["label"], question, [[row["first_us"], row["last_us"]]])
        source = from_kept(intake.studio, row)
        intake.waiting.append(WaitingFile(source, row["sha256"], question, {}, about=known))
        intake.keep()


def _give(intake: Any, own: Sequence[Row], row: Row, owner: LoggerMatch) -> None:
    """To another logger where it is of one; all of these where that is new, unless theirs was founded by themselves."""
    if owner.logger == row["logger"] or (owner.is_new and row["logger"] in intake.whose.unasked):
        return
    rows = own if owner.is_new else [row]
    intake.given = NEW if owner.is_new else owner.logger
    for one in rows:
        intake.moved.add(one["sha256"])
        intake.hashes.discard(one["sha256"])
        intake.take(from_kept(intake.studio, one))
        if intake.given == NEW:  # the first of them founds it
            intake.given = getattr(intake.waiting[-1], "logger", NEW) if intake.waiting else intake.given
    intake.keep()
    intake.given = None
