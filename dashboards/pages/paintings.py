"""Paintings: the register, to sort, to filter, to search."""

from __future__ import annotations

from typing import Any

import dash_ag_grid as dag
import dash_mantine_components as dmc
from dash import Dash, Input, Output, dcc, html, no_update

from dashboards import components
from dashboards.forms import wire
from dashboards.session import House
from envwatch.archive import Studio
from envwatch.cases.review import PaintingLine, Review
from envwatch.core.errors import BadInput, NotThere
from envwatch.core.findings import Level
from envwatch.core.painting import CareStatus, Painting

PATH, NAME, UNDER = "/paintings", "Paintings", ("/painting/",)
NEW = ("id", "title", "maker", "made", "care")
WRAPS = {"wrapText": True, "autoHeight": True}
COLUMNS = [
    {"field": "title", "headerName": "title", "minWidth": 180, "flex": 3, "cellRenderer": "PaintingLink", **WRAPS},
    {"field": "level", "headerName": "how it is", "minWidth": 135, "flex": 2, "cellRenderer": "LevelWord", **WRAPS,
     "sort": "desc", "filter": True, "filterValueGetter": {"function": "params.data.word"},
     "getQuickFilterText": {"function": "params.data.word"}},
    {"field": "where", "headerName": "where", "minWidth": 190, "flex": 3, "filter": True, **WRAPS},
    {"field": "care", "headerName": "care", "minWidth": 130, "flex": 2, "filter": True, **WRAPS},
    {"field": "glued", "headerName": "bound with", "minWidth": 140, "flex": 2, "filter": True, **WRAPS},
    {"field": "lined", "headerName": "lined on", "width": 125},
    {"field": "id", "headerName": "no.", "hide": True},
    {"field": "maker", "headerName": "maker", "hide": True},
]  # fmt: skip


def layout(home: House, _rest: str, _asked: dict[str, str]) -> html.Div:
    """The register."""
    with home.reading() as studio:
        if not studio.paintings():
            return _empty()
        try:
            shown = home.review()
        except NotThere:
            shown = None
        profiles = studio.materials()
        rows = [_row(painting, shown, profiles) for painting in studio.paintings().values()]
    label = f"How they are: as judged for {shown.period.label}." if shown else ""
    return html.Div([
        html.H1("Paintings"),
        html.P([html.Span("Click a title for its page; a heading sorts. ", className="noprint"), label],
               className="quiet"),
        dmc.TextInput(id="find", label="Search", placeholder="title, number, place, word", w="100%", maw="24rem",
                      className="noprint"),
        dag.AgGrid(
            id="register", rowData=rows, columnDefs=COLUMNS, className="register",
            defaultColDef={"sortable": True, "resizable": True, "suppressHeaderMenuButton": True},
            dashGridOptions={"domLayout": "autoHeight", "animateRows": False, "includeHiddenColumnsInQuickFilter": True,

                             "theme": {"function": "envwatchTheme(themeQuartz)"},
                             "pagination": len(rows) > 60, "paginationPageSize": 50},
            style={"width": "100%", "height": None},
        ),
        html.Div(html.Button("save as CSV", id="register-csv", className="plain", type="button", n_clicks=0),
                 className="actions noprint"),
        components.section("Enter", _new_form()),
    ])  # fmt: skip


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
    if given["id"] in studio.paintings():
        raise BadInput(f"painting: id {given['id']!r} is taken; give it another number")
    studio.enter("painting", given)
    return f"Entered: {given['title'] or given['id']}"


def _row(painting: Painting, shown: Review | None, profiles: Any) -> dict[str, Any]:
    line = _line(painting, shown)
    lined = painting.lined_on
    glued = dict.fromkeys(layer.material for layer in painting.layers if layer.role in ("film", "impregnation"))
    return {
        "title": painting.title, "id": painting.id,
        "maker": ", ".join(part for part in (painting.maker, painting.made) if part),
        "level": -1 if line is None else int(line.level), "word": _word(line),
        "where": _left_out(painting, shown) if line is None else line.where, "care": painting.care.value,
        "lined": "" if lined is None else f"{lined.tz_convert(shown.period.zone if shown else 'UTC'):%Y-%m-%d}",
        "glued": ", ".join(profiles[key].short if key in profiles else key for key in glued),
    }  # fmt: skip


def _word(line: PaintingLine | None) -> str:
    """How it is, as the week's page counts it: what only waits for its record to grow is no blank of a logger."""
    if line is None:
        return "not judged"
    return "not decided on every count yet" if line.level is Level.UNKNOWN and line.only_waits else line.level.word


def _left_out(painting: Painting, shown: Review | None) -> str:
    return next((why for title, why in shown.left_out if title == painting.title), "") if shown else ""


def _line(painting: Painting, shown: Review | None) -> PaintingLine | None:
    return next((line for line in shown.judged if line.id == painting.id), None) if shown else None


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    wire(app, "new", NEW, enter_new)
    app.callback(Output("register", "dashGridOptions"), Input("find", "value"), prevent_initial_call=True)(find)
    app.clientside_callback(
        "function(n) { if (n) window.envwatch.register(); return ''; }",
        Output("sink", "title"), Input("register-csv", "n_clicks"), prevent_initial_call=True,
    )  # fmt: skip


def find(words: str):
    """Show the rows that hold all the words."""
    from dash import Patch

    options = Patch()
    options["quickFilterText"] = words or ""
    return options if words is not None else no_update
