"""What is entered about loggers, on the page of their files: a new one, where one hangs, and how it was checked."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update

from dashboards import components
from dashboards.forms import on_press, pressed, unchanged, wire
from dashboards.pages import corrections
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.archive.register import probes
from envwatch.archive.register.probes import hung_nowhere
from envwatch.archive.store.records import require_id
from envwatch.core.dates import day_of, instant
from envwatch.core.errors import BadInput
from envwatch.core.place import POSITIONS
from envwatch.core.text import date, several

HANG = ("logger", "place", "position", "on")
NEW = ("id", "name", "labels", "rh_accuracy_percent", "temp_accuracy_c", "fetch_days", "zone")
CHECK = ("logger", "on", "rh_true", "rh_read", "rh_true_2", "rh_read_2", "temp_true", "temp_read", "accuracy",
         "due", "basis")  # fmt: skip


def forms(studio: Studio, home: StudioSession) -> html.Section | None:
    """A new logger; where one hangs, and how it was checked, once there is one."""
    if not studio.loggers():
        return components.section("Enter", _new_form(studio))
    today = str(home.now().tz_convert(studio.zone).date())
    known = [(logger.id, logger.name) for logger in studio.loggers().values()]
    shown = {id: hangs(studio, id) for id, _name in known}
    return components.section("Enter", _hang_form(studio, known, today), _check_form(known, today), _new_form(studio),
                              dcc.Store(id="hang-shown", data=shown))  # fmt: skip


def record_of(studio: Studio) -> html.Details | None:
    """Where each logger hung and how it was checked, each with what corrects it."""
    lines, places = [], studio.places()
    for id, logger in studio.loggers().items():
        links = corrections.links(studio, id, "/files", ("hanging", "calibration"))
        for hung in logger.hangings:
            probe, until = f", probe {hung.channel}" if hung.channel else "", date(hung.end, studio.zone) or "now"
            told = f"{logger.name}{probe}: {places[hung.place_id].name}, {hung.position}"
            lines.append(
                [f"{told}; {date(hung.start, studio.zone)} to {until}", *links("hanging", hung.place_id, hung.start)]
            )
        for one in studio.register().calibrations.get(id, ()):
            on, basis = instant(one["on"], studio.zone), f" against {one['basis']}" if one["basis"] else ""
            told = f"{logger.name}: checked on {date(on, studio.zone)}{basis}"
            lines.append([told, *links("calibration", "", on)])
    return components.more("where they hung, and how they were checked", components.items(lines))


def hangs(studio: Studio, id: str) -> str:
    """Where a logger was said last to hang, and from when; "" where nobody said."""
    said = studio.loggers()[id].hangings
    return f"{studio.places()[said[-1].place_id].name} from {date(said[-1].start, studio.zone)}" if said else ""


def _hang_form(studio: Studio, known: list[tuple[str, str]], today: str) -> html.Details:
    return components.form("hang", "Where a logger hangs", "it hangs there", [
        components.choice("hang-logger", "logger", known),
        components.choice("hang-place", "place", [(place.id, place.name) for place in studio.places().values()]),
        components.choice("hang-position", "where in it", [(p, p) for p in POSITIONS], "unknown"),
        components.field("hang-on", "from", value=today),
    ])  # fmt: skip


def nowhere(studio: Studio) -> html.Section | None:
    """Each probe whose readings belong to no place, with what answers it, a line each; nothing where all hang."""
    places = [(place.id, place.name) for place in studio.places().values()]
    rows = [_hang_row(studio, id, probe, places) for id, probes in hung_nowhere(studio).items() for probe in probes]
    note = f"{several(len(rows), 'logger')} or probes read, but hang nowhere yet: no painting is judged by them."
    note += "" if places else " First enter a place, on the page of places."
    return components.section("Where does it hang?", *rows, note=note, id="nowhere") if rows else None


def _hang_row(studio: Studio, id: str, probe: str, places: list[tuple[str, str]]) -> html.Div:
    parts, key = studio.state().parts.get(id, []), f"{id}\n{probe}"
    first = pd.Timestamp(min((part.first_us for part in parts), default=0), unit="us", tz="UTC")
    name = f"{studio.loggers()[id].name}, probe {probe}" if _several(studio, id) else studio.loggers()[id].name
    return html.Div([
        components.choice({"nowhere": key, "field": "place"}, name, places),
        components.choice({"nowhere": key, "field": "position"}, "where in it", [(p, p) for p in POSITIONS], "unknown"),
        components.field({"nowhere": key, "field": "on"}, "from", value=day_of(first, studio.zone)),
        components.button({"nowhere": key}, "it hangs there", quiet=True),
    ], className="form row noprint")  # fmt: skip


def _several(studio: Studio, id: str) -> bool:
    """Whether a logger's files hold several probes."""
    with studio.reading() as connection:
        return len(probes.read(connection).get(id, ())) > 1


def _new_form(studio: Studio) -> html.Details:
    return components.form("newlogger", "A new logger", "enter it", [
        components.field("newlogger-id", "a short name", placeholder="rack"),
        components.field("newlogger-name", "name"),
        components.field("newlogger-labels", "its numbers or names, as its files call it", "with ; between",
                         placeholder="331887; rack"),
        components.field("newlogger-rh_accuracy_percent", "how far it can be off, ± % RH"),
        components.field("newlogger-temp_accuracy_c", "how far it can be off, ± °C"),
        components.field("newlogger-fetch_days", "to be fetched every … days"),
        components.field("newlogger-zone", "clock", value=studio.zone),
    ], "Files that came before under one of its names become its own.")  # fmt: skip


def _check_form(known: list[tuple[str, str]], today: str) -> html.Details:
    return components.form(
        "check",
        "A logger was checked against a reference",
        "record the check",
        [
            components.choice("check-logger", "logger", known),
            components.field("check-on", "on", value=today),
            components.field("check-rh_true", "humidity was truly, % RH"),
            components.field("check-rh_read", "and it read, % RH"),
            components.field("check-rh_true_2", "a second point: truly, % RH"),
            components.field("check-rh_read_2", "and it read, % RH"),
            components.field("check-temp_true", "temperature was truly, °C"),
            components.field("check-temp_read", "and it read, °C"),
            components.field("check-accuracy", "how far it can be off since then, ± % RH", "empty: as before"),
            components.field("check-due", "the next check is due", placeholder="2027-11-02"),
            components.field("check-basis", "against what", placeholder="salt, a checked logger beside it"),
        ],
        "Readings from that day on are corrected; as written in the files they stay as they are.",
    )


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    app.callback(
        Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True),
        Output("files-said", "children", allow_duplicate=True), Input({"nowhere": ALL}, "n_clicks"),
        State({"nowhere": ALL, "field": ALL}, "value"), State({"nowhere": ALL, "field": ALL}, "id"),
        State("again", "data"), prevent_initial_call=True,
    )(answer)  # fmt: skip
    wire(app, "newlogger", NEW, enter_new)
    wire(app, "hang", HANG, hang, whose="hang-shown")
    wire(app, "check", CHECK, check)


@on_press(3)
def answer(_clicks: list, values: list, ids: list, again: int | None):
    """Say where a probe hangs that hung nowhere."""
    which = pressed()
    return ((again or 0) + 1, _hung(which["nowhere"], values, ids), "") if which else (no_update,) * 3


def _hung(key: str, values: list, ids: list) -> html.P:
    given = {id["field"]: value or "" for value, id in zip(values, ids, strict=True) if id["nowhere"] == key}
    logger, probe = key.split("\n")
    with house().writing() as studio:
        name = studio.loggers()[require_id("logger", logger, studio.loggers())].name
        if not given["place"]:
            raise BadInput(f"{name}: choose the place where it hangs", field="place")
        if probe not in hung_nowhere(studio).get(logger, ()):
            raise BadInput(f"{name}: somebody said since where it hangs. Show the page again", field="place")
        channel = probe if _several(studio, logger) else ""
        hung = studio.set_hanging(logger, given["place"], given["on"], position=given["position"] or "unknown",
                                  channel=channel)  # fmt: skip
        where = studio.places()[given["place"]].name
    return components.notice(f"{name} hangs in {where} from {date(hung.start, studio.zone)}")


def enter_new(studio: Studio, _whose: Any, given: dict[str, str]) -> str:
    """Enter a new logger."""
    with studio.writing("entering a logger"):
        if given["id"] in studio.loggers():
            raise BadInput(f"id {given['id']!r} is taken; give it another short name", field="id", place="logger")
        studio.enter("logger", given)
    return f"Entered: {given['name'] or given['id']}"


def hang(studio: Studio, shown: dict[str, str], given: dict[str, str]) -> str:
    """Say where a logger hangs, if nobody said otherwise since the page was shown."""
    logger = require_id("logger", given["logger"], studio.loggers())
    with studio.writing("hanging a logger"):
        here = f"{given['place']} from {given['on']}"
        unchanged("where it hangs", (shown or {}).get(logger, ""), hangs(studio, logger), here, "place")
        hung = studio.set_hanging(logger, given["place"], given["on"], position=given["position"] or "unknown")
    name, where = studio.loggers()[given["logger"]].name, studio.places()[given["place"]].name
    return f"{name} hangs in {where} from {date(hung.start, studio.zone)}"


def check(studio: Studio, _whose: str, given: dict[str, str]) -> str:
    """Record a check of a logger against a reference."""
    pairs = (_pair(given, "rh_true", "rh_read"), _pair(given, "rh_true_2", "rh_read_2"))
    points, temp = tuple(pair for pair in pairs if pair), _pair(given, "temp_true", "temp_read")
    if not points and temp is None:
        raise BadInput("empty; give what was true and what it read, in humidity or in temperature", field="rh_true")
    accuracy = _number(given, "accuracy") if given["accuracy"] else None
    studio.calibrate(given["logger"], given["on"], rh_points=points, temp_point=temp, rh_accuracy_percent=accuracy,
                     due=given["due"] or None, basis=given["basis"])  # fmt: skip
    return f"The check of {studio.loggers()[given['logger']].name} is recorded"


def _pair(given: dict[str, str], true: str, read: str) -> tuple[float, float] | None:
    if not given[true] and not given[read]:
        return None
    return _number(given, true), _number(given, read)


def _number(given: dict[str, str], name: str) -> float:
    try:
        return float(given[name].replace(",", ".").replace("−", "-"))
    except ValueError:
        raise BadInput(f"{given[name]!r} is not a number", field=name) from None
