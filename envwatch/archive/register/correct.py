"""What a person entered, corrected or removed: a treatment, a stay, a look, where a logger hung, a check of it.

What stood there stays told with its day and reason: of a painting as a correction among its treatments, of a logger in
its note. What followed from it follows: the layers that a treatment left behind, the stay or hanging beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Table, delete, select, update

from envwatch.archive.register.edit import checked, find_painting
from envwatch.archive.register.edit_layers import note, value_words, word
from envwatch.archive.register.sheets import BY_NAME, named_values, values_of
from envwatch.archive.store.records import require_id
from envwatch.archive.store.tables import LAYERS, LOGGERS
from envwatch.core.errors import BadCell, BadInput, NotThere
from envwatch.core.painting import CORRECTION, Role, role_of

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

DATED = {"treatment": "on", "stay": "from", "observation": "on", "hanging": "from", "calibration": "on"}
SPANS = ("stay", "hanging")  # where one ends the next begins


@dataclass(frozen=True)
class RegisterRow:
    """One row of the register as a person names it: `painting or logger:number`, the earliest 1."""

    noun: str
    owner: str
    number: int
    row: Mapping[str, object]

    @property
    def table(self) -> Table:
        """Where it is kept."""
        return BY_NAME[f"{self.noun}s"].table

    @property
    def name(self) -> str:
        """As it is named in a command."""
        return f"{self.noun} {self.owner}:{self.number}"

    def cells(self) -> dict[str, object]:
        """What is entered in it, by field; the painting or logger and empty fields are left out."""
        fields = [field.name for field in BY_NAME[f"{self.noun}s"].fields if field.name not in ("painting", "logger")]
        return {name: self.row[name] for name in fields if self.row[name] not in ("", None)}


def entries(studio: StudioFolder, noun: str, owner: str) -> list[RegisterRow]:
    """All rows of a noun that a painting (by id or words) or a logger (by id) has, the earliest first."""
    if noun not in DATED:
        raise BadInput(f"{noun!r} is none of {', '.join(DATED)}; a layer is corrected on the painting's page")
    by = "logger" if noun in ("hanging", "calibration") else "painting"
    owner = find_painting(studio, owner).id if by == "painting" else require_id("logger", owner, studio.loggers())
    table = BY_NAME[f"{noun}s"].table
    held = select(table).where(table.c[by] == owner).order_by(table.c[DATED[noun]], table.c.id)
    with studio.reading() as connection:
        rows = [row for row in connection.execute(held).mappings() if row.get("kind") != CORRECTION]
    return [RegisterRow(noun, owner, number, row) for number, row in enumerate(rows, 1)]


def find(studio: StudioFolder, noun: str, name: str) -> RegisterRow:
    """The row named `painting or logger:number`, or by a treatment's own id. NotThere: there is none, and which are."""
    owner, colon, number = name.rpartition(":")
    if noun == "treatment" and not colon:
        for painting in studio.paintings().values():
            if any(treatment.id == name for treatment in painting.treatments):
                return next(one for one in entries(studio, noun, painting.id) if one.row["id"] == name)
    there = entries(studio, noun, owner or name)
    if number.isdecimal() and colon and 1 <= int(number) <= len(there):
        return there[int(number) - 1]
    if not there:
        raise NotThere(f"{owner or name} has no {noun}", field=noun)
    raise NotThere(f"which {noun}? {there[0].owner}:1 to {there[0].owner}:{len(there)}", field=noun)


def correct(
    studio: StudioFolder, noun: str, name: str, cells: Mapping[str, str], *, because: str, on: str, by: str = ""
) -> list[str]:
    """Correct fields of a row; one line on each thing that changed, what followed from it last.

    Parameters
    ----------
    name : as for `find`. cells : columns of the noun's CSV file; those left out stay.
    because : the reason, kept. on : the day of the correction, such as "2026-11-02". by : who corrects.

    Raises
    ------
    NotThere : no such row. BadInput : a cell that cannot be, no reason, or nothing that differs; nothing changes then.
    """
    entry = find(studio, noun, name)
    new = _read(entry, cells)
    if "place" in new:
        require_id("place", str(new["place"]), studio.places())
    _reasoned(entry, because, by)
    differs = {field: value for field, value in new.items() if entry.row[field] != value}
    if not differs:
        raise BadInput("nothing differs from what the record has", place=entry.name)
    lines = [f"{k} {value_words(entry.row[k])}, now {value_words(v)}" for k, v in differs.items()]
    with studio.writing(f"correcting a {noun}"), studio.saving() as connection:
        _unchanged(connection, entry)
        connection.execute(update(entry.table).where(entry.table.c.id == entry.row["id"]).values(**differs))
        followed = _follow(connection, entry, differs)
        _keep(connection, entry, "; ".join(lines), because, on, by)
        checked(studio, connection)
    return lines + followed


def remove(studio: StudioFolder, noun: str, name: str, *, because: str, on: str, by: str = "") -> list[str]:
    """Take a row out of the record; what it was, and what followed. Parameters and errors as of `correct`."""
    entry = find(studio, noun, name)
    _reasoned(entry, because, by)
    was = ", ".join(f"{field} {value_words(value)}" for field, value in entry.cells().items() if field != "id")
    with studio.writing(f"removing a {noun}"), studio.saving() as connection:
        _unchanged(connection, entry)
        connection.execute(delete(entry.table).where(entry.table.c.id == entry.row["id"]))
        followed = _follow(connection, entry, None)
        _keep(connection, entry, f"removed: {was}", because, on, by)
        checked(studio, connection)
    return [was, *followed]


def _read(entry: RegisterRow, cells: Mapping[str, str]) -> dict[str, object]:
    fields = BY_NAME[f"{entry.noun}s"].fields
    return named_values((one for one in fields if one.name not in ("id", "painting", "logger")), cells, entry.name)


def _reasoned(entry: RegisterRow, because: str, by: str) -> None:
    if not because.strip():
        raise BadCell("is empty; say why, it is kept with the record", place=entry.name, field="because")
    rules = {field.name: field for field in BY_NAME["observations"].fields}
    values_of(((replace(rules["note"], name="because"), because), (rules["by"], by)), entry.name)


def _unchanged(connection: Connection, entry: RegisterRow) -> None:
    """BadInput: somebody else changed the row since it was looked at."""
    held = connection.execute(select(entry.table).where(entry.table.c.id == entry.row["id"])).mappings().first()
    if held is None or dict(held) != dict(entry.row):
        raise BadInput("was changed meanwhile; look at it again", place=entry.name)


def _follow(connection: Connection, entry: RegisterRow, differs: Mapping[str, object] | None) -> list[str]:
    """What follows from a changed (None: a removed) row, done and in words."""
    if entry.noun in SPANS:
        return _neighbours(connection, entry, differs)
    if entry.noun != "treatment":
        return []
    return _layers(connection, entry, differs) + _air_of_the_day(entry, differs or {})


def _air_of_the_day(entry: RegisterRow, differs: Mapping[str, object]) -> list[str]:
    """The room's air on record with a treatment was that of its old day, unless it was measured by hand."""
    air = [name for name in ("studio_temp_c", "studio_rh_percent") if entry.row[name] is not None]
    if "on" not in differs or not air or set(air) <= set(differs):
        return []
    stands = ", ".join(f"{name} {entry.row[name]}" for name in air)
    return [f"still on record: {stands}, of the old day; correct it too if that was the logger's"]


def _layers(connection: Connection, entry: RegisterRow, differs: Mapping[str, object] | None) -> list[str]:
    """The layers that a treatment left behind: those of its day and role, of its material or cloth."""
    row, lines, role = entry.row, [], role_of(str(entry.row["kind"]))
    others = select(entry.table).where(entry.table.c.painting == entry.owner, entry.table.c.id != row["id"])
    same_day = [other for other in connection.execute(others).mappings() if other["on"][:10] == str(row["on"])[:10]]
    if role is None or any(role_of(twin["kind"]) == role for twin in same_day):  # entered twice: they are the other's
        return []
    if differs and role_of(str(differs.get("kind", row["kind"]))) != role:
        raise BadInput(f"it left a {role} behind: remove it, and enter the other", place=entry.name, field="kind")
    of = {role: "material"} | ({Role.LINING_CANVAS: "cloth"} if role == Role.FILM else {})
    held = select(LAYERS).where(LAYERS.c.painting == entry.owner, LAYERS.c.role.in_(of))
    for layer in connection.execute(held).mappings().all():
        own = str(row[of[layer["role"]]] or "unknown")
        of_its_day = layer["applied_on"][:10] == str(row["on"])[:10]
        if not of_its_day or (layer["material"] != own and (layer["role"] == role or own != "unknown")):
            continue
        this = LAYERS.c.id == layer["id"]
        if differs is None:
            connection.execute(delete(LAYERS).where(this))
            lines.append(f"layer {layer['role']}, {value_words(layer['material'])}: taken out with it")
            continue
        new = {"applied_on": differs.get("on"), "material": differs.get(of[layer["role"]])}
        new = {name: value for name, value in new.items() if value}
        if new:
            connection.execute(update(LAYERS).where(this).values(**new))
            lines.append(f"layer {layer['role']}: " + ", ".join(f"{word(k)} {value_words(v)}" for k, v in new.items()))
    return lines


def _neighbours(connection: Connection, entry: RegisterRow, differs: Mapping[str, object] | None) -> list[str]:
    """The stay or hanging that ended where a row began, or began where it ended, goes on adjoining it."""
    table, row, lines = entry.table, entry.row, []
    same = ("painting",) if entry.noun == "stay" else ("logger", "channel")
    beside = [table.c[name] == row[name] for name in same] + [table.c.id != row["id"]]
    begin, end = str(row["from"]), str(row["to"])
    changes = [("to", begin, end if differs is None else differs.get("from"))]
    if differs is not None and end:
        changes.append(("from", end, differs.get("to")))
    for edge, was, now in changes:
        if now is None or now == was:
            continue
        for other in connection.execute(select(table).where(*beside, table.c[edge] == was)).mappings().all():
            connection.execute(update(table).where(table.c.id == other["id"]).values({edge: now}))
            lines.append(f"{entry.noun} in {other['place']} {'up to' if edge == 'to' else 'from'} {now or 'now'}")
    return lines


def _keep(connection: Connection, entry: RegisterRow, what: str, because: str, on: str, by: str) -> None:
    """What stood there, why and by whom it was changed."""
    line = f"{entry.noun}, {what}: {because.strip()}" + (f" ({by.strip()})" if by.strip() else "")
    if "painting" in entry.row:
        note(connection, entry.owner, on, line)
        return
    had = connection.execute(select(LOGGERS.c.note).where(LOGGERS.c.id == entry.owner)).scalar_one()
    text = "; ".join(part for part in (had, f"{on} {line}") if part)
    connection.execute(update(LOGGERS).where(LOGGERS.c.id == entry.owner).values(note=text))


__all__ = ["DATED", "RegisterRow", "correct", "entries", "find", "remove"]
