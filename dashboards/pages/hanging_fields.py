"""The questions of *Where to hang*: what decides most first, the rest where it could still change the answer."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from dash import dcc, html

from dashboards import components
from dashboards.sketches import sketch
from envwatch.archive import Studio
from envwatch.cases.hanging.questions import SIX
from envwatch.cases.hanging.spot import BOARDS, FIRES, LAMPS, MOISTURES, USES, WALL_KINDS
from envwatch.core.errors import BadInput
from envwatch.core.place import POSITIONS
from envwatch.figures import hanging as fig
from envwatch.physics.light import COMPASS

MOST_SPOTS, FIRST_SPOTS = 8, 2
YES_NO = (("yes", "yes"), ("no", "no"))
Choice = tuple[tuple[str, str], ...]


def _same(words: Iterable[str]) -> Choice:
    return tuple((word, word) for word in words)


# name, words, choices (or a hint where it is typed)
ASKED = {
    "sun": [("sun", "direct sun", YES_NO)],
    "heat": [("radiator", "radiator", YES_NO), ("fire", "fireplace or flue", _same(FIRES)),
             ("vent", "vent or fan heater", YES_NO)],
    "use": [("use", "room", _same(USES))],
    "wall": [("wall", "wall", _same(WALL_KINDS))],
    "damp": [("damp", "stains, salts, mould, smell", YES_NO), ("fresh_plaster", "fresh plaster or paint", YES_NO)],
}  # fmt: skip
REST = [
    ("room", "the room's name", "living room"),
    ("log", "a logger of this house hangs", _same(("room", *POSITIONS))),
    ("log_here", "and it hangs at this very position", YES_NO),
    ("construction", "the outer wall is built of", _same(fig.WALLS)), ("thickness", "how thick", "36 cm"),
    ("wall_lined", "insulated on the inside?", YES_NO), ("corner", "within half a metre of an outer corner?", YES_NO),
    ("wall_c", "bare wall on a cold morning, °C", "the three together, read before sunrise"),
    ("wall_room_c", "the room then, °C", ""), ("wall_out_c", "outdoors, the last day's mean, °C", ""),
    ("radiator_above", "its foot above the radiator's top", "60 cm"),
    ("radiator_aside", "sideways from the radiator", "1.5 m"),
    ("radiator_w_per_m", "the radiator's output, W per metre", ""),
    ("fire_reading_c", "highest at the picture through an evening of fire, °C", ""),
    ("window", "the window is", _same(("no window", *fig.WINDOW_SHARE))),
    ("window_faces", "it faces", _same(COMPASS)), ("curtain", "curtain by day", _same(fig.CURTAIN_PASSES)),
    ("window_depth", "from the window's wall", "2.5 m"), ("window_aside", "sideways from the window's middle", "1 m"),
    ("window_width", "the window's width", "1.2 m"), ("window_head", "its head above the picture's middle", "0.8 m"),
    ("window_sill", "its sill above the floor", "0.9 m"),
    ("lux", "light meter by day, lux", "with the hours"), ("lux_hours", "for how many hours a day", ""),
    ("lamp", "a lamp on it", _same(LAMPS)), ("lamp_lux", "the lamp gives, lux", ""),
    ("lamp_hours", "for how many hours a day", ""),
    ("standoff", "it stands off the wall by", "25 mm"), ("depth", "the frame's depth", "45 mm"),
    ("board", "backing board", _same(BOARDS)), ("glazed", "glazed?", YES_NO),
    ("fixing", "does the wall take two fixings of its weight?", YES_NO),
]  # fmt: skip
HOUSE = [
    ("heating", "heating", _same(fig.HEATING)), ("empty_months", "empty in the months", "1, 2, or none"),
    ("moisture", "moisture habits", _same(MOISTURES)),
]  # fmt: skip
HOUSE_REST = [
    ("house", "the house's name", "for the page; no address"), ("latitude", "latitude", "54.3"),
    ("longitude", "longitude", "9.6"), ("warm_c", "warm by day, °C", ""), ("cool_c", "cool by night, °C", ""),
    ("coldest_month_c", "coldest month outdoors, °C", "where no logger reads outdoors"),
    ("warmest_month_c", "warmest month outdoors, °C", ""), ("cold_spell_c", "a cold spell there, °C", ""),
]  # fmt: skip
OF_HOUSE = ("place", "outdoors", *(name for name, *_ in (*HOUSE, *HOUSE_REST)))
OF_SPOT = ("name", *(name for group in ASKED.values() for name, *_ in group), *(name for name, *_ in REST))
TOP = ("painting", "on", "adhesive")
QUESTION = dict(SIX)
WORDS = {name: words for group in (*ASKED.values(), REST, HOUSE, HOUSE_REST) for name, words, _ in group} | {
    "painting": "painting", "on": "day of hanging", "adhesive": "what holds its lining, where the record does not say",
    "place": "its place in the register, for its loggers", "outdoors": "the logger outdoors near it",
    "name": "which place is it?",
}  # fmt: skip


def label(name: str) -> str:
    """The words over a field by its name in an address; "" where there is no such field."""
    return WORDS.get(name.rpartition(".")[2], "") if name in TOP or "." in name else ""


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
    names = {*ids(MOST_SPOTS), "ask", "spots", "log", "at", "zone"}
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
    ask = _Fields(asked, faults)
    paintings = [(p.id, f"{p.title} [{p.id}]") for p in studio.paintings().values()]
    glues = [(key, profile.label) for key, profile in studio.materials().items() if profile.adhesive]
    return html.Section([
        html.H2("What is asked"),
        html.Div([
            ask.choose("painting", WORDS["painting"], paintings),
            ask.line("on", WORDS["on"], "empty: today"),
            ask.choose("adhesive", WORDS["adhesive"], glues),
        ], className="fields"),
        html.H3("The house"),
        _question("heating", [ask(f"h.{name}", label, of) for name, label, of in HOUSE]),
        _of_house(studio, ask, asked),
        *(_spot(n, ask, asked, faults, wanted.get(asked.get(f"{n}.name", ""), set())) for n in range(1, spots + 1)),
        html.Div([components.button("hang-go", "judge them"),
                  components.button("hang-another", "one more position", quiet=True) if spots < MOST_SPOTS else None],
                 className="actions"),
        html.Div(id="hang-said"),
        _from_file(),
    ], className="form noprint asks")  # fmt: skip


class _Fields:
    """Fields with what was answered in them, and what is wrong with it."""

    def __init__(self, asked: Mapping[str, str], faults: Mapping[str, str]) -> None:
        self.asked, self.faults = asked, faults

    def __call__(self, name: str, label: str, of: Choice | str) -> Any:
        return self.line(name, label, of) if isinstance(of, str) else self.choose(name, label, of)

    def line(self, name: str, label: str, hint: str = "") -> Any:
        return components.field(
            id_of(name), label, hint, value=self.asked.get(name, ""), error=self.faults.get(name) or None
        )

    def choose(self, name: str, label: str, options: Any) -> Any:
        return components.choice(id_of(name), label, list(options), self.asked.get(name), clearable=True,
                            placeholder="not known", error=self.faults.get(name) or None)  # fmt: skip


def _question(key: str, fields: list) -> html.Div:
    return html.Div([sketch(key), html.Div([html.P(QUESTION[key]), html.Div(fields, className="fields")])],
                    className="question-row")  # fmt: skip


def _of_house(studio: Studio, ask: _Fields, asked: Mapping[str, str]) -> html.Details:
    places = [(place.id, place.name) for place in studio.places().values()]
    opened = any(asked.get(f"h.{name}") for name in ("place", "outdoors", *(name for name, *_ in HOUSE_REST)))
    return html.Details([
        html.Summary("More of the house: its loggers, where it stands"),
        html.Div([
            ask.choose("h.place", WORDS["place"], places),
            ask.choose("h.outdoors", WORDS["outdoors"], places),
            *(ask(f"h.{name}", label, of) for name, label, of in HOUSE_REST),
        ], className="fields"),
    ], className="form", open=opened)  # fmt: skip


def _spot(n: int, ask: _Fields, asked: Mapping[str, str], faults: Mapping[str, str], wanted: set[str]) -> html.Fieldset:
    told = [name for name, *_ in REST if asked.get(f"{n}.{name}") or faults.get(f"{n}.{name}")]
    more = "More of it, where it could still change the answer" + (": see Find out above" if wanted else "")
    return html.Fieldset(id=f"position-{n}", children=[
        html.Legend(asked.get(f"{n}.name") or f"Position {n}"),
        html.Div(ask.line(f"{n}.name", WORDS["name"], "over the sideboard"), className="fields"),
        *(_question(key, [ask(f"{n}.{name}", label, of) for name, label, of in group]) for key, group in ASKED.items()),
        html.Details([
            html.Summary(more),
            html.Div([ask(f"{n}.{name}", label, of) for name, label, of in REST], className="fields"),
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
