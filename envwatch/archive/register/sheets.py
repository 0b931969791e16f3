"""The register as CSV files: which columns there are, and reading and writing them.

Every refusal is one line with file and row, and all are told at once. A column that is missing leaves what the
register has; one that is not known is left out by name, and refused where it may be a known one misspelt.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path

from sqlalchemy import Table

from envwatch.archive.store import tables
from envwatch.archive.store.files import Named, plain, write_whole
from envwatch.core import dates
from envwatch.core.errors import BadCell, BadInput, refuse
from envwatch.core.fields import (
    LINES,
    NUMBER,
    Field,
    cell_of,
    closed,
    day,
    file_name,
    ident,
    integer,
    labels,
    line,
    number,
    one_of,
    several,
    text,
    yes_no,
    zone,
)  # fmt: skip
from envwatch.core.painting import Area, CareStatus, Look, Margins, Role
from envwatch.core.place import AirEvent, Answer, PlaceKind, Placement
from envwatch.logs.quality.marks import MARKS

LARGEST_CELL = 1_000_000
clean, clean_or_year = closed(dates.clean), closed(dates.clean_or_year)


@dataclass(frozen=True)
class CsvTable:
    """One CSV file and the table it fills. `parent`: the column whose rows the file replaces as a whole."""

    name: str
    table: Table
    fields: tuple[Field, ...]
    parent: str = ""
    private: tuple[str, ...] = ()

    @property
    def file(self) -> str:
        return f"{self.name}.csv"


def _texts(*names: str) -> tuple[Field, ...]:
    return tuple(Field(one, text if one in LINES else line) for one in names)


def _size(name: str, high: float) -> Field:
    return Field(name, number(0, high), empty=None)


HEAT = number(-50, 400)
POSITION = Field("position", one_of(Placement), empty="unknown")
SHEETS = (
    CsvTable("places", tables.PLACES, (
        Field("id", ident, True), Field("name", line, True), Field("kind", one_of(PlaceKind), empty="other"),
        _size("volume_m3", 1e7), Field("outer_walls", integer(0, 20), empty=None),
        Field("altitude_m", number(-500, 9000), empty=None), Field("zone", zone), *_texts("note"))),
    CsvTable("loggers", tables.LOGGERS, (
        Field("id", ident, True), Field("name", line), Field("labels", labels), Field("zone", zone),
        Field("fetch_days", integer(1, 3660), empty=None), _size("temp_accuracy_c", 20),
        _size("rh_accuracy_percent", 50), Field("calibrated_on", day), *_texts("note"))),
    CsvTable("hangings", tables.HANGINGS, (
        Field("logger", ident, True), *_texts("channel"), Field("place", ident, True), POSITION,
        Field("from", clean, True), Field("to", clean)), parent="logger"),
    CsvTable("paintings", tables.PAINTINGS, (
        Field("id", ident, True), Field("title", line, True), *_texts("maker", "made"), _size("height_cm", 1e5),
        _size("width_cm", 1e5), _size("weight_kg", 1e5), *_texts("support"), Field("glazed", yes_no, empty=None),
        Field("backed", yes_no, empty=None), *_texts("stretcher"), _size("frame_depth_mm", 1e4),
        Field("tacking_margins", one_of(Margins), empty="unknown"), Field("owner", line),
        Field("care", one_of(CareStatus), empty=CareStatus.IN_STORE.value),
        Field("care_until", day), *_texts("ground", "varnish", "value_band")), private=("owner",)),
    CsvTable("layers", tables.LAYERS, (
        Field("painting", ident, True), Field("order", integer(0, 1000), True), Field("role", one_of(Role), True),
        Field("material", line, empty="unknown"), Field("area", one_of(Area), empty="whole"),
        Field("applied_on", clean_or_year), Field("assumed", yes_no, empty=None), *_texts("note")), parent="painting"),
    CsvTable("treatments", tables.TREATMENTS, (
        Field("id", ident, True), Field("painting", ident, True), Field("kind", line, True),
        Field("on", clean_or_year, True), *_texts("material"), Field("end", clean),
        Field("temp_interface_c", HEAT, empty=None), *_texts("note", "layer", "family", "form", "batch", "carrier"),
        _size("solids_percent", 100), _size("bloom", 600), _size("thickness_um", 1e5),
        Field("coats", integer(0, 100), empty=None), _size("amount_g_m2", 1e5), *_texts("side", "cloth"),
        Field("temps_interface_c", several(HEAT)), _size("heating_min", 1e5), _size("hold_min", 1e5),
        _size("cooling_min", 1e5), _size("pressure_mbar", 1e5), _size("weight_g_cm2", 1e5), _size("drying_h", 1e5),
        *_texts("peel_trial"), Field("strip_kept", yes_no, empty=None),
        Field("studio_temp_c", number(-50, 60), empty=None), _size("studio_rh_percent", 100),
        _size("weight_after_kg", 1e5), Field("inspection_days", several(integer(0, 3660))),
        *_texts("limits_told", "removal"))),
    CsvTable("stays", tables.STAYS, (
        Field("painting", ident, True), Field("place", ident, True), POSITION, Field("from", clean, True),
        Field("to", clean), Field("intended", yes_no, empty=None), *_texts("purpose")), parent="painting"),
    CsvTable("observations", tables.OBSERVATIONS, (
        Field("painting", ident, True), Field("on", clean, True), Field("sign", text, True), *_texts("where"),
        Field("finding", integer(1, 10**9), empty=None), Field("confirms", yes_no, empty=None), *_texts("note"),
        Field("photo", file_name), Field("look", one_of(Look), empty="unknown"), *_texts("by")), parent="painting"),
    CsvTable("calibrations", tables.CALIBRATIONS, (
        Field("logger", ident, True), *_texts("channel"), Field("on", clean, True),
        *(_size(f"rh_{what}_{end}", 110) for end in ("low", "high") for what in ("true", "read")),
        Field("temp_true_c", HEAT, empty=None), Field("temp_read_c", HEAT, empty=None), _size("temp_accuracy_c", 20),
        _size("rh_accuracy_percent", 50), Field("due", clean), *_texts("basis", "note")), parent="logger"),
    CsvTable("stand_ins", tables.STAND_INS, (
        Field("place", ident, True), Field("neighbour", ident, True), Field("from", clean, True), Field("to", clean),
        Field("temp_u_c", number(0, 20), True), Field("rh_u_percent", number(0, 50), True), *_texts("note")),
        parent="place"),
    CsvTable("mark_answers", tables.MARK_ANSWERS, (
        Field("logger", ident, True), *_texts("channel"), Field("mark", one_of(MARKS)),
        Field("from", clean, True), Field("to", clean), Field("answer", one_of(Answer), True),
        Field("by", line, True), Field("on", day, True), Field("because", text, True)), parent="logger"),
    CsvTable("causes", tables.CAUSES, (
        Field("place", ident, True), Field("kind", one_of(AirEvent), True), Field("from", clean, True),
        Field("to", clean, True), Field("cause", text, True), *_texts("by"), Field("on", day, True)), parent="place"),
)  # fmt: skip
BY_NAME = {sheet.name: sheet for sheet in SHEETS}


@dataclass
class CsvRow:
    """One row, with the place to name when something is wrong with it; `whole`: each of its cells could be read."""

    values: dict[str, object]
    where: str = ""
    whole: bool = True

    def __getitem__(self, name: str):
        return self.values[name]


@dataclass
class Sheet:
    """What one CSV file holds.

    Attributes
    ----------
    rows : each by its own; a cell that cannot be read is as if it were empty.
    faults : what is wrong with the file or its cells.
    left_out : headers of columns that the register does not have.
    read_as : cells whose writing was understood, by column: (as it stood, as it is kept).
    """

    rows: list[CsvRow] = field(default_factory=list)
    faults: list[BadInput] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    read_as: dict[str, list[tuple[str, str]]] = field(default_factory=dict)


def read_sheet(path: Path, sheet: CsvTable) -> Sheet:
    """All rows of one CSV file, each cell checked by itself. Nothing is raised: what is wrong stands in `faults`."""
    held = Sheet()
    try:
        with_header = _cells(path)
        if not with_header:
            names = ",".join(f.name for f in sheet.fields)
            raise BadInput(f"is empty; it needs the header row {names}", place=path.name)
        (_, header), *lines = with_header
        fields = _fields(path.name, [cell.strip() for cell in header], sheet, held)
    except BadInput as error:
        held.faults.append(error)
        return held
    for row, cells in lines:
        if any(cell.strip() for cell in cells):
            _read_row(f"{path.name}, row {row}", cells, fields, held)
    return held


def _cells(path: Path) -> list[tuple[int, list[str]]]:
    """(row as a spreadsheet numbers it, its cells). A spreadsheet may have written `;` for the comma."""
    content = _content(path)
    head = content.partition("\n")[0]
    delimiter = ";" if ";" in head and "," not in head else ","
    before = csv.field_size_limit(LARGEST_CELL)
    try:
        return list(enumerate(csv.reader(io.StringIO(content, newline=""), delimiter=delimiter, strict=True), 1))
    except csv.Error as error:
        raise BadInput(f"is not a CSV file ({error}); save it again as CSV UTF-8", place=path.name) from error
    finally:
        csv.field_size_limit(before)  # it holds for the whole program


def _content(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadInput("is not UTF-8; save it as CSV UTF-8", place=path.name) from error
    except OSError as error:
        raise BadInput(f"cannot be read ({plain(error)})", place=path) from error


def _fields(file: str, header: list[str], sheet: CsvTable, held: Sheet) -> list[Field | None]:
    """The field of each column, also of one misspelt; None: it is left out. BadInput: a needed one is not there."""
    known, where = {field.name: field for field in sheet.fields}, f"{file}, row 1"
    fields = []
    for name in header:
        folded = name.casefold().replace(" ", "_")
        meant = _meant(folded, list(known))
        fields.append(known.get(meant))
        if not meant:
            held.left_out.append(name)
        elif meant != folded:
            told = f"column {name!r} is not known; did you mean {meant!r}? Call it so, or take it out"
            held.faults.append(BadInput(told, place=where))
        elif fields.count(known[meant]) > 1:
            held.faults.append(BadInput(f"column {name!r} stands there twice", place=where))
    missing = [field.name for field in sheet.fields if field.needed and field not in fields]
    if missing:
        raise BadInput(f"column {missing[0]!r} is missing; the columns are {', '.join(known)}", place=where)
    return fields


def _meant(name: str, known: list[str]) -> str:
    """The column that a header means: by its name, its letters in another order, its beginning, or nearly; or none."""
    alike = [one for one in known if sorted(one) == sorted(name) or one.startswith(f"{name}_")]
    near = [one for one in known if one == name] or alike or get_close_matches(name, known, 1, 0.75)
    return near[0] if near else ""


def _read_row(where: str, cells: list[str], fields: list[Field | None], held: Sheet) -> None:
    if len(cells) != len(fields):
        told = f"{len(cells)} cells under {len(fields)} columns; a comma too many or a quote missing?"
        held.faults.append(BadInput(told, place=where))
        return
    given = [(field, cell.strip()) for field, cell in zip(fields, cells, strict=True) if field is not None]
    values, faults = _values(given, where)
    held.faults += faults
    held.rows.append(CsvRow(values, where, not faults))
    if faults:
        return
    for column, cell in given:
        kept = cell_of(values[column.name])
        if cell and column.nameless and not NUMBER.fullmatch(cell) and kept.casefold() != cell.casefold():
            held.read_as.setdefault(column.name, []).append((cell, kept))


def _values(cells: Iterable[tuple[Field, str]], where: str) -> tuple[dict[str, object], list[BadInput]]:
    """What the register keeps of cells, by field, and what is wrong with those that cannot be."""
    values, faults = {}, []
    for column, cell in cells:
        try:
            values[column.name] = column.value(cell)
        except ValueError as error:
            values[column.name] = column.empty
            faults.append(BadCell(str(error), place=where, field=column.name))
    return values, faults


def values_of(cells: Iterable[tuple[Field, str]], where: str) -> dict[str, object]:
    """What the register keeps of cells, by field. BadCell: one that cannot be; Faults: several."""
    values, faults = _values(cells, where)
    refuse(faults)
    return values


def named_values(fields: Iterable[Field], cells: Mapping[str, str], where: str) -> dict[str, object]:
    """What the register keeps of cells given by name. BadInput: no such field; else as `values_of`."""
    known = {field.name: field for field in fields}
    for name in cells:
        if name not in known:
            raise BadInput(f"no field {name!r}; there is {', '.join(known)}", place=where)
    return values_of(((known[name], cell) for name, cell in cells.items()), where)


def write_sheet(path: Path, sheet: CsvTable, rows: Iterable[Mapping[str, object]], private: bool, named: Named) -> None:
    """Write one CSV file whole; private columns only when asked for. named : as for `disk.write_whole`."""
    names = [field.name for field in sheet.fields if private or field.name not in sheet.private]
    write_whole(path, as_csv(names, rows), named=named)


def as_csv(names: Sequence[str], rows: Iterable[Mapping[str, object]]) -> bytes:
    """Rows as a CSV file; text that a spreadsheet would run is made harmless."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([cell_of(row[name]) for name in names] for row in rows)
    return out.getvalue().encode("utf-8")
