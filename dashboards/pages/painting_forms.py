"""What is entered about one painting: what was seen, a move, a treatment, a correction, its layers."""

from __future__ import annotations

from typing import Any

import pandas as pd
from dash import Dash, dcc, html

from dashboards import components, guard
from dashboards.forms import touched, unchanged, wire
from dashboards.session import house
from envwatch.archive import Studio
from envwatch.archive.climates import work_air
from envwatch.archive.register import edit_layers
from envwatch.archive.store.records import require_id
from envwatch.cases.painting.record import Dossier
from envwatch.core.dates import day_of
from envwatch.core.errors import BadInput
from envwatch.core.painting import AREAS, NOTHING_NEW, ROLES, TRIALS, CareStatus, Layer, Painting
from envwatch.core.place import POSITIONS

KINDS = ("lining", "strip-lining", "consolidation", "patch", "tear mend", "insert", "impregnation", "humidity chamber",
         "varnish", *TRIALS.values())  # fmt: skip
WHEN = "year-month-day, such as 2026-11-02; with the hour where it is known: 2026-11-02 10:30"
OBSERVE = ("sign", "where", "on", "look", "by", "finding", "confirms", "note")
MOVE = ("place", "position", "from", "until", "intended", "purpose")
EDIT = (
    "title", "maker", "made", "height_cm", "width_cm", "weight_kg", "support", "glazed", "backed", "stretcher",
    "frame_depth_mm", "tacking_margins", "ground", "varnish", "care", "care_until", "owner",
)  # fmt: skip
LAYER = ("role", "material", "area", "applied_on", "note")
YES_NO = {"yes": True, "no": False}
RELAYER, UNLAYER = ("material", "area", "applied_on", "assumed", "note"), ("because",)
MAIN = ("kind", "on", "material", "temp_interface_c", "note", "end")
# name, words, hint; in the groups in which a treatment is written down
ADHESIVE = (("layer", "done to which layer", ""), ("form", "form", "film, solution, dispersion, paste"),
            ("batch", "batch", ""), ("carrier", "solvent or water", ""), ("solids_percent", "solids, %", ""),
            ("bloom", "strength of the glue, Bloom", ""), ("thickness_um", "thickness of the film, µm", ""),
            ("coats", "coats", ""), ("amount_g_m2", "amount, g/m²", ""), ("side", "side", "back, front"))  # fmt: skip
BONDING = (
           ("temps_interface_c", "measured at several points, °C", "67; 66.5; 65"),
           ("heating_min", "heating up, min", ""), ("hold_min", "held, min", ""), ("cooling_min", "cooling, min", ""),
           ("pressure_mbar", "pressure, mbar", ""), ("weight_g_cm2", "laid on, g/cm²", ""),
           ("drying_h", "drying, h", ""), ("peel_trial", "peel trial", "N/m, or a word"),
           ("studio_temp_c", "air while it was done, °C", ""), ("studio_rh_percent", "and its humidity, % RH", ""),
)  # fmt: skip
AFTERWARDS = (("weight_after_kg", "weight afterwards, kg", ""),
              ("inspection_days", "to be looked at after how many days", "7; 28; 90"),
              ("limits_told", "limits told to the owner", ""), ("removal", "how it comes off again", ""))  # fmt: skip
GROUPS = (ADHESIVE, BONDING, AFTERWARDS)
TREAT = (*MAIN, "cloth", "strip_kept", *(name for group in GROUPS for name, _, _ in group))
HOW = (("own", "own look: raking light, front and back"), ("passing", "in passing"), ("photo", "by a photograph"),
       ("telephone", "by telephone"))  # fmt: skip
YES_OR_NO = (("yes", "yes"), ("no", "no"))


def forms(studio: Studio, told: Dossier, now: pd.Timestamp, layer: str) -> html.Section | None:
    """All forms of the page. `layer`: the one that is to be corrected, as its link names it; or empty."""
    today = str(now.tz_convert(studio.zone).date())
    return components.section(
        "Enter", _relayer_forms(studio, told.painting, layer), _observe_form(told, today), _move_form(studio, today),
        _treat_form(studio, today), _edit_form(told.painting, studio.zone), _layer_form(studio),
        note=f"Days are written as {WHEN}.",
    )  # fmt: skip


def _observe_form(told: Dossier, today: str) -> html.Div:
    raised = told.line.verdict.raised if told.line else ()
    about = [(str(f.number), f"{f.number}: {f.hazard}, {f.layer}") for f in raised if f.number is not None]
    return components.form(
        "observe",
        "What was seen, or what a client said on the telephone",
        "log it",
        [
            components.field(
                "observe-sign",
                "what was seen",
                "with how it was looked at, left empty: nothing new",
                placeholder="slack, ripples, bloom",
            ),
            components.field("observe-where", "where on the painting"),
            components.field("observe-on", "when", value=today),
            components.choice("observe-look", "how it was looked at", HOW, clearable=True),
            components.field("observe-by", "who looked", persistence=True, persistence_type="local"),
            components.choice("observe-finding", "does it speak to a finding?", about, clearable=True),
            components.choice(
                "observe-confirms", "and does it", [("yes", "bear it out"), ("no", "deny it")], clearable=True
            ),
            components.field("observe-note", "who said it, and other words"),
        ],
    )


def _move_form(studio: Studio, today: str) -> html.Div:
    places = [(place.id, place.name) for place in studio.places().values()]
    return components.form("move", "Move it", "move it", [
        components.choice("move-place", "to", places),
        components.choice("move-position", "where in it", [(p, p) for p in POSITIONS], "unknown"),
        components.field("move-from", "from", value=today),
        components.field("move-until", "until, if that is known"),
        components.choice("move-intended", "meant as a treatment, such as a chamber?", YES_OR_NO, clearable=True),
        components.field("move-purpose", "what for"),
    ])  # fmt: skip


def _treat_form(studio: Studio, today: str) -> html.Div:
    profiles = studio.materials()
    bound = [(key, p.label) for key, p in profiles.items() if p.adhesive or p.kind == "varnish"]
    cloths = [(key, p.label) for key, p in profiles.items() if "lining canvas" in p.roles]
    return components.form("treat", "Record a treatment", "record it", [
        components.choice("treat-kind", "what", [(kind, kind) for kind in KINDS]),
        components.field("treat-on", "when", value=today),
        components.choice("treat-material", "with", bound, clearable=True),
        components.field("treat-temp_interface_c", "heat at the adhesive, °C"),
        components.choice("treat-cloth", "onto which cloth", cloths, clearable=True),
        components.field("treat-end", "until", "a chamber, a drying that is still on"),
        components.field("treat-note", "in your words"),
        _group("The adhesive", ADHESIVE),
        _group("Heat, pressure, trial, air", BONDING,
               components.choice("treat-strip_kept", "a test strip is kept", YES_OR_NO, clearable=True)),
        _group("Afterwards", AFTERWARDS),
    ], "The layer that it leaves is put into the stack with it.")  # fmt: skip


def _group(title: str, group: tuple[tuple[str, str, str], ...], *more: Any) -> html.Details:
    fields = [components.field(f"treat-{name}", words, hint) for name, words, hint in group]
    return html.Details([html.Summary(title), html.Div([*fields, *more], className="fields")], className="group")


def _edit_form(painting: Painting, zone: str) -> html.Details:
    shown = edited(painting, zone)

    def yes_no(name: str, label: str):
        return components.choice(f"edit-{name}", label, YES_OR_NO, shown[name] or None, clearable=True)

    def line(name: str, label: str):
        return components.field(f"edit-{name}", label, value=shown[name])

    return components.form("edit", "Correct what is known of it", "correct it", [
        dcc.Store(id="edit-of", data={"id": painting.id, "shown": shown, "owner": guard.sealed(painting.owner)}),
        line("title", "title"), line("maker", "maker"), line("made", "made"), line("height_cm", "height, cm"),
        line("width_cm", "width, cm"), line("weight_kg", "weight, kg"), line("support", "support"),
        yes_no("glazed", "glazed"), yes_no("backed", "backing board"), line("stretcher", "stretcher"),
        line("frame_depth_mm", "depth of the frame, mm"), line("tacking_margins", "tacking margins"),
        line("ground", "ground"), line("varnish", "varnish"),
        components.choice("edit-care", "care", [(c.value, c.value) for c in CareStatus], painting.care.value),
        line("care_until", "until which day"),
        components.field("edit-owner", "another owner", placeholder="as it is"),
    ])  # fmt: skip


def edited(painting: Painting, zone: str) -> dict[str, str]:
    """What the form to correct a painting shows, by field."""

    def cell(value: object) -> str:
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, pd.Timestamp):
            return day_of(value, zone)
        return "" if value is None else f"{value:.15g}" if isinstance(value, float) else str(value)

    return {name: cell(getattr(painting, name)) for name in EDIT if name != "owner"}


def _layer_form(studio: Studio) -> html.Details:
    kinds = [(key, profile.label) for key, profile in studio.materials().items()]
    return components.form("layer", "Add a layer", "add it", [
        components.choice("layer-role", "what it is", [(role, role) for role in ROLES]),
        components.choice("layer-material", "of what", kinds),
        components.choice("layer-area", "where", [(area, area) for area in AREAS], "whole"),
        components.field("layer-applied_on", "put on"), components.field("layer-note", "in your words"),
    ], "It takes the place that its kind has in a stack.")  # fmt: skip


def key(number: int, layer: Layer) -> str:
    """A layer as an address names it; no longer the same once it was changed.

    >>> key(6, Layer("film", "bees_wax"))
    '6-film-bees_wax'
    """
    return f"{number}-{layer.role.replace(' ', '_')}-{layer.material}"


def _relayer_forms(studio: Studio, painting: Painting, wanted: str) -> html.Div | None:
    """The layer that the address names, to be corrected or taken out; nothing where it is not there any more."""
    entered = [(n, layer) for n, layer in enumerate(painting.layers, 1) if edit_layers.entered(layer)]
    found = [(n, layer) for n, layer in entered if key(n, layer) == wanted]
    if not found:
        return None
    number, layer = found[0]
    kinds = [(id, profile.label) for id, profile in studio.materials().items()]
    if layer.material not in dict(kinds):
        kinds.append((layer.material, layer.material))
    shown = relayered(studio, layer)
    called = f"layer {number}, {layer.role}"
    return html.Div([
        dcc.Store(id="layer-of", data={"id": painting.id, "number": number, "role": layer.role, "shown": shown}),
        components.form("relayer", f"Correct {called}", "correct it", [
            components.choice("relayer-material", "of what", kinds, layer.material),
            components.choice("relayer-area", "where", [(a, a) for a in AREAS], layer.area),
            components.field("relayer-applied_on", "put on", value=shown["applied_on"]),
            components.choice("relayer-assumed", "assumed?", YES_OR_NO, shown["assumed"]),
            components.field("relayer-note", "in your words", value=layer.note),
        ], "What it was before is kept under what was done, as a correction.", opened=True),
        components.form("unlayer", f"Take {called} out of the record", "take it out", [
            components.field("unlayer-because", "because", placeholder="entered twice; came off with the old lining"),
        ], "It is then judged no longer, but what a lining on record left is taken for granted again. The reason is "
           "kept under what was done."),
    ])  # fmt: skip


def relayered(studio: Studio, layer: Layer) -> dict[str, str]:
    """What the form to correct a layer shows, by field."""
    day = "" if layer.applied_on is None else day_of(layer.applied_on, studio.zone)[: 4 if layer.year_only else 10]
    return {"material": layer.material, "area": str(layer.area), "assumed": "yes" if layer.assumed else "no",
            "applied_on": day, "note": layer.note}  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens on a press."""
    made = (("observe", OBSERVE, observe), ("move", MOVE, move), ("treat", TREAT, treat), ("layer", LAYER, add_layer))
    for name, fields, enter in made:
        wire(app, name, fields, enter, whose="painting-id")
    wire(app, "edit", EDIT, edit, whose="edit-of")
    wire(app, "relayer", RELAYER, correct_layer, whose="layer-of")
    wire(app, "unlayer", UNLAYER, take_out_layer, whose="layer-of")


def observe(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Log what was seen."""
    about = int(given["finding"]) if given["finding"] else None
    sign = given["sign"] or (NOTHING_NEW if given["look"] else "")
    seen = studio.observe(id, given["on"], sign, where=given["where"], note=given["note"], finding=about,
                          confirms=YES_NO.get(given["confirms"]), look=given["look"], by=given["by"])  # fmt: skip
    return f"Logged: {seen.sign}{f' ({seen.how})' if seen.how else ''}"


def move(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Move the painting."""
    rest = {name: given[name] for name in ("position", "purpose", "until")}
    rest["intended"] = given["intended"] == "yes"
    return f"Moved to {studio.places()[studio.move(id, given['place'], given['from'], **rest).place_id].name}"


def treat(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Record a treatment, and the layer that it leaves."""
    told = {name: cell for name, cell in given.items() if name not in ("kind", "on")}
    rest, air = work_air.added(studio, studio.paintings()[id], given["on"], told)
    kind = studio.treat(id, given["kind"], given["on"], **rest).kind
    return f"Recorded: {kind}. {air.partition(';')[0]}" if air else f"Recorded: {kind}"


def edit(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> str:
    """Correct what the register has of the painting: what was changed in the form, and an owner where one is named."""
    id = whose["id"]
    with studio.writing("correcting a painting"):
        painting = studio.paintings()[require_id("painting", id, studio.paintings())]
        cells = touched(whose["shown"], given, edited(painting, studio.zone), f"painting {id}")
        if "owner" in cells and whose["owner"] != guard.sealed(painting.owner):
            raise BadInput("the owner was changed since; this one was not taken. Show the page again",
                           field="owner", place=f"painting {id}")  # fmt: skip
        if not cells:
            raise BadInput("nothing differs from what this page showed", place=f"painting {id}")
        studio.enter("painting", {"id": id} | cells)
    return f"Corrected: {', '.join(name.replace('_', ' ') for name in cells)}"


def add_layer(studio: Studio, id: str, given: dict[str, str]) -> str:
    """Add a layer to the stack."""
    studio.enter("layer", {"painting": id} | given)
    return f"Added: {given['role']}"


def correct_layer(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> str:
    """Correct a layer of the stack: what was changed in the form."""
    with studio.writing("correcting a layer"):
        _same_layer(studio, whose, given)
        cells = touched(whose["shown"], given, whose["shown"], "")
        return f"Corrected: {edit_layers.change(studio, whose['id'], whose['number'], cells, _today(studio))}"


def take_out_layer(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> str:
    """Take a layer out of the stack."""
    with studio.writing("taking out a layer"):
        _same_layer(studio, whose, {})
        done = edit_layers.take_out(studio, whose["id"], whose["number"], given["because"], _today(studio))
    return f"Taken out: {done}"


def _same_layer(studio: Studio, whose: dict[str, Any], given: dict[str, str]) -> None:
    """The layer that the form showed still stands at its place, as it was; another may have come before it."""
    stack = studio.paintings()[require_id("painting", whose["id"], studio.paintings())].layers
    at, place = whose["number"] - 1, f"layer {whose['number']} of {whose['id']}"
    layer = stack[at] if at < len(stack) else None
    unchanged("it", whose["role"], layer and str(layer.role), "what this form says", place=place)
    for name, cell in relayered(studio, layer).items() if layer else ():
        unchanged(name.replace("_", " "), whose["shown"][name], cell, given.get(name, "what this form says"),
                  name if given else "", place)  # fmt: skip


def _today(studio: Studio) -> str:
    return str(house().now().tz_convert(studio.zone).date())
