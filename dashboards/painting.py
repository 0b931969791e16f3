"""One painting: how it is, what it went through, its layers, what was said and done; and what to enter."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
import pandas as pd
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboards import guard, parts
from dashboards.entering import wire
from dashboards.house import House, house
from envwatch import course, desk, dossier
from envwatch.archive import Studio
from envwatch.dossier import Dossier
from envwatch.errors import NotThere
from envwatch.figures.review import HISTORY_DAYS
from envwatch.records import AREAS, POSITIONS, ROLES, CareStatus, Finding, Layer, Painting
from envwatch.review import PaintingLine
from envwatch.wording import date, measure, stamp, unseen

PATH, NAME, UNDER = "/painting/", "", ()
KINDS = ("lining", "strip-lining", "consolidation", "patch", "tear mend", "impregnation", "humidity chamber", "varnish")
WHEN = "year-month-day, such as 2026-11-02; with the hour where it is known: 2026-11-02 10:30"


def layout(home: House, rest: str, _asked: dict[str, str]) -> html.Div:
    """The page of one painting, by its number."""
    with home.reading() as studio:
        id = rest.strip("/")
        if id not in studio.paintings():  # words, an owner's name too, are no address
            raise NotThere(f"no painting has the number {id}")
        told = dossier.of(studio, id, home.now())
        return html.Div([
            _head(told), _how(told), _ribbon(studio, told, home.now()), _layers(studio, told), _told(told),
            _forms(studio, told, home.now()),
            dcc.Store(id="painting-id", data=told.painting.id),
        ])  # fmt: skip


def _head(told: Dossier) -> html.Div:
    painting = told.painting
    size = f"{painting.height_cm:g} × {painting.width_cm:g} cm" if painting.height_cm and painting.width_cm else ""
    kind = (painting.maker or "maker not known", painting.made or "undated", size, painting.support)
    return html.Div([
        html.H1(painting.title or "(no title)"),
        html.P([html.Span(painting.id, className="number"), ", ".join(part for part in kind if part)]),
        html.P(_standing(told), className="where"),
        html.Div(_owner(painting), id="owner", className="noprint"),
        html.Div([html.A("log what was seen or said", href="#observe"), html.A("move it", href="#move"),
                  html.A("record a treatment", href="#treat"), parts.print_button()], className="actions noprint"),
        *(html.P(note, className="opening") for note in told.opening),
    ])  # fmt: skip


def _standing(told: Dossier) -> str:
    line = told.line
    seen = f"; air seen until {stamp(line.seen_until, told.zone)}" if line and line.seen_until is not None else ""
    return f"{line.where if line else 'whereabouts unknown'}; {told.painting.care.value}{seen}"


def _owner(painting: Painting) -> Any:
    if not painting.owner:
        return None
    if guard.owners_shown():
        return html.P(f"Owner: {painting.owner}")
    asks = bool(house_door().passphrase_hash)
    word = dmc.PasswordInput(id="owner-word", label="passphrase", display="block" if asks else "none", w="14rem")
    return html.Div([word, parts.button("owner-show", "show the owner", quiet=True), html.Span(id="owner-said")],
                    className="form inline")  # fmt: skip


def house_door() -> guard.Door:
    """The door of this app."""
    from flask import current_app

    return current_app.config["DOOR"]


def _how(told: Dossier) -> html.Section | None:
    line = told.line
    if line is None:
        return parts.section("How it is", html.P("Not known: nothing was read."))
    head = [line.headline] if line.headline else []
    calm = None if head else html.P(parts.level(line.level))
    return parts.section(
        f"How it is, {told.label}", calm, *(_finding(f, told.zone) for f in head), _also(line),
        html.P([html.Strong("Not known: "), unseen(line.verdict, told.zone)]) if line.verdict.unseen else None,
        parts.more("assumed, or to be known", parts.items(line.verdict.notes)) if line.verdict.notes else None,
    )  # fmt: skip


def _also(line: PaintingLine) -> html.Div | None:
    """What else was found, in a sentence each."""
    found = [html.Div([parts.level(f.level), parts.sentence(f)], className="other") for f in line.others]
    return html.Div([html.H3("Also"), *found]) if found else None


def _finding(finding: Finding, zone: str) -> html.Article:
    by = f" By {date(finding.by, zone)}." if finding.by is not None else ""
    return html.Article([
        html.Div(parts.level(finding.level), className="beside"),
        html.Div([
            parts.sentence(finding),
            html.P(parts.since(finding, zone), className="quiet"),
            html.P([html.Strong("Do: "), finding.do + by], className="do") if finding.do else None,
            parts.more("value, look for, do not, what clears it",
                       parts.facts([("value", measure(finding)), ("look for", finding.look_for),
                                    ("do not", finding.avoid), ("cleared by", finding.clears)])),
        ], className="told"),
    ], className="painting")  # fmt: skip


def _ribbon(studio: Studio, told: Dossier, now: pd.Timestamp) -> html.Section | None:
    line = told.line
    if line is None or not told.painting.stays:
        return None
    end = line.verdict.end
    start = max(told.painting.stays[0].start, end - pd.Timedelta(days=float(HISTORY_DAYS)))
    shown = course.of_painting(studio, told.painting, start, end, line.verdict.raised)
    return parts.section("What it went through", parts.chart("ribbon", shown, "painting", height=480))


# ---------------------------------------------------------------------------------------- layers, said and done


def _layers(studio: Studio, told: Dossier) -> html.Section | None:
    findings = told.line.verdict.findings if told.line else ()
    layers, rest = desk.by_layer(told.painting, findings)
    rows = [_layer(t, studio, told.zone) for t in layers]
    together = [_short(f, with_layer=True) for f in rest]
    return parts.section(
        "Layers, front to back", html.Ol(rows, className="layers"),
        html.Div([html.H3("Several layers at once"), html.Ul(together, className="short")]) if together else None,
    )  # fmt: skip


def _layer(told: desk.Told, studio: Studio, zone: str) -> html.Li:
    name = html.Strong(told.layer.role)
    shown = [_short(f) for f in told.findings]
    return html.Li([
        html.P([name, f": {_material(told.layer, studio)}{_layer_facts(told.layer, zone)}"]),
        html.Ul(shown, className="short") if shown else None,
    ])  # fmt: skip


def _material(layer: Layer, studio: Studio) -> str:
    profile = studio.materials().get(layer.material)
    return profile.label if profile else layer.material.replace("_", " ")


def _layer_facts(layer: Layer, zone: str) -> str:
    applied = f"put on {date(layer.applied_on, zone)}" if layer.applied_on is not None else ""
    area = "" if layer.area == "whole" else layer.area
    told = [area, applied, "assumed" if layer.assumed else "", layer.note]
    return "".join(f"; {part}" for part in told if part)


def _short(finding: Finding, with_layer: bool = False) -> html.Li:
    what = f"{finding.hazard}, {finding.mechanism}" + (f", {finding.layer}" if with_layer else "")
    return html.Li([parts.level(finding.level), html.Span(f" {what}: {measure(finding) or finding.sentence} "),
                    parts.why_link(finding)])  # fmt: skip


def _told(told: Dossier) -> html.Section | None:
    painting, zone = told.painting, told.zone
    done = [
        f"{date(t.on, zone)}: {t.kind} {t.material.replace('_', ' ')}{'; ' + t.note if t.note else ''}"
        for t in painting.treatments
    ]
    stays = [
        f"{date(s.start, zone)} to {date(s.end, zone) or 'now'}: {told.places[s.place_id]}, {s.position}"
        + (f" (intended: {s.purpose})" if s.intended else f"; {s.purpose}" if s.purpose else "")
        for s in painting.stays
    ]
    tasks = [f"{t.number}: {t.what} ({t.state}{': ' + t.note if t.note else ''})" for t in told.tasks]
    seen = [_observation(o, zone) for o in painting.observations]
    groups = (("Seen and said", seen), ("Done", done), ("Where it stood", stays), ("Tasks", tasks),
              ("Said in earlier reviews", told.said))  # fmt: skip
    return parts.section("Seen, said and done", parts.facts([(title, parts.items(lines)) for title, lines in groups]))


def _observation(seen: Any, zone: str) -> str:
    bears = {True: ", bears out", False: ", denies", None: ", about"}[seen.confirms]
    about = f"{bears} finding {seen.finding}" if seen.finding is not None else ""
    where, note = (f", {seen.where}" if seen.where else ""), (f"; {seen.note}" if seen.note else "")
    return f"{date(seen.on, zone)}: {seen.sign}{where}{about}{note}"


# --------------------------------------------------------------------------------------------------------- forms

OBSERVE = ("sign", "where", "on", "finding", "confirms", "note")
MOVE = ("place", "position", "from", "until", "purpose")
EDIT = (
    "title", "maker", "made", "height_cm", "width_cm", "weight_kg", "support", "glazed", "backed", "stretcher",
    "frame_depth_mm", "tacking_margins", "care", "owner",
)  # fmt: skip
LAYER = ("role", "material", "area", "applied_on", "note")
YES_NO = {"yes": True, "no": False}
TREAT = ("kind", "on", "material", "temp_interface_c", "note")


def _forms(studio: Studio, told: Dossier, now: pd.Timestamp) -> html.Section | None:
    today = str(now.tz_convert(studio.zone).date())
    return parts.section(
        "Enter", _observe_form(told, today), _move_form(studio, today), _treat_form(studio, today),
        _edit_form(told.painting), _layer_form(studio),
        note=f"Days are written as {WHEN}.",
    )  # fmt: skip


def _observe_form(told: Dossier, today: str) -> html.Div:
    raised = told.line.verdict.raised if told.line else ()
    about = [(str(f.number), f"{f.number}: {f.hazard}, {f.layer}") for f in raised if f.number is not None]
    return parts.form("observe", "What was seen, or what a client said on the telephone", "log it", [
        parts.field("observe-sign", "what was seen", placeholder="slack, ripples, bloom, nothing"),
        parts.field("observe-where", "where on the painting"),
        parts.field("observe-on", "when", value=today),
        parts.choice("observe-finding", "does it speak to a finding?", about, clearable=True),
        parts.choice("observe-confirms", "and does it", [("yes", "bear it out"), ("no", "deny it")], clearable=True),
        parts.field("observe-note", "who said it, and other words"),
    ])  # fmt: skip


def _move_form(studio: Studio, today: str) -> html.Div:
    places = [(place.id, place.name) for place in studio.places().values()]
    return parts.form("move", "Move it", "move it", [
        parts.choice("move-place", "to", places),
        parts.choice("move-position", "where in it", [(p, p) for p in POSITIONS], "unknown"),
        parts.field("move-from", "from", value=today),
        parts.field("move-until", "until, if that is known"),
        parts.field("move-purpose", "what for"),
    ])  # fmt: skip


def _treat_form(studio: Studio, today: str) -> html.Div:
    bound = [(key, p.label) for key, p in studio.materials().items() if p.adhesive]
    return parts.form("treat", "Record a treatment", "record it", [
        parts.choice("treat-kind", "what", [(kind, kind) for kind in KINDS]),
        parts.field("treat-on", "when", value=today),
        parts.choice("treat-material", "with", bound, clearable=True),
        parts.field("treat-temp_interface_c", "heat at the adhesive, °C"),
        parts.field("treat-note", "batch, pressure, in your words"),
    ])  # fmt: skip


def _edit_form(painting: Painting) -> html.Details:
    def yes_no(name: str, label: str):
        value = {True: "yes", False: "no", None: None}[getattr(painting, name)]
        return parts.choice(f"edit-{name}", label, [("yes", "yes"), ("no", "no")], value, clearable=True)

    def line(name: str, label: str):
        value = getattr(painting, name)
        text = value if isinstance(value, str) else "" if value is None else f"{value:g}"
        return parts.field(f"edit-{name}", label, value=text)

    return parts.form("edit", "Correct what is known of it", "correct it", [
        line("title", "title"), line("maker", "maker"), line("made", "made"), line("height_cm", "height, cm"),
        line("width_cm", "width, cm"), line("weight_kg", "weight, kg"), line("support", "support"),
        yes_no("glazed", "glazed"), yes_no("backed", "backing board"), line("stretcher", "stretcher"),
        line("frame_depth_mm", "depth of the frame, mm"), line("tacking_margins", "tacking margins"),
        parts.choice("edit-care", "care", [(c.value, c.value) for c in CareStatus], painting.care.value,
                     allowDeselect=False),
        parts.field("edit-owner", "another owner", placeholder="as it is"),
    ])  # fmt: skip


def _layer_form(studio: Studio) -> html.Details:
    kinds = [(key, profile.label) for key, profile in studio.materials().items()]
    return parts.form("layer", "Add a layer", "add it", [
        parts.choice("layer-role", "what it is", [(role, role) for role in ROLES]),
        parts.choice("layer-material", "of what", kinds),
        parts.choice("layer-area", "where", [(area, area) for area in AREAS], "whole", allowDeselect=False),
        parts.field("layer-applied_on", "put on"), parts.field("layer-note", "in your words"),
    ], "It takes the place that its kind has in a stack.")  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    forms = (("observe", OBSERVE, observe), ("move", MOVE, move), ("treat", TREAT, treat), ("edit", EDIT, edit),
             ("layer", LAYER, add_layer))  # fmt: skip
    for name, fields, enter in forms:
        wire(app, name, fields, enter, whose="painting-id")
    app.callback(Output("owner", "children"), Output("owner-said", "children"), Input("owner-show", "n_clicks"),
                 State("owner-word", "value"), State("painting-id", "data"),
                 prevent_initial_call=True)(show_owner)  # fmt: skip


def observe(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Log what was seen."""
    about = int(given["finding"]) if given["finding"] else None
    seen = studio.observe(id, given["on"], given["sign"], where=given["where"], note=given["note"], finding=about,
                          confirms=YES_NO.get(given["confirms"]))  # fmt: skip
    return f"Logged: {seen.sign}"


def move(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Move the painting."""
    rest = {name: given[name] for name in ("position", "purpose", "until")}
    return f"Moved to {studio.places()[studio.move(id, given['place'], given['from'], **rest).place_id].name}"


def treat(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Record a treatment, and the layer that it leaves."""
    rest = {name: given[name] for name in ("material", "note", "temp_interface_c")}
    return f"Recorded: {studio.treat(id, given['kind'], given['on'], **rest).kind}"


def edit(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Correct what the register has of the painting; an owner only where one is named."""
    studio.enter("painting", {"id": id} | {name: cell for name, cell in given.items() if name != "owner" or cell})
    return "Corrected"


def add_layer(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Add a layer to the stack."""
    studio.enter("layer", {"painting": id} | given)
    return f"Added: {given['role']}"


def show_owner(clicks: int, word: str, id: str):
    """Show the owner's name, in this session."""
    wrong = guard.unlock(house_door(), word) if clicks else " "
    if wrong:
        return no_update, wrong
    with house().reading() as studio:
        return _owner(studio.paintings()[id]), ""
