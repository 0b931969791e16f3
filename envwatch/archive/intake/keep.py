"""Keeping what was read, and giving it up again: the one place where originals, parts and register change together.

Order of a batch: originals and new parts to disk; then the register's transaction, which is the commit; then
sidecars. What a crash leaves before the commit is litter that nobody reads; `litter.sweep` takes it away later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd
from sqlalchemy import Connection, delete, insert, select, update

import envwatch
from envwatch.archive.climates.deployments import as_hung
from envwatch.archive.intake.assign import name_key, path_key
from envwatch.archive.intake.merge import MergePlan, Tally, decimals, held, held_for, recompose
from envwatch.archive.intake.outcomes import FileOutcome, StagedFile, UndoReport, WaitingFile
from envwatch.archive.intake.sources import fetched_on
from envwatch.archive.store import files as disk
from envwatch.archive.store import originals
from envwatch.archive.store.originals import read_kept, to_json, unjson
from envwatch.archive.store.records import found, in_order, put, put_if_new
from envwatch.archive.store.tables import (
    BATCHES,
    CALIBRATIONS,
    FILE_CHANNELS,
    FILES,
    HANGINGS,
    LEARNED,
    LOGGERS,
    MARK_ANSWERS,
    PARTS,
    TRAY,
)  # fmt: skip
from envwatch.archive.store.writing import APART, OLD
from envwatch.core.dates import now_text
from envwatch.core.errors import BadInput
from envwatch.core.readings import Series

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

Item = StagedFile | WaitingFile


@dataclass
class Batch:
    """One transaction's work."""

    studio: StudioFolder
    connection: Connection
    written: list[str]  # parts, to be taken away if the transaction fails
    changes: dict[str, MergePlan] = field(default_factory=lambda: defaultdict(MergePlan))  # by logger


def keep(
    studio: StudioFolder, items: Sequence[Item], batch: int | None, now: pd.Timestamp, kind: str = ""
) -> tuple[int | None, dict[int, FileOutcome]]:
    """Keep files that were read, and put those with a question into the tray.

    kind : of a batch of files that were kept before, what is done to them: "part", "reread".

    Returns
    -------
    The number of the batch (the one given, else a new one; None if nothing was kept), and the outcome of each item
    under its `id`.
    """
    outcomes = {}
    for item in items:
        refusal = _take_original(studio, item)
        if refusal:
            outcomes[id(item)] = refusal
    staged = [item for item in items if isinstance(item, StagedFile) and id(item) not in outcomes]
    asked = [item for item in items if isinstance(item, WaitingFile) and id(item) not in outcomes]
    side: list[dict[str, Any]] = []
    loggers, places = studio.loggers(), studio.places()
    with _transaction(studio) as work:
        for logger in dict.fromkeys(item.logger for item in staged):
            work.changes[logger].as_hung = partial(as_hung, logger=loggers.get(logger), places=places)
        if staged and batch is None:
            stamp = now.strftime("%Y-%m-%dT%H:%M:%SZ")
            batch = put(work.connection, BATCHES, added_at=stamp, version=envwatch.__version__, kind=kind)
        if staged and batch is not None:
            outcomes |= _keep_files(work, staged, batch)
        outcomes |= {id(item): _put_in_tray(work, item) for item in asked}
        side = _sidecars(work.connection, [item.sha256 for item in items])
    for row in side:
        originals.write_sidecar(studio.journal, row)
    return batch, outcomes


@contextmanager
def _transaction(studio: StudioFolder) -> Iterator[Batch]:
    """A transaction of the register; if it fails, the parts written for it are taken away again."""
    written: list[str] = []
    try:
        with studio.saving() as connection:
            yield Batch(studio, connection, written)
    except BaseException:
        for path in written:
            disk.remove(studio.folder / path)
        raise


def _take_original(studio: StudioFolder, item: Item) -> FileOutcome | None:
    if item.source.tray is not None:
        return None  # it is among the originals already
    try:
        put_down = item.source.beside.put_down if item.source.beside else None
        originals.take(studio.journal, item.source.path, item.sha256, item.source.suffix, put_down)
    except BadInput as error:
        return FileOutcome(item.source.label, "refused", reason=error.sentence)
    except FileNotFoundError:
        return FileOutcome(item.source.label, "refused", reason=f"{item.source.label}: went away while it was read")
    return None


def _keep_files(work: Batch, staged: Sequence[StagedFile], batch: int) -> dict[int, FileOutcome]:
    connection = work.connection
    for item in staged:
        if item.is_new:
            name = item.log.label or name_key(item.source.name) or item.logger
            made = {"id": item.logger, "name": name, "made_by_batch": batch}
            put_if_new(connection, LOGGERS, [made])
    replaced = [item.replaces for item in staged if item.replaces is not None]
    if replaced:
        _note_before(work, batch, replaced)
        _forget(work, replaced)
    numbers = {id(item): _register(connection, item, batch) for item in staged}
    for item in staged:
        for channel, rows in originals.series(item.log, numbers[id(item)]).items():
            work.changes[item.logger].new[channel].append(rows)
    for logger, change in work.changes.items():
        _compose(work, logger, change)
    if left := set(work.changes) - {item.logger for item in staged}:
        _forget_loggers(work.studio, connection, left, staged[0].logger)
    for item in staged:
        connection.execute(delete(TRAY).where(TRAY.c.sha256 == item.sha256))
    return {id(item): _outcome(item, work.changes[item.logger], numbers[id(item)]) for item in staged}


def _note_before(work: Batch, batch: int, numbers: Sequence[int]) -> None:
    """How files were kept until now goes into the batch that keeps them otherwise, so that an undo gives it back."""
    connection = work.connection
    files = found(connection, in_order(FILES).where(FILES.c.id.in_(numbers)))
    of_files = {table.name: found(connection, in_order(table).where(table.c.file.in_(numbers)))
                for table in (FILE_CHANNELS, LEARNED)}  # fmt: skip
    loggers = found(connection, in_order(LOGGERS).where(LOGGERS.c.id.in_({file["logger"] for file in files})))
    rows = {"loggers": loggers, "files": files, **of_files}
    earlier = unjson(connection.execute(select(BATCHES.c.before).where(BATCHES.c.id == batch)).scalar_one())
    before = {name: [*earlier.get(name, ()), *some] for name, some in rows.items()}
    connection.execute(update(BATCHES).where(BATCHES.c.id == batch).values(before=to_json(before)))
    for file in files:
        work.changes[file["logger"]].held_for = held_for(batch)


def _give_back(work: Batch, batch: int, before: Mapping[str, Any]) -> None:
    """Files as they were kept before a batch kept them otherwise, with their very readings."""
    connection = work.connection
    if before.get("loggers"):
        put_if_new(connection, LOGGERS, before["loggers"])
    for table in (FILES, FILE_CHANNELS, LEARNED):
        if rows := before.get(table.name):
            connection.execute(insert(table), rows)
    for file in before.get("files", ()):
        for channel, rows in held(work.studio, connection, batch, file["id"]).items():
            work.changes[file["logger"]].back[channel].append(rows)
    over = PARTS.c.superseded_at == held_for(batch)
    connection.execute(update(PARTS).where(over).values(superseded_at=now_text()))


def _compose(work: Batch, logger: str, change: MergePlan) -> None:
    new = {(rows.file[0], channel): rows for channel, files in change.new.items() for rows in files}
    rounding = {key: (decimals(rows.temp_c), decimals(rows.rh_percent)) for key, rows in new.items()}
    change.rounding |= rounding_of(work.connection, logger) | rounding
    recompose(work.studio, work.connection, logger, change, work.written)
    if new:
        work.connection.execute(insert(FILE_CHANNELS), [
            {"file": int(file), "channel": channel, "new": tally.new, "duplicate": tally.duplicate,
             "conflict": tally.conflict, "first_us": int(new[file, channel].time[0]),
             "last_us": int(new[file, channel].time[-1]),
             "temp_decimals": rounding[file, channel][0], "rh_decimals": rounding[file, channel][1]}
            for (file, channel), tally in change.tallies.items() if (file, channel) in new
        ])  # fmt: skip


def rounding_of(connection: Connection, logger: str) -> dict[tuple[int, str], tuple[int, int]]:
    of_logger = FILE_CHANNELS.c.file.in_(select(FILES.c.id).where(FILES.c.logger == logger))
    rows = connection.execute(select(FILE_CHANNELS).where(of_logger))
    return {(row.file, row.channel): (row.temp_decimals, row.rh_decimals) for row in rows}


def _register(connection: Connection, item: StagedFile, batch: int) -> int:
    """A file's row in the register; returns its number."""
    log, times = item.log, [channel.time for channel in item.log.channels if len(channel.time)]
    number = put(
        connection, FILES, batch=batch, sha256=item.sha256, name=item.source.name, name_key=path_key(item.source.name),
        suffix=item.source.suffix, size=log.size, logger=item.logger, label=log.label or "",
        answers=to_json(item.answers), layout=to_json(log.layout), counts=to_json(log.counts),
        notes=to_json(item.notes), events=to_json(log.events), readings=item.readings,
        first_us=min(int(time[0]) for time in times), last_us=max(int(time[-1]) for time in times),
        lines_after=item.lines_after, fetched=fetched_on(item.source.name), reader=envwatch.__version__,
    )  # fmt: skip
    learnt = [("label", log.label)] if log.label else []
    learnt += [(name, value) for name, value in item.said.items()]
    if learnt:
        connection.execute(insert(LEARNED), [
            {"logger": item.logger, "kind": kind, "value": value, "file": number} for kind, value in learnt
        ])  # fmt: skip
    return number


def _outcome(item: StagedFile, change: MergePlan, number: int) -> FileOutcome:
    tallies = [tally for (file, _), tally in change.tallies.items() if file == number]
    total = Tally(*(sum(getattr(tally, name) for tally in tallies) for name in ("new", "duplicate", "conflict")))
    notes = item.notes
    if total.conflict:
        notes += (
            f"{total.conflict} readings differ from others of the same instants; both are kept, and until one of "
            "the adds is undone the hotter temperature and the humidity farther from 50 % count",
        )
    counts = item.log.counts
    return FileOutcome(
        item.source.label, "kept", item.logger, total.new, total.duplicate, total.conflict, counts.data_rows,
        {**counts.set_aside, **({"stands twice in the file": counts.duplicate} if counts.duplicate else {})},
        change.marked.get(number, {}), notes,
    )  # fmt: skip


def _put_in_tray(work: Batch, item: WaitingFile) -> FileOutcome:
    connection, question, source = work.connection, item.question, item.source
    kept = originals.original(work.studio.folder, item.sha256, source.suffix)
    asked = question.sentence.replace(source.path.name, source.label)
    waiting = connection.execute(select(TRAY.c.number).where(TRAY.c.sha256 == item.sha256)).scalar()
    connection.execute(delete(TRAY).where(TRAY.c.sha256 == item.sha256))
    values = {
        "sha256": item.sha256, "name": source.name, "name_key": path_key(source.name), "suffix": source.suffix,
        "size": kept.stat().st_size, "question": asked,
        "option": question.field, "choices": to_json(question.choices), "answers": to_json(item.said),
        "asked_at": now_text(), "about": to_json(item.about),
    }  # fmt: skip
    if waiting is not None:
        values["number"] = waiting
    number = put(connection, TRAY, **values)
    return FileOutcome(source.label, "in the tray", question=asked, option=question.field,
                       choices=tuple(question.choices), number=number, notes=item.notes)  # fmt: skip


def _sidecars(connection: Connection, hashes: Sequence[str]) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    for start in range(0, len(hashes), 500):
        some = hashes[start : start + 500]
        for table in (TRAY, FILES):  # of one that is kept and asked about, as it is kept
            out += found(connection, in_order(table).where(table.c.sha256.in_(some)))
    return out


# --------------------------------------------------------------------------------------------------- giving up


def undo(studio: StudioFolder, batch: int | None = None) -> UndoReport:
    """Take back an add, by default the last. See `Studio.undo`."""
    with studio.writing("taking back an add"), giving_up(studio) as given_up, _transaction(studio) as work:
        connection = work.connection
        if batch is None:
            batch = connection.execute(select(BATCHES.c.id).order_by(BATCHES.c.id.desc()).limit(1)).scalar()
        files = found(connection, in_order(FILES).where(FILES.c.batch == batch))
        _refuse_before_others(connection, batch)
        if batch is None or not files:
            raise BadInput("nothing was added yet" if batch is None else f"add {batch}: nothing is kept of it")
        before = unjson(connection.execute(select(BATCHES.c.before).where(BATCHES.c.id == batch)).scalar_one())
        _forget(work, [file["id"] for file in files])
        _give_back(work, batch, before)
        for logger, change in work.changes.items():
            _compose(work, logger, change)
        connection.execute(delete(BATCHES).where(BATCHES.c.id == batch))
        heirs = [file["logger"] for file in before.get("files", ())]
        _forget_loggers(studio, connection, {file["logger"] for file in files} - {*heirs}, *heirs[:1])
        kept = {file["sha256"]: file["logger"] for file in before.get("files", ())}
        gone = [file for file in files if file["sha256"] not in kept]
        _ask_no_more(connection)
        connection.execute(delete(TRAY).where(TRAY.c.sha256.in_([file["sha256"] for file in gone])))
        given_up(gone)
        harmed = tuple(line for file in gone if (line := _set_apart_as_it_is(studio, file)))
        side = _sidecars(connection, list(kept))
    for row in side:
        originals.write_sidecar(studio.journal, row)
    loggers = tuple(dict.fromkeys(file["logger"] for file in files))
    back = {file["name"]: kept[file["sha256"]] for file in files if file["sha256"] in kept}
    return UndoReport(batch, tuple(file["name"] for file in files), sum(file["readings"] for file in files), loggers,
                      harmed, back)  # fmt: skip


def _ask_no_more(connection: Connection) -> None:
    """What was asked of a kept file falls away with the last logger that it may have been of."""
    ids = {*connection.execute(select(LOGGERS.c.id)).scalars()}
    asked = TRAY.c.sha256.in_(select(FILES.c.sha256)) & (TRAY.c.option == "logger")
    rows = connection.execute(select(TRAY.c.number, TRAY.c.choices).where(asked))
    over = [number for number, choices in rows if not ids & {*unjson(choices)}]
    connection.execute(delete(TRAY).where(TRAY.c.number.in_(over)))


def _refuse_before_others(connection: Connection, batch: int | None) -> None:
    """A batch whose files were kept otherwise since is taken back after those that did so."""
    later = connection.execute(select(BATCHES.c.id, BATCHES.c.before).where(BATCHES.c.before != "")).all()
    of = [row.id for row in later if any(file["batch"] == batch for file in unjson(row.before).get("files", ()))]
    if of:
        raise BadInput(f"add {batch}: files of it were kept otherwise since. Take back add {max(of)} first")


def _set_apart_as_it_is(studio: StudioFolder, file: Mapping[str, Any]) -> str:
    path = originals.original(studio.folder, file["sha256"], file["suffix"])
    problem, _, _ = originals.harm(file, originals.found(path)).partition(", and nothing")
    return problem and f"{problem}; what is there of it is set apart as it is"


@contextmanager
def giving_up(studio: StudioFolder) -> Iterator[Callable[[Sequence[Mapping[str, Any]]], None]]:
    """Originals that the register is to forget: named in the journal before it does, set apart once it has."""
    rows: list[Mapping[str, Any]] = []

    def given_up(these: Sequence[Mapping[str, Any]]) -> None:
        rows.extend(these)
        for row in these:
            path = originals.original(studio.folder, row["sha256"], row["suffix"])
            studio.journal.name(path, APART, row["sha256"])

    yield given_up
    for row in rows:
        originals.set_apart(studio.folder, row["sha256"], row["suffix"])


def _forget(work: Batch, numbers: Sequence[int]) -> None:
    """Take files out of the register and out of their loggers' readings; what others read then comes back."""
    connection = work.connection
    files = found(connection, in_order(FILES).where(FILES.c.id.in_(numbers)))
    for file in files:
        change = work.changes[file["logger"]]
        change.drop.add(file["id"])
        change.rounding |= rounding_of(connection, file["logger"])
    for table in (FILE_CHANNELS, LEARNED):
        connection.execute(delete(table).where(table.c.file.in_(numbers)))
    connection.execute(delete(FILES).where(FILES.c.id.in_(numbers)))
    for file in files:
        for number, channels in _beside(work, file):
            for channel, rows in channels.items():
                work.changes[file["logger"]].refill.setdefault(channel, {})[number] = rows


def _beside(work: Batch, file: Mapping[str, Any]) -> list[tuple[int, dict[str, Series]]]:
    """Other files of the logger over the same time, read again: they may hold what only this one was kept for."""
    over = (FILES.c.first_us <= file["last_us"]) & (FILES.c.last_us >= file["first_us"])
    over &= FILES.c.logger == file["logger"]
    query = select(FILES, BATCHES.c.added_at).join(BATCHES).where(over).order_by(FILES.c.id)
    return [(row["id"], reread(work.studio, row)) for row in found(work.connection, query)]


def reread(studio: StudioFolder, row: Mapping[str, Any]) -> dict[str, Series]:
    """A kept file's channels, read from its original as it was read then. `row` has the batch's `added_at`.

    StudioError: the original is gone or was changed."""
    return originals.series(read_kept(studio.folder, row, pd.Timestamp(row["added_at"])), row["id"])


def _forget_loggers(studio: StudioFolder, connection: Connection, ids: set[str], heir: str = "") -> None:
    """Loggers that an add made for files that are gone, unless something else is known of them by now.

    heir : the logger that holds from now on what an undo needs of theirs.
    """
    held = [select(table.c.logger) for table in (FILES, HANGINGS, CALIBRATIONS, MARK_ANSWERS, LEARNED)]
    made = LOGGERS.c.made_by_batch.is_not(None) & LOGGERS.c.id.in_(ids)
    gone = select(LOGGERS.c.id).where(made, *(LOGGERS.c.id.not_in(query) for query in held))
    forgotten = list(connection.execute(gone).scalars())
    if heir:
        held_on = PARTS.c.logger.in_(forgotten) & PARTS.c.superseded_at.startswith(held_for(0)[:-1])
        connection.execute(update(PARTS).where(held_on).values(logger=heir))
    for path in connection.execute(select(PARTS.c.path).where(PARTS.c.logger.in_(forgotten))).scalars():
        studio.journal.name(studio.folder / path, OLD)
    connection.execute(delete(PARTS).where(PARTS.c.logger.in_(forgotten)))
    connection.execute(delete(LOGGERS).where(LOGGERS.c.id.in_(forgotten)))


__all__ = ["giving_up", "keep", "reread", "undo"]
