"""°C or °F, 24 or 12 hours: as a person chose in this browser, for all that an answer to the browser says.

The pages themselves are made in °C and with 24 hours. What they say is retold on its way out, and what was typed is
taken back on its way in, in one place for all pages; the choice is a cookie. What is written in a file, and the
working of a model, is shown as it stands: parts of the class `as-kept`, and code.
"""

from __future__ import annotations

import json
import re
from typing import Any

from dash import Dash, Input, Output, State, ctx, no_update
from flask import Response, after_this_request, request

from envwatch.present import charts
from envwatch.present.units import DisplayUnits

COOKIE, YEAR_S = "envwatch_shown", 365 * 86_400
CALL = "/_dash-update-component"
SAID = ("children", "label", "description", "error", "placeholder", "title", "alt", "aria-label")
AS_KEPT = ("Code", "Pre", "Store", "Script")
TEMP_FIELD = re.compile(
    r"(?:^|[-._])(?:\w+_c|film_forming|temp_(?:true|read)|(?:tomorrow|f|vehicle|outdoors)_(?:max|min))$"
)


def is_temp(id: Any) -> bool:
    """Whether a field, by its id, takes a temperature.

    >>> is_temp("treat-temp_interface_c"), is_temp({"hang": "1.wall_c"}), is_temp("edit-title")
    (True, True, False)
    """
    names = id.values() if isinstance(id, dict) else (id,)
    return any(isinstance(name, str) and TEMP_FIELD.search(name) for name in names)


def chosen() -> DisplayUnits:
    """What this browser asked for."""
    return DisplayUnits.of(request.cookies.get(COOKIE, ""))


def keep(app: Dash) -> None:
    """Put the retelling round every answer, and the choice among the callbacks."""
    app.server.before_request(_taken_back)
    app.server.after_request(_retold)
    app.callback(
        Output("units", "children"), Output("units", "aria-label"), Output("clock", "children"),
        Output("clock", "aria-label"), Output("again", "data", allow_duplicate=True), Input("units", "n_clicks"),
        Input("clock", "n_clicks"), State("again", "data"), prevent_initial_call="initial_duplicate",
    )(choose)  # fmt: skip


def choose(_units: int, _clock: int, again: int | None):
    """Turn over what was pressed; the buttons say what a press would show."""
    pressed = ctx.triggered_id if ctx.triggered_id in ("units", "clock") else None
    now = _turned(chosen(), pressed)
    unit, hours = ("°F" if now.unit == "C" else "°C"), 36 - now.hours
    names = unit, f"show temperatures in {unit}", f"{hours} h", f"show times with {hours} hours"
    return *names, (again or 0) + 1 if pressed else no_update


def _turned(now: DisplayUnits, pressed: str | None) -> DisplayUnits:
    """The choice after a press, remembered."""
    if pressed == "units":
        now = DisplayUnits("F" if now.unit == "C" else "C", now.hours)
    elif pressed == "clock":
        now = DisplayUnits(now.unit, 36 - now.hours)
    if pressed:
        _remember(now)
    return now


def _remember(shown: DisplayUnits) -> None:
    @after_this_request
    def kept(answer: Response) -> Response:
        answer.set_cookie(COOKIE, str(shown), max_age=YEAR_S, httponly=True, samesite="Strict",
                          secure=request.is_secure)  # fmt: skip
        return answer


# ------------------------------------------------------------------------------------------------------- on the way


def _taken_back() -> None:
    """What was typed, in place, before a callback sees it."""
    shown = chosen() if request.path == CALL else DisplayUnits()
    if shown.as_kept:
        return
    body = request.get_json(silent=True)  # the same object is given to whoever asks for it next
    for given in _flat([(body or {}).get("inputs"), (body or {}).get("state")]):
        if given.get("property") == "value" and isinstance(given.get("value"), str):
            given["value"] = shown.kept(given["value"], is_temp(given.get("id")))


def _flat(given: Any) -> list[dict]:
    if isinstance(given, list):
        return [one for part in given for one in _flat(part)]
    return [given] if isinstance(given, dict) else []


def _retold(answer: Response) -> Response:
    shown = chosen() if request.path == CALL and answer.status_code == 200 else DisplayUnits()
    if shown.as_kept:
        return answer
    told = json.loads(answer.get_data())
    for id, props in told.get("response", {}).items() if isinstance(told, dict) else ():
        if id not in ("units", "clock"):
            told["response"][id] = retell(props, shown, _id(id))
    answer.set_data(json.dumps(told, separators=(",", ":")))
    return answer


def _id(text: str) -> Any:
    return json.loads(text) if text.startswith("{") else text


def retell(props: dict, shown: DisplayUnits, id: Any = None) -> dict:
    """The properties of a component as this person is to see them."""
    if "as-kept" in str(props.get("className", "")):
        return props
    out = dict(props)
    id = props.get("id", id)
    for name, value in props.items():
        if name in SAID:
            out[name] = _part(value, shown)
        elif name == "value" and isinstance(value, str):
            out[name] = shown.filled(value, is_temp(id))
        elif name == "figure" and isinstance(value, dict):
            out[name] = figure(value, shown)
        elif name == "data" and isinstance(value, list):
            out[name] = [_choice(one, shown) for one in value]
    if is_temp(id) and shown.unit == "F" and props.get("error"):
        out["error"] = f"{props['error']} (figures of this line are in °C)"
    if "data-unit" in props:
        out["children"] = _bare(props["children"], props["data-unit"], shown)
    return out


def _part(value: Any, shown: DisplayUnits) -> Any:
    if isinstance(value, str):
        return shown.words(value)
    if isinstance(value, list):
        return [_part(one, shown) for one in value]
    if not isinstance(value, dict) or "props" not in value or value.get("type") in AS_KEPT:
        return value
    if value.get("type") == "Table":
        value = _table(value, shown)
    return value | {"props": retell(value["props"], shown)}


def _choice(one: Any, shown: DisplayUnits) -> Any:
    return one | {"label": shown.words(one["label"])} if isinstance(one, dict) and "label" in one else one


def _bare(text: Any, unit: str, shown: DisplayUnits) -> Any:
    return re.sub(r"[−-]?\d+(?:\.\d+)?", lambda m: shown.bare(m[0]), text) if unit == "°C" and text else text


def _table(table: dict, shown: DisplayUnits) -> dict:
    """A table whose columns of °C are retold; the rest of it follows as everywhere."""
    heads = [_text(cell) for cell in _cells(table, "Th", "Thead")]
    temps = {n for n, head in enumerate(heads) if "°C" in head and not re.search(r"\d", head)}
    if shown.unit == "C" or not temps:
        return table
    return _column(table, temps, shown)


def _column(part: Any, temps: set[int], shown: DisplayUnits) -> Any:
    if isinstance(part, list):
        return [_column(one, temps, shown) for one in part]
    if not isinstance(part, dict) or "props" not in part:
        return part
    inside = part["props"].get("children")
    if part["type"] == "Tr":
        cells = [
            cell | {"props": cell["props"] | {"children": shown.bare(cell["props"]["children"])}}
            if n in temps and isinstance(cell["props"].get("children"), str) else cell
            for n, cell in enumerate(inside)
        ]  # fmt: skip
        return part | {"props": part["props"] | {"children": cells}}
    return part | {"props": part["props"] | {"children": _column(inside, temps, shown)}}


def _cells(part: Any, kind: str, within: str) -> list[dict]:
    if isinstance(part, list):
        return [cell for one in part for cell in _cells(one, kind, within)]
    if not isinstance(part, dict) or "props" not in part:
        return []
    if part["type"] == kind:
        return [part]
    if part["type"] == "Tbody" and within == "Thead":
        return []
    return _cells(part["props"].get("children"), kind, within)


def _text(part: Any) -> str:
    if isinstance(part, list):
        return " ".join(map(_text, part))
    return _text(part["props"].get("children")) if isinstance(part, dict) and "props" in part else str(part or "")


# ----------------------------------------------------------------------------------------------------------- charts

TICKS = [
    {"dtickrange": [None, 3_600_000], "value": "%-I:%M %p\n%-d %b %Y"},
    {"dtickrange": [3_600_000, charts.DAY_MS - 1], "value": "%-I %p\n%-d %b %Y"},
    *charts.DAYS[1:],
]


def figure(drawn: dict, shown: DisplayUnits) -> dict:
    """A chart as this person is to see it: the axes of °C with all that is drawn on them, and the clock."""
    axes = {trace.get("yaxis", "y") for trace in drawn["data"] if "°C" in str(trace.get("hovertemplate"))}
    layout = dict(drawn["layout"])
    layout["annotations"] = [_placed(_named(a, shown), ("y",), axes, shown) for a in layout.get("annotations") or ()]
    layout["shapes"] = [_placed(s, ("y0", "y1"), axes, shown) for s in layout.get("shapes") or ()]
    for name in [name for name in layout if name.startswith("yaxis")]:
        layout[name] = _axis(layout[name], "y" + name[5:] in axes, shown)
    if shown.hours == 12 and layout.get("xaxis", {}).get("type") == "date":
        layout["xaxis"] = layout["xaxis"] | {"tickformatstops": TICKS, "hoverformat": "%a %-d %b %Y, %-I:%M %p"}
    return drawn | {"data": [_trace(trace, axes, shown) for trace in drawn["data"]], "layout": layout}


def _trace(trace: dict, axes: set[str], shown: DisplayUnits) -> dict:
    told = {name: shown.words(trace[name]) for name in ("hovertemplate", "name") if isinstance(trace.get(name), str)}
    if trace.get("yaxis", "y") in axes and isinstance(trace.get("y"), list):
        told["y"] = [shown.figure(value) for value in trace["y"]]
    return trace | told


def _named(word: dict, shown: DisplayUnits) -> dict:
    return word | {"text": shown.words(word.get("text", ""))}


def _placed(thing: dict, names: tuple[str, ...], axes: set[str], shown: DisplayUnits) -> dict:
    if thing.get("yref") not in axes:
        return thing
    return thing | {name: shown.figure(thing[name]) for name in names}


def _axis(axis: dict, of_temp: bool, shown: DisplayUnits) -> dict:
    told = {}
    if of_temp and axis.get("range"):
        told["range"] = [shown.figure(end) for end in axis["range"]]
    if isinstance(axis.get("title"), dict):
        told["title"] = axis["title"] | {"text": shown.words(axis["title"].get("text", ""))}
    return axis | told
