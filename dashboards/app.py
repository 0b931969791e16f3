"""The app: its shell, the way from an address to a page, and the guard before it."""

from __future__ import annotations

import functools
import logging
from collections.abc import Callable
from pathlib import Path
from urllib.parse import parse_qsl, unquote

import dash_mantine_components as dmc
import pandas as pd
from dash import Dash, Input, Output, State, dcc, html, no_update, set_props
from flask import current_app

from dashboards import asking, guard, icon, memory, units
from dashboards.components import refusal
from dashboards.guard import Door
from dashboards.pages import (
    apart,
    drying,
    events,
    files,
    hanging,
    lining,
    looks,
    painting,
    paintings,
    places,
    week,
    why,
)
from dashboards.session import StudioSession, clock, house
from envwatch.core.errors import EnvwatchError
from envwatch.present.palette import DARK, LIGHT

LOG = logging.getLogger(__name__)
PAGES = (week, paintings, files, places, drying, hanging, lining)  # in the menu, in this order
BEHIND = (painting, why, apart)  # reached from those
INDEX = """<!DOCTYPE html>
<html lang="en"><head>{%metas%}<title>{%title%}</title>ICON{%css%}<style>COLOURS</style></head>
<body>{%app_entry%}<footer>{%config%}{%scripts%}{%renderer%}</footer></body></html>"""
WAITING = html.P("Reading the studio …", className="quiet")


def create_app(folder: Path | str, now: Callable[[], pd.Timestamp] = clock, door: Door | None = None) -> Dash:
    """The pages of one studio folder.

    Parameters
    ----------
    folder : a studio folder.
    now : the clock; by default the computer's.
    door : who may come in; by default whoever sits at this computer.

    Raises
    ------
    StudioError : not a studio folder, or one that cannot be opened.
    """
    app = Dash(
        "dashboards", title="envwatch", update_title="", serve_locally=True, add_log_handler=False,
        assets_folder=str(Path(__file__).parent / "assets"), pages_folder="", suppress_callback_exceptions=True,
        include_pages_meta=False,
        on_error=_told, meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
    )  # fmt: skip
    app.index_string = INDEX.replace("COLOURS", _colours()).replace("ICON", icon.LINK)
    app.server.config["HOUSE"] = StudioSession(folder, now)
    app.layout = _shell
    app.callback(Output("page", "children"), Output("menu", "children"), Output("name", "children"),
                 Input("url", "pathname"), Input("url", "search"), Input("again", "data"))(show)  # fmt: skip
    for page in (*PAGES, *BEHIND, looks, events):
        page.callbacks(app)
    asking.watch(app, (drying.PAGE, hanging.PAGE, lining.PAGE))
    _clientside(app)
    guard.keep(app.server, door or Door(), functools.cache(lambda: _policy(app)))
    units.keep(app)
    app.server.after_request(asking.called_as_here)
    icon.serve(app.server)
    app.server.teardown_request(memory.Freed().give_back)
    return app


def _shell() -> dmc.MantineProvider:
    theme = {"fontFamily": "inherit", "primaryColor": "dark", "defaultRadius": 0, "focusRing": "always",
             "headings": {"fontFamily": "inherit"}}  # fmt: skip
    return dmc.MantineProvider(
        [
            dcc.Location(id="url", refresh="callback-nav"),
            dcc.Store(id="again"),
            dcc.Store(id="scheme", storage_type="local"),
            dcc.Store(id="looker", storage_type="local"),  # who looks at paintings, on this browser
            html.A("to the content", href="#page", className="skip"),
            html.Header([
                html.Div([html.Span("envwatch", className="mark"), html.Span(id="name")], className="whose"),
                html.Nav(id="menu", **{"aria-label": "Pages"}),
                html.Div([html.Button("save this page", className="plain", type="button",
                                      title="one file to send, with all that is shown; opens anywhere, loads nothing",
                                      **{"data-save": "page"}),
                          *(html.Button(id=name, className="plain", type="button", n_clicks=0)
                            for name in ("units", "clock", "dark")), *_way_out()], className="shown-as noprint"),
            ]),
            html.Div(id="said", role="status", **{"aria-live": "polite"}),
            html.Main(WAITING, id="page", tabIndex=-1),
            html.Div(id="sink", hidden=True),
        ],
        id="look", theme=theme, defaultColorScheme="auto",
    )  # fmt: skip


def _way_out() -> list[html.Form]:
    """Where a passphrase was asked for, a way to leave, after which it is asked for again."""
    leave = html.Form(html.Button("leave", className="plain", type="submit"), action="/leave", method="POST")
    return [leave] if guard.door_of(current_app).passphrase_hash else []


def show(path: str, search: str, _again: int | None = None):
    """The page under an address, the menu with it marked, and the studio's name."""
    path = unquote(path or "/")
    return _page(path, dict(parse_qsl((search or "").lstrip("?")))), _menu(path), _name()


def _name() -> str:
    """The studio's name; nothing where another folder stands in its place, which the page says."""
    try:
        with house().reading() as studio:
            return studio.name
    except EnvwatchError:
        return ""


def _page(path: str, asked: dict[str, str]):
    try:
        return _asked_for(path, asked)
    except EnvwatchError as error:
        return html.Div([html.H1("That cannot be shown"), refusal(error), html.P(dcc.Link("To this week", href="/"))])


def _asked_for(path: str, asked: dict[str, str]):
    for page in (*PAGES, *BEHIND):
        if path == page.PATH or (page.PATH.endswith("/") and path.startswith(page.PATH) and len(page.PATH) > 1):
            return page.layout(house(), path[len(page.PATH) :], asked)
    return html.Div([html.H1("There is no such page"), html.P(dcc.Link("To this week", href="/"))])


def _menu(path: str) -> html.Ul:
    def here(page) -> dict[str, str]:
        own = path == page.PATH or any(path.startswith(start) for start in page.UNDER)
        return {"aria-current": "page"} if own else {}

    return html.Ul([html.Li(html.Span(dcc.Link(page.NAME, href=page.PATH), **here(page))) for page in PAGES])


def _told(error: Exception):
    """What went wrong in an answer, as one line at the top of the page; a fault of ours goes to the log whole."""
    if not isinstance(error, EnvwatchError):
        LOG.error("a fault in an answer", exc_info=error)
    fault = f"A fault in envwatch itself ({type(error).__name__})"
    set_props("said", {"children": refusal(error if isinstance(error, EnvwatchError) else fault)})
    return no_update


def _colours() -> str:
    def block(palette: dict[str, str]) -> str:
        return "".join(f"--{name}:{value};" for name, value in palette.items())

    return f":root{{{block(LIGHT)}}}@media screen{{[data-mantine-color-scheme=dark]{{{block(DARK)}}}}}"


def _clientside(app: Dash) -> None:
    """What the browser does by itself: the scheme, and where the focus goes after a change of page."""
    app.clientside_callback(
        "function(n, kept) { return window.envwatch.scheme(n, kept); }",
        Output("look", "forceColorScheme"), Output("dark", "children"), Output("scheme", "data"),
        Input("dark", "n_clicks"), State("scheme", "data"),
    )  # fmt: skip
    app.clientside_callback(
        "function(page) { return window.envwatch.arrived(); }", Output("sink", "children"), Input("page", "children")
    )


def _policy(app: Dash) -> str:
    """Nothing is loaded from elsewhere, nothing is sent elsewhere, no page elsewhere may frame this one."""
    scripts = " ".join(("'self'", *app.csp_hashes()))
    return (
        f"default-src 'self'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
        "font-src 'self' data:; connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    )
