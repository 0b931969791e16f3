"""Paintings: the register, to sort, to filter, to search."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html

from dashboards import components, guard
from dashboards.forms import pressed, wire
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.cases.review import PaintingLine, Review
from envwatch.core.dates import day_of
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import Level
from envwatch.core.painting import CareStatus, Painting, Role

PATH, NAME, UNDER = "/paintings", "Paintings", ("/painting/",)
NEW = ("id", "title", "maker", "made", "care")
COLUMNS = {
    "title": "title",
    "level": "how it is",
    "where": "where",
    "care": "care",
    "glued": "bound with",
    "lined": "lined on",
}
FILTERED = {"word": "how it is", "where": "where", "care": "care", "glued": "bound with"}
NOTHING = "(nothing)"
FIRST = [["level", True]]  # sorted by, and whether downwards
ALL_ROWS = {"sort": "all"}
MOST = 60  # rows at first: the browser needs seconds for a thousand

Row = dict[str, Any]


def layout(home: StudioSession, _rest: str, _asked: dict[str, str]) -> html.Div:
    """The register."""
    with home.reading() as studio:
        if not studio.paintings():
            return _empty()
    rows, shown = _rows(home)
    label = f"How they are: as judged for {shown.period.label}." if shown else ""
    return html.Div([
        html.H1("Paintings"),
        html.P([html.Span("Click a title for its page; a heading sorts. ", className="noprint"), label],
               className="quiet"),
        html.Div([
            dmc.TextInput(id="find", label="Search", placeholder="title, number, place, word", w="100%", maw="24rem"),
            components.more("Filter by column", html.Div([_filter(*column, rows) for column in FILTERED.items()],
                                                         className="fields")),
        ], className="form noprint"),
        dcc.Store(id="sorted", data=FIRST),
        html.Div(_table(_sorted(rows, FIRST), FIRST), id="register", className="register"),
        components.section("Enter", _new_form()),
    ])  # fmt: skip


def _filter(field: str, label: str, rows: list[Row]) -> dmc.MultiSelect:
    words = dict.fromkeys(
        row[field] or NOTHING for row in _sorted(rows, [["level" if field == "word" else field, False]])
    )
    return dmc.MultiSelect(id={"filter": field}, label=label, data=list(words), searchable=True, clearable=True)


def _rows(home: StudioSession) -> tuple[list[Row], Review | None]:
    """All paintings of the register, and the review by which they are judged, if there is one."""
    with home.reading() as studio:
        try:
            shown = home.review()
        except NotThere:
            shown = None
        lines = {line.id: line for line in shown.judged} if shown else {}
        profiles = studio.materials()
        return [_row(one, shown, lines.get(one.id), profiles) for one in studio.paintings().values()], shown


def _table(rows: list[Row], order: list[list[Any]], whole: bool = False) -> html.Div | html.P:
    if not rows:
        return html.P("No painting of the register is like that.", role="status")
    if len(rows) > MOST and not whole:
        words = f"The first {MOST} of {len(rows)} paintings, here, on paper and in what is saved: "
        every = html.Button("show them all", id=ALL_ROWS, n_clicks=0, className="plain", type="button")
        return html.Div([html.P([words, every], className="quiet"), _table(rows[:MOST], order)])
    body = [(_entry(row), _level(row), *(row[field] for field in tuple(COLUMNS)[2:])) for row in rows]
    return components.table([_head(field, *order[0]) for field in COLUMNS], body, "paintings", numbers=False)


def _head(field: str, by: str, down: bool) -> html.Button:
    arrow = [html.Span(" ↓" if down else " ↑", title=f"sorted {'down' if down else 'up'}wards")] if field == by else []
    name = html.Span(COLUMNS[field], **{"data-csv": ""})
    return html.Button([name, *arrow], id={"sort": field}, n_clicks=0, className="plain", type="button")


def _entry(row: Row) -> html.Div:
    link = html.Span(components.painting_link(row["id"], row["title"]), **{"data-csv": ""})
    more = ", ".join(part for part in (row["id"], row["maker"]) if part)
    return html.Div([link, html.Div(more, className="quiet")], className="entry")


def _level(row: Row) -> html.Span:
    mark = [components.shape(Level(row["level"]))] if row["level"] >= 0 else []
    return html.Span([*mark, html.Span(row["word"], className="word")], className="level")


def _sorted(rows: list[Row], order: list[list[Any]]) -> list[Row]:
    """By the first of the order; where that is equal, by the next."""
    for field, down in reversed(order):
        rows = sorted(rows, key=lambda row: row[field] if field == "level" else row[field].casefold(), reverse=down)
    return rows


def _readable(home: StudioSession) -> Callable[[str], str]:
    """How a row is searched: without owners' names, in whatever text they stand, unless this session shows owners."""
    if guard.owners_shown():
        return str
    with home.reading() as studio:
        return studio.names().hide


def _kept(
    rows: list[Row], words: str, wanted: dict[str, list[str] | None], readable: Callable[[str], str] = str
) -> list[Row]:
    """The rows that hold all the words somewhere, and in each filtered column one of what was chosen."""
    parts = (words or "").casefold().split()

    def holds(row: Row) -> bool:
        if any(some and (row[field] or NOTHING) not in some for field, some in wanted.items()):
            return False
        text = " ".join(readable(str(cell)) for cell in row.values()).casefold() if parts else ""
        return all(part in text for part in parts)

    return [row for row in rows if holds(row)]


def _empty() -> html.Div:
    return html.Div([
        html.H1("Paintings"),
        html.P("No paintings yet."),
        html.P(["First: ", dcc.Link("bring in a logger's files", href="/files"), ". Then enter the paintings: "
                "envwatch import reads them from tables (places.csv, paintings.csv, layers.csv, stays.csv), or:"]),
        _new_form(),
    ], className="empty")  # fmt: skip


def _new_form() -> html.Details:
    return components.form("new", "A new painting", "enter it", [
        components.field("new-id", "its number", placeholder="26-15"), components.field("new-title", "title"),
        components.field("new-maker", "maker"), components.field("new-made", "made"),
        components.choice("new-care", "care", [(c.value, c.value) for c in CareStatus], CareStatus.IN_STUDIO.value),
    ], "Its layers, its treatments and where it stands are entered on its own page.")  # fmt: skip


def enter_new(studio: Studio, _whose: str, given: dict[str, str]) -> str:
    """Enter a new painting."""
    with studio.writing("entering a painting"):
        if given["id"] in studio.paintings():
            raise BadInput(f"id {given['id']!r} is taken; give it another number", field="id", place="painting")
        studio.enter("painting", given)
    return f"Entered: {given['title'] or given['id']}"


def _row(painting: Painting, shown: Review | None, line: PaintingLine | None, profiles: Any) -> Row:
    lined = painting.lined_on
    glued = dict.fromkeys(layer.material for layer in painting.layers if layer.role in (Role.FILM, Role.IMPREGNATION))
    return {
        "title": painting.title, "id": painting.id,
        "maker": ", ".join(part for part in (painting.maker, painting.made) if part),
        "level": -1 if line is None else int(line.level), "word": _word(line),
        "where": _left_out(painting, shown) if line is None else line.where, "care": painting.care.value,
        "lined": "" if lined is None else _lined(painting, shown.period.zone if shown else "UTC"),
        "glued": ", ".join(profiles[key].short if key in profiles else key for key in glued),
    }  # fmt: skip


def _lined(painting: Painting, zone: str) -> str:
    return day_of(painting.lined_on, zone)[: 4 if painting.lined_year_only else 10]


def _word(line: PaintingLine | None) -> str:
    """How it is, as the week's page counts it: what only waits for its record to grow is no blank of a logger."""
    if line is None:
        return "not judged"
    return "not decided on every count yet" if line.level is Level.UNKNOWN and line.only_waits else line.level.word


def _left_out(painting: Painting, shown: Review | None) -> str:
    return next((why for title, why in shown.left_out if title == painting.title), "") if shown else ""


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    wire(app, "new", NEW, enter_new)
    app.callback(Output("register", "children"), Output("sorted", "data"), Input("find", "value"),
                 Input({"filter": ALL}, "value"), Input({"sort": ALL}, "n_clicks"), State({"filter": ALL}, "id"),
                 State("sorted", "data"), prevent_initial_call=True)(find)  # fmt: skip


def find(words: str, picked: list, _clicks: list, filters: list[dict], order: list):
    """The rows that hold all the words and what was picked, in the order asked for."""
    order = sort_by(order, pressed())
    wanted = dict(zip((one["filter"] for one in filters), picked, strict=True))
    rows = _sorted(_kept(_rows(house())[0], words, wanted, _readable(house())), order)
    return _table(rows, order, pressed() == ALL_ROWS), order


def sort_by(order: list[list[Any]], heading: dict[str, str] | None) -> list[list[Any]]:
    """A heading sorts by itself, and turned round when it did already; what it sorted by before decides between equals.

    >>> sort_by([["level", True]], {"sort": "care"})
    [['care', False], ['level', True]]
    >>> sort_by([["care", False], ["level", True]], {"sort": "care"})
    [['care', True], ['level', True]]
    """
    if heading is None or "sort" not in heading or heading == ALL_ROWS:
        return order
    field = heading["sort"]
    down = not order[0][1] if order[0][0] == field else field == "level"
    return [[field, down], *(one for one in order if one[0] != field)]
