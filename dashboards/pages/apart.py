"""What is kept apart of a painting: who owns it, and what it is worth, each on a page where nothing else stands.

A sheet left lying, a screen in passing, tells who owns a picture, or where it hangs, or its worth; never two of them.
"""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from flask import current_app

from dashboards import components, guard
from dashboards.forms import unchanged, wire
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.archive.store.records import require_id
from envwatch.core.errors import NotThere
from envwatch.core.painting import Painting

PATH, NAME, UNDER = "/apart/", "", ()
KINDS = ("owner", "value")


def address(id: str, kind: str) -> str:
    """Where one of the two stands."""
    return f"{PATH}{kind}/{quote(id)}"


def layout(home: StudioSession, rest: str, _asked: dict[str, str]) -> html.Div:
    """The page of a painting's owner, or of its value, by its number. NotThere: no such number, or neither."""
    kind, _, id = rest.partition("/")
    with home.reading() as studio:
        if kind not in KINDS or id not in studio.paintings():
            raise NotThere(f"no painting has the number {id}")
        painting = studio.paintings()[id]
    value = painting.value_band if kind == "value" else ""
    return html.Div([
        html.H1(painting.title or "(no title)"),
        html.P([html.Span(painting.id, className="number"), dcc.Link("to its page", href=f"/painting/{quote(id)}")]),
        html.Div(_owner(painting), id="owner") if kind == "owner" else _value(painting),
        dcc.Store(id="apart-of", data={"id": painting.id, "value_band": value}),
    ])  # fmt: skip


def _owner(painting: Painting) -> Any:
    if not painting.owner:
        return html.P("No owner is entered.")
    if guard.owners_shown():
        return html.P(f"Owner: {painting.owner}")
    asks = bool(guard.door_of(current_app).passphrase_hash)
    word = dmc.PasswordInput(id="owner-word", label="passphrase", display="block" if asks else "none", w="14rem")
    return html.Div([word, components.button("owner-show", "show the owner", quiet=True), html.Span(id="owner-said")],
                    className="form inline")  # fmt: skip


def _value(painting: Painting) -> html.Details:
    return components.form("value", "Its value", "correct it", [
        components.field("value-value_band", "band of value, for the insurer", value=painting.value_band),
    ], "A letter or words of the studio's own; a band, never a sum.", opened=True)  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    app.callback(Output("owner", "children"), Output("owner-said", "children"), Input("owner-show", "n_clicks"),
                 State("owner-word", "value"), State("apart-of", "data"), prevent_initial_call=True)(show)  # fmt: skip
    wire(app, "value", ("value_band",), correct, whose="apart-of")


def show(clicks: int, word: str, of: dict[str, str]):
    """Show the owner's name, in this session."""
    wrong = guard.unlock(guard.door_of(current_app), word) if clicks else " "
    if wrong:
        return no_update, wrong
    with house().reading() as studio:
        return _owner(studio.paintings()[of["id"]]), ""


def correct(studio: Studio, of: dict[str, str], given: dict[str, str]) -> str:
    """Correct a painting's band of value."""
    with studio.writing("correcting a value"):
        painting = studio.paintings()[require_id("painting", of["id"], studio.paintings())]
        unchanged("it", of["value_band"], painting.value_band, given["value_band"], "value_band")
        studio.enter("painting", {"id": painting.id} | given)
    return "Corrected"
