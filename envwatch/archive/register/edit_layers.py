"""A layer of a painting's stack corrected, or taken out of it; what was there before stays told.

Each is kept as a correction among the treatments: a dated line that begins nothing anew and counts as no look.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from sqlalchemy import Connection, delete, insert, select, update

from envwatch.archive.register.csv_files import SHEETS, check, stored
from envwatch.archive.register.sheets import BY_NAME, named_values
from envwatch.archive.store.records import NOT_ENTERED, SIZE_TAKEN, require_id
from envwatch.archive.store.tables import LAYERS, TREATMENTS
from envwatch.core.errors import BadCell, BadInput, NotThere
from envwatch.core.painting import CORRECTION, Layer

if TYPE_CHECKING:
    from envwatch.archive.store.folder import StudioFolder

CHANGED = ("material", "area", "applied_on", "assumed", "note")


def change(studio: StudioFolder, painting_id: str, number: int, cells: Mapping[str, str], on: str) -> str:
    """Correct a layer by its number from the front, 1 first; what was changed, in a sentence.

    Parameters
    ----------
    cells : `material`, `area`, `applied_on`, `assumed`, `note` as in the register's CSV; those left out stay.
    on : the day of the correction, such as "2026-11-02".

    Raises
    ------
    NotThere : no such painting or layer. BadInput : a cell that cannot be, or nothing that differs.
    """
    told = f"layer {number} of {painting_id}"
    new = named_values((field for field in BY_NAME["layers"].fields if field.name in CHANGED), cells, told)
    with studio.writing("correcting a layer"), studio.saving() as connection:
        row = row_of(studio, connection, painting_id, number)
        differs = {name: value for name, value in new.items() if row[name] != value}
        if not differs:
            raise BadInput("nothing differs from what the record has", place=told)
        connection.execute(update(LAYERS).where(LAYERS.c.id == row["id"]).values(**differs))
        said = "; ".join(
            f"{word(name)} {value_words(row[name])}, now {value_words(value)}" for name, value in differs.items()
        )
        _noted(studio, connection, painting_id, on, f"layer {number}, {row['role']}: {said}")
    return said


def take_out(studio: StudioFolder, painting_id: str, number: int, because: str, on: str) -> str:
    """Take a layer out of the stack by its number from the front; which one, in words.

    Raises
    ------
    NotThere : no such painting or layer. BadInput : no reason, or the last layer.
    """
    if not because.strip():
        place = f"layer {number} of {painting_id}"
        raise BadCell("is empty; say why, it is kept with the painting", place=place, field="because")
    with studio.writing("taking out a layer"), studio.saving() as connection:
        row = row_of(studio, connection, painting_id, number)
        connection.execute(delete(LAYERS).where(LAYERS.c.id == row["id"]))
        what = f"{row['role']}, {value_words(row['material'])}"
        _noted(
            studio, connection, painting_id, on, f"layer {number}, {what}, taken out of the record: {because.strip()}"
        )
    return what


def entered(layer: Layer) -> bool:
    """Whether a layer stands in the record; one that is taken for granted beside it does not."""
    return not (layer.assumed and layer.note in (NOT_ENTERED, SIZE_TAKEN))


def row_of(studio: StudioFolder, connection: Connection, painting_id: str, number: int) -> Mapping:
    stack = studio.paintings()[require_id("painting", painting_id, studio.paintings())].layers
    if not 1 <= number <= len(stack):
        raise NotThere(f"{painting_id} has no layer {number}; there are {len(stack)}")
    if not entered(stack[number - 1]):
        raise BadInput(f"layer {number} of {painting_id} is taken for granted, not entered; add it as a layer")
    held = select(LAYERS).where(LAYERS.c.painting == painting_id).order_by(LAYERS.c.order)
    return connection.execute(held).mappings().all()[sum(map(entered, stack[: number - 1]))]


def word(name: str) -> str:
    return {"applied_on": "put on", "material": "of", "area": "where", "assumed": "assumed"}.get(name, name)


def value_words(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value).replace("_", " ") if value not in (None, "") else "not said"


def note(connection: Connection, painting_id: str, on: str, said: str) -> None:
    """The correction as a line among the treatments."""
    taken = set(connection.execute(select(TREATMENTS.c.id)).scalars())
    number = next(n for n in range(1, 10**9) if f"{painting_id}-c{n}" not in taken)
    empty = {field.name: field.empty for field in BY_NAME["treatments"].fields}
    own = {"id": f"{painting_id}-c{number}", "painting": painting_id, "kind": CORRECTION, "on": on, "note": said}
    connection.execute(insert(TREATMENTS).values(**(empty | own)))


def _noted(studio: StudioFolder, connection: Connection, painting_id: str, on: str, said: str) -> None:
    """The correction noted; everything the register must hold is looked at again."""
    note(connection, painting_id, on, said)
    check({sheet.name: stored(connection, sheet) for sheet in SHEETS}, studio.zone, studio.materials())


__all__ = ["CHANGED", "change", "entered", "note", "take_out", "value_words", "word"]
