"""The register in and out as CSV files: all of it in one transaction, or nothing."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, select, update

from envwatch.archive.register import probes, rules
from envwatch.archive.register.redaction import names_of
from envwatch.archive.register.sheets import SHEETS, CsvRow, CsvTable, Sheet, read_sheet, write_sheet
from envwatch.archive.store import records, writing
from envwatch.archive.store.files import plain
from envwatch.archive.store.originals import write_sidecar
from envwatch.archive.store.records import PUT_IN, found, in_order, inserting
from envwatch.archive.store.tables import CALIBRATIONS, FILES, HANGINGS, LEARNED, LOGGERS, MARK_ANSWERS, PARTS
from envwatch.core.errors import BadInput, StudioError, refuse
from envwatch.core.text import fold
from envwatch.figures.materials import Profile

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

State = Mapping[str, list[CsvRow]]


class Imported(dict[str, int]):
    """Rows kept by sheet.

    Attributes
    ----------
    changes : by sheet, how many rows are new to the register, and how many say otherwise than it did.
    left_out : by file, headers of columns that the register does not have.
    read_as : by file and column, cells whose writing was understood: (as it stood, as it is kept).
    """

    changes: dict[str, tuple[int, int]]
    left_out: dict[str, list[str]]
    read_as: dict[tuple[str, str], list[tuple[str, str]]]


def import_register(studio: StudioFolder, folder: Path | str, *, look: bool = False) -> Imported:
    """Rows kept of each CSV file that is there; if `look`, those that would be, and nothing is changed.

    A row with an id the register has changes that noun; layers, stays, hangings and observations in a file
    replace all that the register had for the paintings (loggers) it names. Nouns the files do not name stay.

    Raises
    ------
    BadInput : what is wrong with the files; `Faults`: each thing by itself. Nothing is kept then.
    """
    folder = Path(folder)
    present = [sheet for sheet in SHEETS if (folder / sheet.file).is_file()]
    if not present:
        raise BadInput(f"no register files there; expected {', '.join(sheet.file for sheet in SHEETS)}", place=folder)
    read = {sheet.name: read_sheet(folder / sheet.file, sheet) for sheet in present}
    if look:
        with studio.reading() as connection:
            _state, imported = _to_be(studio, connection, read)
        return imported
    with studio.writing("importing the register"):
        with studio.saving() as connection:
            state, imported = _to_be(studio, connection, read)
            for sheet in present:
                _write(connection, sheet, read[sheet.name].rows, state[sheet.name])
            adopted = [file for row in (read["loggers"].rows if "loggers" in read else ())
                       for file in _adopt(connection, row["id"], str(row.values.get("labels") or ""))]  # fmt: skip
        _sidecars(studio, adopted)
    return imported


def _to_be(studio: StudioFolder, connection: Connection, read: Mapping[str, Sheet]) -> tuple[State, Imported]:
    """The register as it will be, and what an import comes to. BadInput: what is wrong with the files."""
    imported = Imported({name: len(sheet.rows) for name, sheet in read.items()})
    imported.changes, imported.left_out, imported.read_as = {}, {}, {}
    faults, state = [fault for sheet in read.values() for fault in sheet.faults], {}
    for sheet in SHEETS:
        had, held = stored(connection, sheet), read.get(sheet.name) or Sheet()
        faults += [] if sheet.parent else rules.unique(held.rows)
        state[sheet.name] = _with(had, held.rows, sheet)
        if sheet.name in read:
            imported.changes[sheet.name] = _changes(had, held.rows, state[sheet.name], sheet)
        if held.left_out:
            imported.left_out[sheet.file] = held.left_out
        imported.read_as |= {(sheet.file, column): cells for column, cells in held.read_as.items()}
    hung = read["hangings"].rows if "hangings" in read else []
    faults += probes.strange(hung, probes.read(connection))
    unread = {name for name, sheet in read.items() if sheet.faults and not sheet.rows}
    refuse(_each_once([*faults, *_faults(state, studio.zone, studio.materials(), unread)]))
    return state, imported


def _each_once(faults: Iterable[BadInput]) -> list[BadInput]:
    """Of each cell the first thing that is wrong with it."""
    first: dict[tuple[str, str], BadInput] = {}
    for fault in faults:
        first.setdefault((fault.place, fault.field), fault)
    return list(first.values())


def _changes(had: list[CsvRow], given: list[CsvRow], state: list[CsvRow], sheet: CsvTable) -> tuple[int, int]:
    """How many of a sheet's rows are new to the register, and how many say otherwise than it did."""
    before = {tuple(row[field.name] for field in sheet.fields) for row in had}
    ids = set() if sheet.parent else {row["id"] for row in had}
    where = {row.where for row in given}
    otherwise = [row for row in state if row.where in where
                 and tuple(row[field.name] for field in sheet.fields) not in before]  # fmt: skip
    changed = sum(row["id"] in ids for row in otherwise) if ids else 0
    return len(otherwise) - changed, changed


def enter(studio: StudioFolder, sheet: CsvTable, row: CsvRow) -> bool:
    """One noun by itself, under the rules of the CSV files; whether it is new. A known id changes that noun."""
    row.where = row.where or f"{sheet.name} {row['id']}"
    with studio.writing("entering a row of the register"):
        with studio.saving() as connection:
            state = {s.name: stored(connection, s) for s in SHEETS}
            is_new = row["id"] not in {had["id"] for had in state[sheet.name]}
            state[sheet.name] = _with(state[sheet.name], [row], sheet)
            check(state, studio.zone, studio.materials())
            _write(connection, sheet, [row], state[sheet.name])
            labels = str(row.values.get("labels") or "")
            adopted = _adopt(connection, row["id"], labels) if sheet.name == "loggers" else []
        _sidecars(studio, adopted)
    return is_new


class Exported(dict[str, int]):
    """Rows written by sheet; `cells` and `places`: how many cells, and places' names, bore a name that was withheld."""

    cells: int = 0
    places: int = 0


def export_register(
    studio: StudioFolder, folder: Path | str, *, private: bool = False, redact: bool = False
) -> Exported:
    """Rows written to each CSV file. Unless `private`, the column of owners is left out, and each owner's name wherever
    else it stands gives way to a number.

    `redact`: the column too holds numbers; owners' houses lose their names and notes.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StudioError(f"cannot be made ({plain(error)})", place=folder) from error
    counts = Exported()
    with studio.reading() as connection:
        held = {sheet.name: records.rows(connection, sheet.table) for sheet in SHEETS}
    if not private:
        held = _nameless(studio, held, redact, counts)
    with writing.beside(studio.folder) as named:
        for sheet in SHEETS:
            write_sheet(folder / sheet.file, sheet, held[sheet.name], private or redact, named)
            counts[sheet.name] = len(held[sheet.name])
    return counts


def _nameless(
    studio: StudioFolder, held: dict[str, list[dict]], redact: bool, counts: Exported
) -> dict[str, list[dict]]:
    """The rows without names; of an owner's house, if `redact`, without its notes."""
    names, written = names_of(studio, houses=redact), {}
    for sheet in SHEETS:
        written[sheet.name] = [row | names.row(sheet.fields, row) for row in held[sheet.name]]
    for had, row in zip(held["places"], written["places"], strict=True):
        if had["id"] in names.houses:
            row |= {"name": names.houses[had["id"]].replace("-", " "), "note": ""}
        counts.places += (had["id"], had["name"]) != (row["id"], row["name"])
    counts.cells = names.hidden
    return written


def stored(connection: Connection, sheet: CsvTable) -> list[CsvRow]:
    """What the register has for one sheet."""
    return [CsvRow(dict(row)) for row in records.rows(connection, sheet.table)]


def _with(had: list[CsvRow], given: list[CsvRow], sheet: CsvTable) -> list[CsvRow]:
    """The register's rows as they will be."""
    empty = {field.name: field.empty for field in sheet.fields}
    given = [row for row in given if (sheet.parent or "id") in row.values]
    if sheet.parent:
        replaced = {row[sheet.parent] for row in given}
        kept = [row for row in had if row[sheet.parent] not in replaced]
        pool = [row for row in had if row[sheet.parent] in replaced]
        return kept + [CsvRow(empty | _left_out(row, pool) | row.values, row.where, row.whole) for row in given]
    by_id = {row["id"]: row for row in had}
    for row in given:
        before = by_id[row["id"]].values if row["id"] in by_id else empty
        by_id[row["id"]] = CsvRow(before | row.values, row.where, row.whole)
    return list(by_id.values())


def _left_out(row: CsvRow, pool: list[CsvRow]) -> dict[str, object]:
    """What the register has of the very row in columns that a file leaves out; each stored row serves once."""
    for old in pool:
        if all(old.values.get(name) == value for name, value in row.values.items()):
            pool.remove(old)
            return {name: value for name, value in old.values.items() if name not in row.values}
    return {}


def check(state: State, studio_zone: str, materials: Mapping[str, Profile]) -> None:
    """Everything that must hold between the rows. BadInput: the first thing that does not."""
    for fault in _faults(state, studio_zone, materials):
        raise fault


def _faults(
    state: State, studio_zone: str, materials: Mapping[str, Profile], unread: Collection[str] = ()
) -> Iterator[BadInput]:
    """What does not hold between the rows; those that could not be read whole are only asked what they name.

    `unread`: sheets of whose file nothing could be read; whether a noun of theirs is there is not known.
    """
    yield from _strange(state, unread)
    state = {name: [row for row in rows if row.whole] for name, rows in state.items()}
    zone_of = {row["id"]: row["zone"] or studio_zone for row in state["places"]}
    for name, noun, key in (
        ("hangings", "logger", ("logger", "channel")),
        ("stays", "painting", ("painting",)),
    ):
        yield from rules.in_order(state[name])
        yield from rules.stays_follow(state[name], zone_of, noun, key)
    yield from rules.in_order(state["causes"])
    yield from rules.in_order(state["stand_ins"])
    yield from rules.in_order(state["mark_answers"])
    yield from rules.stand_in_is_another(state["stand_ins"])
    yield from rules.labels_are_apart(state["loggers"])
    yield from rules.layers_are_ordered(state["layers"])
    yield from rules.in_order(state["treatments"], "on", "end")
    yield from rules.linings_are_ordered(state["treatments"])
    made = {row["id"]: row["made"] for row in state["paintings"]}
    yield from rules.treated_after_made(state["treatments"], made)
    yield from rules.layers_after_made(state["layers"], made)
    yield from rules.materials_known(state["layers"], set(materials))
    yield from rules.materials_known(state["treatments"], set(materials))
    yield from rules.families_known(state["treatments"], {id: profile.family for id, profile in materials.items()})
    yield from rules.checks_correct(state["calibrations"])


def _strange(state: State, unread: Collection[str]) -> Iterator[BadInput]:
    """Rows that name a painting, place or logger that is not there."""
    for noun in ("painting", "place", "logger", "neighbour"):
        there = f"{'place' if noun == 'neighbour' else noun}s"
        if there in unread:
            continue
        ids = {row["id"] for row in state[there]}
        for sheet in SHEETS:
            if any(field.name == noun for field in sheet.fields):
                yield from rules.known(state[sheet.name], noun, there[:-1], ids)


def _sidecars(studio: StudioFolder, adopted: list[dict]) -> None:
    """What stands beside originals says whose they are now."""
    for file in adopted:
        write_sidecar(studio.journal, file)


def _adopt(connection: Connection, id: str, labels: str) -> list[dict]:
    """Give a logger the files that came before it was registered, if they bear one of its labels; these.

    They had been given to a logger made for them. It goes, unless someone has said where it hung, or both have
    readings by now.
    """
    adopted: list[dict] = []
    own = {fold(label) for label in labels.split(";")} - {""}
    learnt = connection.execute(select(LEARNED.c.logger, LEARNED.c.value).where(LEARNED.c.kind == "label")).all()
    made = select(LOGGERS.c.id).where(
        LOGGERS.c.made_by_batch.is_not(None), LOGGERS.c.id.not_in(select(HANGINGS.c.logger))
    )
    for other in connection.execute(made.order_by(PUT_IN)).scalars().all():
        theirs = {fold(row.value) for row in learnt if row.logger == other}
        both_read = set(connection.execute(select(PARTS.c.logger).where(PARTS.c.logger.in_([id, other]))).scalars())
        if other == id or id in both_read or not any(f" {label} " in f" {text} " for label in own for text in theirs):
            continue
        for table in (FILES, LEARNED, PARTS, CALIBRATIONS, MARK_ANSWERS):
            connection.execute(update(table).where(table.c.logger == other).values(logger=id))
        connection.execute(delete(LOGGERS).where(LOGGERS.c.id == other))
        adopted = found(connection, in_order(FILES).where(FILES.c.logger == id))
    return adopted


def _write(connection: Connection, sheet: CsvTable, given: list[CsvRow], state: list[CsvRow]) -> None:
    if not given:
        return
    changed = {row.where for row in given}
    rows = [row.values for row in state if row.where in changed]
    columns = [field.name for field in sheet.fields]
    statement = inserting(connection, sheet.table)
    if sheet.parent:
        for parent in dict.fromkeys(row[sheet.parent] for row in given):
            connection.execute(delete(sheet.table).where(sheet.table.c[sheet.parent] == parent))
    else:
        new = {name: statement.excluded[name] for name in columns if name != "id"}
        statement = statement.on_conflict_do_update(index_elements=["id"], set_=new)
    connection.execute(statement, [{name: row[name] for name in columns} for row in rows])
