"""Why: from a figure to the chain behind it, printable."""

from __future__ import annotations

import math

from dash import Dash, html

from dashboards import components
from dashboards.session import StudioSession
from envwatch.cases.painting.why import Chain, chain
from envwatch.core.errors import BadInput
from envwatch.core.findings import Finding, judgement
from envwatch.core.text import stamp
from envwatch.present.ledger import then_and_now
from envwatch.present.words import measure, trust

PATH, NAME, UNDER = "/why/", "", ()


def layout(home: StudioSession, rest: str, asked: dict[str, str]) -> html.Div:
    """The chain behind one finding, by its number; `week` in the address names the week, else its last kept review."""
    if not rest.strip("/").isdigit():
        raise BadInput(f"{rest}: a finding's number is asked for, such as /why/8")
    with home.reading() as studio:
        return _page(chain(studio, int(rest.strip("/")), home.now(), asked.get("week")))


def _page(told: Chain) -> html.Div:
    finding, zone = told.finding, told.period.zone
    at = f"{finding.hazard}, {finding.mechanism}; {finding.layer}; {told.where}"
    return html.Div([
        html.H1(f"Why: finding {finding.number}"),
        html.P([components.painting_link(told.painting.id, told.painting.title),
                html.Span(told.painting.id, className="number"), told.period.label]),
        html.P([components.level(finding.level), " ", finding.sentence + judgement(finding)], className="sentence"),
        html.P(then_and_now(finding, zone), className="where"),
        html.P(finding.cause, className="sentence") if finding.cause else None,
        html.P(told.reviewed, className="sentence") if told.reviewed else None,
        html.Div(components.print_button(), className="actions noprint"),
        components.section("The value", components.facts([
            ("value", measure(finding)), ("of", at), ("when", components.since(finding, zone)),
            ("read", f"the week was read for {told.coverage:.0%} of its time"),
        ])),
        components.section("The readings", *_readings(told)),
        components.section("The working", *_working(finding)),
        components.section("The limit", html.P(_limit(told)), html.P(f"Source: {told.reference}")),
        components.section("What would clear it", html.P(finding.clears)) if finding.clears else None,
        components.section("Assumed, or to be known", components.items(told.notes)),
    ], className="chain")  # fmt: skip


def _working(finding: Finding) -> list:
    if not finding.working:
        return [html.P("none is given")]
    note = html.P("In °C and with 24 hours, as the models are stated.", className="quiet")
    return [html.Div([note, components.facts(finding.working)], className="as-kept")]


def _limit(told: Chain) -> str:
    finding = told.finding
    if math.isnan(finding.limit):
        return "It is held against no single limit; see the working."
    looked = f" {told.looked.sentence}." if told.looked is not None else ""
    return f"{finding.limit:g} {finding.unit}: {trust(finding)}.{looked}"


def _readings(told: Chain) -> list:
    trace, zone = told.trace, told.period.zone
    if trace is None:
        return [html.P("No single reading stands at the worst moment; see the working.")]
    corrected = (trace.raw_temp_c, trace.raw_rh_percent) != (trace.temp_c, trace.rh_percent)
    return [
        html.P(f"At the worst moment, {stamp(trace.time, zone)}, logger {trace.logger_id} read:"),
        components.facts([
            ("as written", html.Span(f"{trace.raw_temp_c:g} °C, {trace.raw_rh_percent:g} % RH", className="as-kept")),
            ("corrected", f"{trace.temp_c:.2f} °C, {trace.rh_percent:.1f} % RH" if corrected else ""),
            ("file", f"{trace.file_name}, line {trace.line}"),
            ("its mark", html.Code(f"SHA-256 {trace.sha256}")),
            ("its original", trace.problem),
            ("marked", ", ".join(trace.marks)),
            ("also read then", components.items(f"{o.raw_temp_c:g} °C, {o.raw_rh_percent:g} % RH: {o.file_name}, "
                                           f"line {o.line}" for o in trace.others)),
        ]),
    ]  # fmt: skip


def callbacks(_app: Dash) -> None:
    """Nothing is clicked here but links."""
