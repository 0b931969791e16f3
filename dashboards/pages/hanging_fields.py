"""The questions of *Where to hang*: what decides most first, the rest where it could still change the answer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from dash import dcc, html

from dashboards import components
from dashboards.asking import Fields
from dashboards.sketches import sketch
from envwatch.archive import Studio
from envwatch.cases.fields.hanging import INPUTS
from envwatch.cases.fields.positions import HOUSE, LENGTHS, POSITION
from envwatch.cases.hanging.questions import OF_SIX, SIX
from envwatch.core.errors import BadInput

MOST_SPOTS, FIRST_SPOTS = 8, 2
TOP, LOGGERS, HEATING = tuple(INPUTS), ("place", "outdoors"), (*OF_SIX["heating"], "moisture")
ASKED = {key: names for key, names in OF_SIX.items() if key != "heating"}
HOUSE_REST = tuple(name for name, one in HOUSE.items() if one.words and name not in (*LOGGERS, *HEATING))
REST = (
    "room", "log", "log_here", "construction", "thickness", "wall_lined", "corner", "wall_c", "wall_room_c",
    "wall_out_c", "radiator_above", "radiator_aside", "radiator_w_per_m", "fire_reading_c", "window", "window_faces",
    "curtain", "window_depth", "window_aside", "window_width", "window_head", "window_sill", "lux", "lux_hours", "lamp",
    "lamp_lux", "lamp_hours", "standoff", "depth", "board", "glazed", "fixing",
)  # fmt: skip
OF_HOUSE = (*LOGGERS, *HEATING, *HOUSE_REST)
OF_SPOT = ("name", *(name for names in ASKED.values() for name in names), *REST)
QUESTION = dict(SIX)
ALL = INPUTS | HOUSE | POSITION | LENGTHS


def label(name: str) -> str:
    """The words over a field by its name in an address; "" where there is no such field."""
    one = ALL.get(name.rpartition(".")[2]) if name in TOP or "." in name else None
    return one.words if one else ""


def ids(spots: int) -> list[str]:
    """The names of all fields as they stand in an address, for so many positions."""
    return [
        *TOP,
        *(f"h.{name}" for name in OF_HOUSE),
        *(f"{n}.{name}" for n in range(1, spots + 1) for name in OF_SPOT),
    ]


def id_of(name: str) -> dict[str, str]:
    """The id of a field on the page."""
    return {"hang": name}


def spots_of(asked: Mapping[str, str]) -> int:
    """How many positions an address has fields for.

    Raises
    ------
    BadInput : more than the page has.
    """
    told = max((int(name.split(".")[0]) for name in asked if re.match(r"\d+\.", name)), default=0)
    wanted = int(asked["spots"]) if asked.get("spots", "").isdigit() else 0
    if max(told, wanted) > MOST_SPOTS:
        raise BadInput(f"{max(told, wanted)} positions: {MOST_SPOTS} at most here; envwatch hang takes a file of more")
    return max(told, wanted, FIRST_SPOTS)


def known(asked: Mapping[str, str]) -> dict[str, str]:
    """What of an address is asked of this page."""
    names = {*ids(MOST_SPOTS), "ask", "spots", "log", "at", "zone", "start"}
    return {name: text for name, text in asked.items() if name in names and text}


def rows_of(asked: Mapping[str, str]) -> tuple[dict[str, str], list[dict[str, str]]]:
    """House and positions out of an address, by the names of the CSV form; {} for a position that says nothing."""
    house = {name: asked[f"h.{name}"] for name in OF_HOUSE if asked.get(f"h.{name}")}
    return house, [
        {name: asked[f"{n}.{name}"] for name in OF_SPOT if asked.get(f"{n}.{name}")}
        for n in range(1, spots_of(asked) + 1)
    ]


def asked_of(house: Mapping[str, str], rows: Iterable[Mapping[str, str]]) -> dict[str, str]:
    """House and positions as an address holds them."""
    out = {f"h.{name}": text for name, text in house.items()}
    for n, row in enumerate(rows, 1):
        out |= {f"{n}.{name}": text for name, text in row.items()}
    return out


# -------------------------------------------------------------------------------------------------------- the form


def form(studio: Studio, asked: Mapping[str, str], faults: Mapping[str, str], wanted: Mapping[str, set[str]]) -> Any:
    """All questions with what was answered. `wanted`: by position's name, fields that could still change the answer."""
    spots = spots_of(asked)
    ask = Fields(ALL, id_of, asked, faults, studio, placeholder="not known")
    return html.Section([
        html.H2("What is asked"),
        html.Div([ask(name) for name in TOP], className="fields"),
        html.H3("The house"),
        _question("heating", [ask(f"h.{name}") for name in HEATING]),
        _of_house(ask, asked),
        *(_spot(n, ask, asked, faults, wanted.get(asked.get(f"{n}.name", ""), set())) for n in range(1, spots + 1)),
        html.Div([components.button("hang-go", "judge them"),
                  components.button("hang-another", "one more position", quiet=True) if spots < MOST_SPOTS else None],
                 className="actions"),
        html.Div(id="hang-said"),
        _from_file(),
    ], className="form noprint asks")  # fmt: skip


def _question(key: str, fields: list) -> html.Div:
    return html.Div([sketch(key), html.Div([html.P(QUESTION[key]), html.Div(fields, className="fields")])],
                    className="question-row")  # fmt: skip


def _of_house(ask: Fields, asked: Mapping[str, str]) -> html.Details:
    more = [f"h.{name}" for name in (*LOGGERS, *HOUSE_REST)]
    return html.Details([
        html.Summary("More of the house: its loggers, where it stands"),
        html.Div([*map(ask, more)], className="fields"),
    ], className="form", open=any(map(asked.get, more)))  # fmt: skip


def _spot(n: int, ask: Fields, asked: Mapping[str, str], faults: Mapping[str, str], wanted: set[str]) -> html.Fieldset:
    told = [name for name in REST if asked.get(f"{n}.{name}") or faults.get(f"{n}.{name}")]
    more = "More of it, where it could still change the answer" + (": see Find out above" if wanted else "")
    return html.Fieldset(id=f"position-{n}", children=[
        html.Legend(asked.get(f"{n}.name") or f"Position {n}"),
        html.Div(ask(f"{n}.name"), className="fields"),
        *(_question(key, [ask(f"{n}.{name}") for name in names]) for key, names in ASKED.items()),
        html.Details([
            html.Summary(more),
            html.Div([ask(f"{n}.{name}") for name in REST], className="fields"),
        ], className="form", open=bool(told or wanted)),
    ])  # fmt: skip


def _from_file() -> html.Details:
    return html.Details([
        html.Summary("Positions from a file"),
        html.P("TOML, or CSV with one row a position, as for envwatch hang; it fills in the questions above.",
               className="quiet"),
        dcc.Upload(html.Div([html.Strong("Drop the file here"), html.Span(", or press to choose it")]), id="hang-file",
                   className="drop", className_active="drop over", style={}, style_active={}),
    ], className="form")  # fmt: skip
