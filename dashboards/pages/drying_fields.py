"""The form of *Drying the room*, made of the table of its inputs, and what was typed in it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import dcc, html

from dashboards import components
from dashboards.asking import Fields
from envwatch.cases.dehumidifier.typed import number
from envwatch.cases.fields.dehumidifier import INPUTS, LABEL
from envwatch.core.errors import BadInput
from envwatch.core.place import Place

MACHINE = tuple(one.name for one in LABEL)
FOLDS = {  # what stands under a heading that is opened
    "A machine of your own choice": MACHINE,
    "A second machine, to compare": tuple(f"{name}2" for name in MACHINE),
    "How it would run": ("set", "tank", "visits", "hours_away"),
    "What is known of the room": (
        "sink", "air_change", "source", "buffer", "weighed", "evaporated", "cold_wall", "heat_loss", "tighten_to",
        "log_from", "log_to", "treated_on",
    ),
    "Money, your own figures": ("tariff", "currency", "service", "life", "retreatment_hours"),
}  # fmt: skip
SPELL = "A hot or cold spell tomorrow: which painting crosses first?", ("tomorrow_max", "tomorrow_min", "for_days")
AFTER = "After buying: forecast against log", ("bought",)
NAMES = ("place", *(one.name for one in INPUTS.values() if one.words))
LABELS = {one.name: one.words for one in INPUTS.values() if one.words}
TYPED = tuple(name for name in LABELS if name not in ("kind", "kind2"))
CALLED = {"machine_litres": "capacity", "machine_pints": "capacity", "desiccant_litres": "capacity"}


class _Fields(Fields):
    """Of a machine the first kind, where none was chosen; and fields under a heading."""

    def __call__(self, name: str) -> Any:
        if name in ("kind", "kind2"):
            return self.choose(name, INPUTS[name].choices, INPUTS[name].choices[0][0])
        return super().__call__(name)

    def fold(self, title: str, names: Sequence[str], last: Any = None) -> html.Details:
        opened = any(self.asked.get(name) or self.faults.get(name) for name in names)
        return html.Details([html.Summary(title), html.Div([*map(self, names), last], className="fields")],
                            className="form", open=opened)  # fmt: skip


def form(
    rooms: Sequence[Place], place: Place, asked: dict[str, str], held: list[tuple[str, str]], faults: dict[str, str]
) -> html.Section:
    """All fields, those that decide most first; what was asked stands in them, and what is wrong with it beside it."""
    ask = _Fields(INPUTS, "dry-{}".format, asked, faults)
    return html.Section([
        html.H2("What is asked"),
        html.Div([
            components.choice("dry-place", "room", [(r.id, r.name) for r in rooms], place.id),
            ask("volume"), ask.choose("outdoors", outdoors_choices(held), "studio"),
            ask("machine_in_log"), ask("also"),
        ], className="fields"),
        _file(ask),
        *(ask.fold(title, names) for title, names in FOLDS.items()),
        html.Div([components.button("dry-case", "reckon the case")], className="actions"),
        ask.fold(*SPELL, html.Div(components.button("dry-spell", "look ahead"), className="beneath")),
        ask.fold(*AFTER, html.Div(components.button("dry-after", "compare"), className="beneath")),
        html.Div(id="dry-said"),
    ], className="form noprint asks")  # fmt: skip


def _file(ask: _Fields) -> html.Details:
    return html.Details([
        html.Summary("Air outdoors from a file"),
        html.P("A weather station's or logger's file, a typical year (EPW, TMY), or twelve monthly values "
               "(month, temp_c, rh_percent).", className="quiet"),
        dcc.Upload(html.Div([html.Strong("Drop the file here"), html.Span(", or press to choose it")]), id="dry-file",
                   className="drop", className_active="drop over", style={}, style_active={}),
        html.Div(id="dry-file-said"),
        html.Div([ask("outdoors_zone"), ask("outdoors_start")], className="fields"),
    ], className="form")  # fmt: skip


def outdoors_choices(held: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """What the air outdoors may be taken from."""
    return [("studio", "the studio's own logger outdoors"), ("none", "not known: bounds only"), *held]


def given(values: Sequence[str | None], ask: str) -> dict[str, str]:
    """What was typed, by name, as it stands in an address: empty fields and untouched machines left out."""
    told = {name: (value or "").strip() for name, value in zip(NAMES, values, strict=True)}
    for which in ("", "2"):
        if not told.get(f"capacity{which}"):
            told.pop(f"kind{which}", None)
    return {"ask": ask} | {name: value for name, value in told.items() if value}


def known(asked: dict[str, str]) -> dict[str, str]:
    """What of an address is asked of this page."""
    return {name: text for name, text in asked.items() if name in (*NAMES, "ask") and text}


def spell_of(asked: dict[str, str]) -> tuple[float, float, int]:
    """Tomorrow's highest and lowest, and for how many days.

    Raises
    ------
    BadInput : one is missing or no number.
    """
    for name in ("tomorrow_max", "tomorrow_min"):
        if not asked.get(name):
            raise BadInput(f"⟦{name}⟧ is empty; give tomorrow's highest and lowest outdoors", field=name)
    highest, lowest = (number(asked, name) for name in ("tomorrow_max", "tomorrow_min"))
    return highest, lowest, int(number({"for_days": "3"} | asked, "for_days"))
