"""The questions of *Around the lining*: their fields, what was typed, and which field a refusal speaks of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd
from dash import dcc, html

from dashboards import components
from envwatch.archive import Studio
from envwatch.core.errors import BadInput, named
from envwatch.core.place import POSITIONS

# by question: name, words, hint; "=" in place of a hint: a choice
TODAY = (
    ("adhesive", "what it is to be lined with", "=adhesives"),
    ("room", "lined and dried in", "=places"), ("attended_by", "who changes blotters and weights there", "or nobody"),
    ("film_forming", "film-forming temperature of a dispersion's label, °C", "if known"),
    ("f_max", "forecast for its room: highest, °C", ""), ("f_min", "lowest, °C", ""),
    ("f_rh_max", "dampest, % RH", ""), ("f_rh_min", "driest, % RH", ""),
)  # fmt: skip
WHERE = (
    ("to", "it goes to", "=places"), ("at", "where in it", "=positions"), ("arrives", "lined and there on", "today"),
    ("year_from", "the stored year that begins on", "empty: the one read best"),
    ("candidates", "adhesives, by their keys", "empty: all that line"),
    ("spot", "which position of the file", "its first words"),
)  # fmt: skip
LEAVE = (
    ("leave", "it is to leave on", "2026-12-01"), ("l_to", "it goes to", "=places"),
    ("l_at", "where in it", "=positions"), ("house_rh", "humidity of the house, % RH", "if known"),
    ("vehicle_max", "highest in the vehicle, °C", "if it is held"),
    ("outdoors_max", "forecast outdoors, highest, °C", ""), ("logger", "the logger that goes along", "=loggers"),
    ("logger_back", "and is back by", ""), ("logger_by", "sent by", ""),
)  # fmt: skip
CALL = (("sign", "what the client sees, in the client's own words", "a bubble, ripples, it is wet, mould …"),)
AWAY = (
    ("a_from", "first day away", "2026-12-20"), ("a_until", "last day away, included", "2027-01-06"),
    ("who", "who looks after the rooms", ""), ("ring", "whom to ring, for what", "one after another, parted by ;"),
)  # fmt: skip
QUESTIONS = {
    "today": ("May I line today, and what is due?", TODAY, "look"),
    "where": ("Which adhesive, for where it goes?", WHERE, "compare them"),
    "leave": ("May it leave?", LEAVE, "check"),
    "call": ("The client rings", CALL, "what to say"),
    "loan": ("On loan: the borrower's readings against the agreement", (), "hold them against it"),
    "away": ("Away: a sheet for who looks after the rooms (for all paintings here)", AWAY, "make the sheet"),
}
FILES = {
    "where": ("positions", "Or a described position: a file as for Where to hang"),
    "loan": ("agreement", "Drop the agreement (TOML)"),
}
NUMBERS = ("film_forming", "f_max", "f_min", "f_rh_max", "f_rh_min", "house_rh", "vehicle_max", "outdoors_max")
FIELDS = {name for _, group, _ in QUESTIONS.values() for name, *_ in group} | {"although"}
WORDS = {name: words for _, group, _ in QUESTIONS.values() for name, words, _ in group} | {"painting": "painting"}
CALLED = {  # inputs that more than one question has, by question
    "today": {"forecast_max": "f_max", "forecast_min": "f_min", "forecast_rh_max": "f_rh_max",
              "forecast_rh_min": "f_rh_min"},
    "where": {"adhesive": "candidates"},
    "leave": {"to": "l_to", "at": "l_at", "forecast_max": "outdoors_max"},
    "away": {"from": "a_from", "until": "a_until"},
}  # fmt: skip


def form(studio: Studio, asked: Mapping[str, str], faults: Mapping[str, str], now: pd.Timestamp) -> html.Section:
    """The painting, and the questions about it; the one that was asked stands open."""
    ask = _Fields(studio, asked, faults)
    paintings = [(p.id, f"{p.title} [{p.id}]") for p in studio.paintings().values()]
    return html.Section([
        html.H2("What is asked"),
        html.Div(ask.choose("painting", "painting", paintings), className="fields"),
        *(_question(key, ask, asked, faults) for key in QUESTIONS),
        html.Div(id="around-said"),
    ], className="form noprint asks")  # fmt: skip


def _question(key: str, ask: _Fields, asked: Mapping[str, str], faults: Mapping[str, str]) -> html.Details:
    title, group, press = QUESTIONS[key]
    opened = asked.get("ask") == key or any(name in faults for name, *_ in group)
    return html.Details([
        html.Summary(title),
        html.Div([ask(name, words, hint) for name, words, hint in group], className="fields"),
        *(_drop(*FILES[key], asked) if key in FILES else ()),
        html.Div(html.Button(press, id={"around-ask": key}, n_clicks=0, className="press", type="button")),
    ], className="form", open=opened, **{"data-enter": ""})  # fmt: skip


def _drop(name: str, words: str, asked: Mapping[str, str]) -> tuple:
    drop = dcc.Upload(html.Div([html.Strong(words), html.Span(", or press to choose it")]), id={"around-drop": name},
                      className="drop", className_active="drop over", style={}, style_active={})  # fmt: skip
    return drop, html.Div(held_field(name, asked.get(name, "")), id={"around-file": name})


def held_field(name: str, token: str) -> dcc.Input:
    """Which dropped file is held, kept out of sight."""
    return dcc.Input(id={"around-held": name}, type="hidden", value=token)


class _Fields:
    """Fields with what was answered in them, and what is wrong with it."""

    def __init__(self, studio: Studio, asked: Mapping[str, str], faults: Mapping[str, str]) -> None:
        adhesives = [(key, p.label) for key, p in studio.materials().items() if p.adhesive]
        self.asked, self.faults = asked, faults
        self.of = {
            "=adhesives": adhesives, "=places": [(p.id, p.name) for p in studio.places().values()],
            "=positions": [(word, word) for word in POSITIONS],
            "=loggers": [(logger.id, logger.name) for logger in studio.loggers().values()],
        }  # fmt: skip

    def __call__(self, name: str, words: str, hint: str) -> Any:
        if hint in self.of:
            return self.choose(name, words, self.of[hint])
        return components.field({"around": name}, words, hint, value=self.asked.get(name, ""), error=self._error(name))

    def choose(self, name: str, words: str, options: list[tuple[str, str]]) -> Any:
        return components.choice({"around": name}, words, options, self.asked.get(name), clearable=True,
                            error=self._error(name))  # fmt: skip

    def _error(self, name: str) -> str | None:
        return self.faults.get(name) or None


def known(asked: Mapping[str, str]) -> dict[str, str]:
    """What of an address is asked of this page."""
    names = {*FIELDS, "painting", "ask", *(name for name, _ in FILES.values())}
    return {name: text for name, text in asked.items() if name in names and text}


def given(typed: Mapping[str, str], ask: str) -> dict[str, str]:
    """What was typed for one question, as it stands in an address."""
    _, group, _ = QUESTIONS[ask]
    names = ("painting", *(name for name, *_ in group), *((FILES[ask][0],) if ask in FILES else ()))
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
    return WORDS.get(name, "")


def input_of(field: str, asked: Mapping[str, str]) -> str:
    """The field of the page that fills in an input, by what is asked."""
    return CALLED.get(asked.get("ask", ""), {}).get(field, field)


def called(sentence: str, asked: Mapping[str, str]) -> str:
    """A sentence whose inputs are called as on this page."""
    return named(sentence, lambda field: f"“{label(input_of(field, asked)) or field.replace('_', ' ')}”")
