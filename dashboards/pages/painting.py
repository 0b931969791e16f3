"""One painting: how it is, what it went through, its layers, what was said and done; and what to enter."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

import pandas as pd
from dash import Dash, dcc, html
from flask import Response, request

from dashboards import components
from dashboards.pages import apart, corrections, looks, painting_forms
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.archive.register import edit_layers
from envwatch.archive.upkeep.bundle import write_bundle
from envwatch.cases import timeline
from envwatch.cases.painting import handover, record
from envwatch.cases.painting.record import Dossier, LayerFindings, by_layer
from envwatch.cases.review import PaintingLine
from envwatch.core.errors import EnvwatchError, NotThere
from envwatch.core.findings import Finding
from envwatch.core.painting import Area, Layer, Stay, Treatment
from envwatch.core.text import date, stamp
from envwatch.figures.review import LOOKS_BACK_DAYS
from envwatch.present.ledger import all_whereabouts, story
from envwatch.present.paper.dossier import dossier as printed
from envwatch.present.words import measure, noted, unseen

PATH, NAME, UNDER = "/painting/", "", ()


def layout(home: StudioSession, rest: str, asked: dict[str, str]) -> html.Div:
    """The page of one painting, by its number; `layer` or `row` in the address opens what is to be corrected."""
    with home.reading() as studio:
        id = rest.strip("/")
        if id not in studio.paintings():  # words, an owner's name too, are no address
            raise NotThere(f"no painting has the number {id}")
        told = record.of(studio, id, home.now())
        return html.Div([
            _head(told), _how(told), _ribbon(studio, told, home.now()), _layers(studio, told), _told(told, studio),
            corrections.form(studio, asked.get("row", ""), (id,)),
            painting_forms.forms(studio, told, home.now(), asked.get("layer", "")),
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
        looks.tap(painting, told.zone, house().now()),
        html.Div([html.A("log what was seen or said", href="#observe"), html.A("move it", href="#move"),
                  html.A("record a treatment", href="#treat"),
                  dcc.Link("the client rings", href=f"/around?ask=call&painting={quote(painting.id)}"),
                  dcc.Link("its owner", href=apart.address(painting.id, "owner")),
                  dcc.Link("its value", href=apart.address(painting.id, "value")),
                  html.A("the dossier (PDF)", href=f"/dossier.pdf?painting={quote(painting.id)}"),
                  html.A("with its evidence (ZIP)", href=f"/dossier.zip?painting={quote(painting.id)}"),
                  components.print_button()], className="actions noprint"),
        *(html.P(note, className="opening") for note in (*told.opening, *filter(None, (told.waits,)))),
        *(html.P(note, className="opening") for note in told.revised),
    ])  # fmt: skip


def _standing(told: Dossier) -> str:
    line = told.line
    seen = f"; air seen until {stamp(line.seen_until, told.zone)}" if line and line.seen_until is not None else ""
    where = all_whereabouts(line, line.headline) if line else "whereabouts unknown"
    return f"{where}; {told.painting.care.value}{seen}"


def _how(told: Dossier) -> html.Section | None:
    line = told.line
    if line is None:
        return components.section("How it is", html.P("Not known: nothing was read."))
    head = [line.headline] if line.headline else []
    calm = None if head else html.P(components.level(line.level))
    return components.section(
        f"How it is, {told.label}",
        calm,
        *(_finding(f, told) for f in head),
        components.drying(line),
        _also(line, told),
        html.P([html.Strong("Not known: "), unseen(line.verdict, told.zone)]) if line.verdict.unseen else None,
        components.more("assumed, or to be known", components.items(line.verdict.notes))
        if line.verdict.notes
        else None,
    )


def _also(line: PaintingLine, told: Dossier) -> html.Div | None:
    """What else was found, in a sentence each, and since when."""
    found = [
        html.Div([components.level(f.level), html.Div([components.sentence(f, told.label),
                  html.P(story(line, f, told.zone), className="quiet")])], className="other")
        for f in line.others
    ]  # fmt: skip
    return html.Div([html.H3("Also"), *found]) if found else None


def _finding(finding: Finding, told: Dossier) -> html.Article:
    zone = told.zone
    assert told.line is not None, "a finding without a line"
    by = f" By {date(finding.by, zone)}." if finding.by is not None else ""
    return html.Article([
        html.Div(components.level(finding.level), className="beside"),
        html.Div([
            components.sentence(finding, told.label),
            html.P(finding.ordinary) if finding.ordinary else None,
            html.P(story(told.line, finding, zone), className="quiet"),
            html.P([html.Strong("Do: "), finding.do + by], className="do") if finding.do else None,
            components.more("value, look for, do not, what clears it",
                       components.facts([("value", measure(finding)), ("look for", finding.look_for),
                                    ("do not", finding.avoid), ("cleared by", finding.clears)])),
        ], className="told"),
    ], className="painting")  # fmt: skip


def _ribbon(studio: Studio, told: Dossier, now: pd.Timestamp) -> html.Section | None:
    line = told.line
    if line is None or not told.painting.stays:
        return None
    end = line.verdict.end
    start = max(told.painting.stays[0].start, end - pd.Timedelta(days=float(LOOKS_BACK_DAYS)))
    shown = timeline.of_painting(studio, told.painting, start, end, line.verdict.raised)
    return components.section("What it went through", components.chart("ribbon", shown, "painting", height=480))


# ---------------------------------------------------------------------------------------- layers, said and done


def _layers(studio: Studio, told: Dossier) -> html.Section | None:
    findings = told.line.verdict.findings if told.line else ()
    layers, rest = by_layer(told.painting, findings)
    rows = [_layer(t, n, told, studio) for n, t in enumerate(layers, 1)]
    together = [_short(f, told.label, with_layer=True) for f in rest]
    return components.section(
        "Layers, front to back", html.Ol(rows, className="layers"),
        html.Div([html.H3("Several layers at once"), html.Ul(together, className="short")]) if together else None,
    )  # fmt: skip


def _layer(told: LayerFindings, number: int, of: Dossier, studio: Studio) -> html.Li:
    name = html.Strong(told.layer.role)
    there = f"/painting/{quote(of.painting.id)}?layer={quote(painting_forms.key(number, told.layer))}#relayer"
    shown = [_short(f, of.label) for f in told.findings]
    return html.Li([
        html.P([name, f": {_material(told.layer, studio)}{_layer_facts(told.layer, of.zone)} ",
                dcc.Link("correct", href=there, className="why noprint",
                         title=f"correct layer {number}, {told.layer.role}, or take it out")
                if edit_layers.entered(told.layer) else None]),
        html.Ul(shown, className="short") if shown else None,
    ])  # fmt: skip


def _material(layer: Layer, studio: Studio) -> str:
    profile = studio.materials().get(layer.material)
    return profile.label if profile else layer.material.replace("_", " ")


def _layer_facts(layer: Layer, zone: str) -> str:
    applied = f"put on {date(layer.applied_on, zone, layer.year_only)}" if layer.applied_on is not None else ""
    area = "" if layer.area == Area.WHOLE else layer.area
    told = [area, applied, "assumed" if layer.assumed else "", layer.note]
    return "".join(f"; {part}" for part in told if part)


def _short(finding: Finding, week: str, with_layer: bool = False) -> html.Li:
    what = f"{finding.hazard}, {finding.mechanism}" + (f", {finding.layer}" if with_layer else "")
    return html.Li([components.level(finding.level), html.Span(f" {what}: {measure(finding) or finding.sentence} "),
                    components.why_link(finding, week)])  # fmt: skip


def _told(told: Dossier, studio: Studio) -> html.Section | None:
    painting, zone = told.painting, told.zone
    links = corrections.links(studio, painting.id, f"{PATH}{quote(painting.id)}")
    done = [[_done(one, studio, zone), *links("treatment", one.id)] for one in painting.treatments]
    stays = [[_stay(s, told), *links("stay", s.place_id, s.start)] for s in painting.stays]
    tasks = [f"{t.number}: {t.what} ({t.state}{': ' + t.note if t.note else ''})" for t in told.tasks]
    seen = [[noted(sign, zone), *links("observation", sign.seen.sign, sign.seen.on)] for sign in told.signs]
    groups = (("Seen and said", seen), ("Done", done), ("Where it stood", stays), ("Tasks", tasks),
              ("Said in earlier reviews", told.said))  # fmt: skip
    return components.section(
        "Seen, said and done", components.facts([(title, components.items(lines)) for title, lines in groups])
    )


def _stay(stay: Stay, told: Dossier) -> str:
    what = f" (intended: {stay.purpose})" if stay.intended else f"; {stay.purpose}" if stay.purpose else ""
    until = date(stay.end, told.zone) or "now"
    return f"{date(stay.start, told.zone)} to {until}: {told.places[stay.place_id]}, {stay.position}{what}"


def _done(treatment: Treatment, studio: Studio, zone: str) -> str:
    profile = studio.materials().get(treatment.material)
    material = profile.short if profile else treatment.material.replace("_", " ")
    what = f"{treatment.kind}, {material}" if material else treatment.kind
    return f"{date(treatment.on, zone, treatment.year_only)}: {what}{'; ' + treatment.note if treatment.note else ''}"


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    painting_forms.callbacks(app)
    corrections.callbacks(app)
    app.server.add_url_rule("/dossier.pdf", "dossier", paper)
    app.server.add_url_rule("/dossier.zip", "evidence", evidence)


def paper() -> Response:
    """The dossier of one painting, as `envwatch dossier` prints it; without the owner."""
    try:
        result, _files = _handover(request.args.get("painting", ""))
    except EnvwatchError as error:
        return Response(str(error), 404, mimetype="text/plain")
    return components.sent(printed(result), f"dossier-{result.painting.id}.pdf")


def evidence() -> Response:
    """The dossier with the logger files and tables behind it, as one ZIP file; without the owner."""
    try:
        result, files = _handover(request.args.get("painting", ""), bundled=True)
    except EnvwatchError as error:
        return Response(str(error), 404, mimetype="text/plain")
    return components.sent(files.content, f"dossier-{result.painting.id}{files.short}.zip", "application/zip")


class _Bundle(NamedTuple):
    content: bytes = b""
    short: str = ""  # for its name, where an original is gone or was changed and so is not in it


def _handover(id: str, bundled: bool = False) -> tuple[handover.Handover, _Bundle]:
    home = house()
    with home.writing() as studio:  # of its own: it takes a while, and nobody needs to wait for it
        if id not in studio.paintings():
            raise NotThere(f"no painting has the number {id}")
        result = handover.of(studio, id, home.now())
        return result, _bundle(studio, result, home.now()) if bundled else _Bundle()


def _bundle(studio: Studio, result: handover.Handover, now: pd.Timestamp) -> _Bundle:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dossier.zip"
        papers = {"dossier.pdf": printed(result), **handover.papers(studio, result)}
        held = write_bundle(studio, path, papers, result.files, now, result.names)
        return _Bundle(path.read_bytes(), "-without-every-original" if held.problems else "")
