"""The register as CSV files: which columns there are, and reading and writing them.

Every refusal is one line with file and row. A column that is missing leaves what the register has; one that
is not known is refused, so that a misspelt header cannot lose a column.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Table

from envwatch.archive.store import tables
from envwatch.archive.store.files import Named, plain, write_whole
from envwatch.core import dates
from envwatch.core.errors import BadCell, BadInput
from envwatch.core.fields import (
    LINES,
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
clean = closed(dates.clean)


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
        Field("applied_on", clean), Field("assumed", yes_no, empty=None), *_texts("note")), parent="painting"),
    CsvTable("treatments", tables.TREATMENTS, (
        Field("id", ident, True), Field("painting", ident, True), Field("kind", line, True),
        Field("on", clean, True), *_texts("material"), Field("end", clean),
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
    """One row, with the place to name when something is wrong with it."""

    values: dict[str, object]
    where: str = ""

    def __getitem__(self, name: str):
        return self.values[name]


def read_sheet(path: Path, sheet: CsvTable) -> list[CsvRow]:
    """All rows of one CSV file, each cell checked by itself. BadInput: the first thing that is wrong."""
    with_header = _cells(path)
    if not with_header:
        raise BadInput(f"is empty; it needs the header row {','.join(f.name for f in sheet.fields)}", place=path.name)
    (_, header), *lines = with_header
    fields = _fields(path.name, [cell.strip() for cell in header], sheet)
    return [_row(path.name, line, cells, fields) for line, cells in lines if any(cell.strip() for cell in cells)]


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


def _fields(file: str, header: list[str], sheet: CsvTable) -> list[Field]:
    known = {field.name: field for field in sheet.fields}
    for name in header:
        if name not in known:
            raise BadInput(f"{file}, row 1: column {name!r} is not known; the columns are {', '.join(known)}")
        if header.count(name) > 1:
            raise BadInput(f"{file}, row 1: column {name!r} stands there twice")
    missing = [field.name for field in sheet.fields if field.needed and field.name not in header]
    if missing:
        raise BadInput(f"{file}, row 1: column {missing[0]!r} is missing; the columns are {', '.join(known)}")
    return [known[name] for name in header]


def _row(file: str, line: int, cells: list[str], fields: list[Field]) -> CsvRow:
    where = f"{file}, row {line}"
    if len(cells) != len(fields):
        raise BadInput(
            f"{len(cells)} cells under {len(fields)} columns; a comma too many or a quote missing?", place=where
        )
    return CsvRow(values_of(zip(fields, cells, strict=True), where), where)


def values_of(cells: Iterable[tuple[Field, str]], where: str) -> dict[str, object]:
    """What the register keeps of cells, by field. BadCell: one that cannot be."""
    values = {}
    for field, cell in cells:
        try:
            values[field.name] = field.value(cell)
        except ValueError as error:
            raise BadCell(str(error), place=where, field=field.name) from None
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
