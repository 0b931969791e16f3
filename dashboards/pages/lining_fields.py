"""The questions of *Around the lining*: their fields, what was typed, and which field a refusal speaks of."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pandas as pd
from dash import dcc, html

from dashboards.asking import Fields
from envwatch.archive import Studio
from envwatch.cases.fields.lining import INPUTS
from envwatch.core.errors import BadInput, named

QUESTIONS = {
    "today": ("May I line today, and what is due?", ("adhesive", "room", "attended_by", "film_forming", "f_max",
                                                     "f_min", "f_rh_max", "f_rh_min"), "look"),
    "where": ("Which adhesive, for where it goes?", ("to", "at", "arrives", "year_from", "candidates", "spot"),
              "compare them"),
    "leave": ("May it leave?", ("leave", "l_to", "l_at", "house_rh", "vehicle_max", "outdoors_max", "logger",
                                "logger_back", "logger_by"), "check"),
    "call": ("The client rings", ("sign",), "what to say"),
    "loan": ("On loan: the borrower's readings against the agreement", (), "hold them against it"),
    "away": ("Away: a sheet for who looks after the rooms (for all paintings here)",
             ("a_from", "a_until", "who", "ring"), "make the sheet"),
}  # fmt: skip
FILES = {"where": "positions", "loan": "agreement"}
FIELDS = {name for _, names, _ in QUESTIONS.values() for name in names}
CALLED = {ask: {INPUTS[name].fills: name for name in names if INPUTS[name].fills}
          for ask, (_, names, _) in QUESTIONS.items()}  # fmt: skip


def form(studio: Studio, asked: Mapping[str, str], faults: Mapping[str, str], now: pd.Timestamp) -> html.Section:
    """The painting, and the questions about it; the one that was asked stands open."""
    ask = Fields(INPUTS, lambda name: {"around": name}, asked, faults, studio)
    return html.Section([
        html.H2("What is asked"),
        html.Div(ask("painting"), className="fields"),
        *(_question(key, ask, asked, faults) for key in QUESTIONS),
        html.Div(id="around-said"),
    ], className="form noprint asks")  # fmt: skip


def _question(key: str, ask: Fields, asked: Mapping[str, str], faults: Mapping[str, str]) -> html.Details:
    title, names, press = QUESTIONS[key]
    opened = asked.get("ask") == key or any(name in faults for name in names)
    return html.Details([
        html.Summary(title),
        html.Div([*map(ask, names)], className="fields"),
        *(_drop(FILES[key], asked) if key in FILES else ()),
        html.Div(html.Button(press, id={"around-ask": key}, n_clicks=0, className="press", type="button")),
    ], className="form", open=opened, **{"data-enter": ""})  # fmt: skip


def _drop(name: str, asked: Mapping[str, str]) -> tuple:
    words = html.Div([html.Strong(INPUTS[name].words), html.Span(", or press to choose it")])
    drop = dcc.Upload(words, id={"around-drop": name}, className="drop", className_active="drop over", style={},
                      style_active={})  # fmt: skip
    return drop, html.Div(held_field(name, asked.get(name, "")), id={"around-file": name})


def held_field(name: str, token: str) -> dcc.Input:
    """Which dropped file is held, kept out of sight."""
    return dcc.Input(id={"around-held": name}, type="hidden", value=token)


def known(asked: Mapping[str, str]) -> dict[str, str]:
    """What of an address is asked of this page."""
    names = {*FIELDS, "although", "painting", "ask", *FILES.values()}
    return {name: text for name, text in asked.items() if name in names and text}


def given(typed: Mapping[str, str], ask: str) -> dict[str, str]:
    """What was typed for one question, as it stands in an address."""
    names = ("painting", *QUESTIONS[ask][1], *((FILES[ask],) if ask in FILES else ()))
    return {"ask": ask} | {name: typed[name].strip() for name in names if typed.get(name, "").strip()}


def numbers(asked: Mapping[str, str]) -> Callable[[str], float | None]:
    """Reads a field as a number; None where it is empty. BadInput: it is none."""

    def number(name: str) -> float | None:
        text = asked.get(name, "")
        if not text:
            return None
        try:
            value = float(text.replace(",", ".").replace("−", "-"))
        except ValueError:
            value = float("nan")
        if not abs(value) < float("inf"):
            raise BadInput(f"{text!r} is not a number", field=name)
        return value

    return number


def label(name: str) -> str:
    """The words over a field; "" where there is none such."""
    return INPUTS[name].words if name in {*FIELDS, "painting"} else ""


def input_of(field: str, asked: Mapping[str, str]) -> str:
    """The field of the page that fills in an input, by what is asked."""
    return CALLED.get(asked.get("ask", ""), {}).get(field, field)


def called(sentence: str, asked: Mapping[str, str]) -> str:
    """A sentence whose inputs are called as on this page."""
    return named(sentence, lambda field: f"“{label(input_of(field, asked)) or field.replace('_', ' ')}”")
