"""The answers of *Around the lining* as they stand on the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from dashboards import components
from dashboards.pages.lining_fields import called
from envwatch.cases import loan as lending
from envwatch.cases.lining import CareStep
from envwatch.cases.painting import call as ring
from envwatch.core.text import date, number, span, stamp
from envwatch.present.lining_words import (
    ANSWERS,
    air_of_last_day,
    answer_today,
    by_month,
    family_told,
    first_weeks_of,
    gives_first,
    own,
    question,
    room_told,
    unseen,
    worked_in,
)

SHAPE = {"nothing against it": "clear", "not yet": "act", "not known": "unknown", "yes": "clear", "with care": "watch",
         "no": "act"}  # fmt: skip


def _head(title: str, id: str, words: str) -> html.P:
    return html.P([components.painting_link(id, title), html.Span(id, className="number"), words], className="where")


def _checks(checks: Iterable[Any], asked: dict[str, str]) -> html.Ul:
    return html.Ul([
        html.Li([html.Span(className=f"shape {SHAPE[c.word]}", **{"aria-hidden": "true"}),
                 html.Strong(f" {c.what}: {c.word}. "), called(c.sentence, asked)])
        for c in checks
    ], className="checks")  # fmt: skip


def _steps(steps: Iterable[CareStep], zone: str) -> Any:
    rows = [(date(s.on, zone), s.what, "seen" if s.done else "", s.why) for s in steps]
    return (
        components.table(("day", "what", "", "where the day comes from"), rows, "What is due", numbers=False)
        if rows
        else html.P("Nothing.")
    )


def _today(result: tuple, asked: dict[str, str]) -> html.Div:
    told, steps = result
    return html.Div([
        _head(told.title, told.painting_id, told.where),
        html.P(f"{question(told)}, {stamp(told.at, told.zone)}? {answer_today(told)}", className="summary opening"),
        html.P(called(room_told(told), asked)),
        _checks(told.checks, asked),
        None if told.adhesive else components.section("By adhesive", components.items(
            called(family_told(one), asked) for one in told.families)),
        html.P(air_of_last_day(told)),
        components.items(told.notes),
        components.section("Cautions", components.items(told.cautions)),
        components.section("If it is done now", _steps(told.ahead, told.zone)) if told.ahead else None,
        components.section("What is due", _steps(steps, told.zone), html.Div(
            html.A("as a calendar file", href=f"/around.ics?{urlencode(asked)}"), className="actions noprint")),
    ])  # fmt: skip


def _where(result, asked: dict[str, str]) -> html.Div:
    there = result.destination
    return html.Div([
        _head(result.title, result.painting_id, f"going to {there.name}"),
        html.P(f"{there.basis}; as if lined and there on {date(there.start, there.zone)}.", className="quiet"),
        _papers("the comparison for the client's file, as PDF", asked),
        components.items((*there.notes, *result.notes)),
        components.section("What no lining changes",
                      components.items([components.level(f.level), " ", f.sentence] for f in result.unchanged)
                      or html.P("Nothing was found against it without a lining, so far as was read.")),
        components.section("Each candidate, in the order of the materials file; the choice is yours",
                      *(_candidate(c, there.zone) for c in result.candidates)),
    ])  # fmt: skip


def _candidate(c, zone: str) -> html.Article:
    return html.Article([
        html.H3(c.profile.label),
        components.facts([
            ("its layer", own(c, zone)), ("gives first", gives_first(c, zone)),
            ("first weeks", first_weeks_of(c, zone)), ("arriving", by_month(c, zone)),
                    ("worked in", worked_in(c.profile)),
            ("not known", unseen(c)),
            ("strength", str(c.profile.strength or "")), ("comes off by", str(c.profile.removal or "")),
            ("note", components.items((*c.pairs, *c.profile.overruled))),
        ]),
    ], className="other-place")  # fmt: skip


def _leave(result, asked: dict[str, str]) -> html.Div:
    where = f" for {result.house}" if result.house else ""
    return html.Div([
        _head(result.painting.title, result.painting.id, ""),
        html.P(f"May it leave on {date(result.on, result.zone)}{where}? {ANSWERS[result.word]}",
               className="summary opening"),
        _checks(result.checks, asked),
        html.P(f"Crate: closed where it arrives until {stamp(result.crate_opens, result.zone)} at the earliest."),
        _papers("the receipt to sign, as PDF", asked) if not result.open else None,
        components.section("What falls due after it has left", _steps(result.ahead, result.zone)),
        components.form("hand", "It is handed over", "record it", [
            components.field("hand-although", "why it leaves although something is open",
                        "kept with the record" if result.open else "nothing is open: may stay empty"),
        ]),
    ])  # fmt: skip


def _call(result, asked: dict[str, str]) -> html.Div:
    seen, done, zone = result.last_visit, result.last_treatment, result.zone
    return html.Div([
        _head(result.painting.title, result.painting.id, f"{result.where}; {ring.care_told(result.painting, zone)}"),
        html.Div([html.H2("Stop, do this first"), html.Ol([html.Li(line) for line in result.flood])],
                 className="notice refused-first") if result.flood else None,
        _papers("the first steps on paper, as PDF", asked) if result.flood else None,
        html.P(f"{result.triage.sign.capitalize()}: to be seen {result.triage.soon}.", className="summary opening"),
        components.facts([
            ("assessed", ring.last_known(result)),
            ("last look", "no look on record" if seen is None else f"{date(seen.on, zone)}: {seen.sign}"),
            ("treated", "" if done is None else f"{done.kind}, {date(done.on, zone)}"),
            ("advised", result.advised or "no limits told on record"),
            ("ask", components.items(result.triage.ask)),
            ("until seen", components.items(result.triage.until_seen)),
        ]),
        components.section("A reply to send", html.Pre(result.reply, tabIndex=0, className="letter")),
        components.form("rang", "Keep that the client rang", "keep it", [
            components.field("rang-note", "what else was said, and by whom"),
        ]),
    ])  # fmt: skip


def _loan(result, asked: dict[str, str]) -> html.Div:
    zone, painting = result.zone, result.painting
    rows = [
        (i.what, stamp(i.start, zone), stamp(i.end, zone), f"{i.hours:.0f}", f"{number(i.worst)} {i.unit}",
         components.bare(f"{i.limit:g}", i.unit), "" if i.certain else "within the sensor's uncertainty")
        for i in result.incidents
    ]  # fmt: skip
    heads = ("what", "from", "to", "hours", "worst", "agreed", "")
    seen = (("condition out", result.condition_out), ("condition in", result.condition_in))
    return html.Div([
        _head(painting.title, painting.id,
              f"on loan to {result.place}, {date(result.start, zone)} to {date(result.last, zone)}"),
        html.P(lending.sentence(result), className="summary opening"),
        html.P(f"Read: {span(*result.span_rh)} % RH, {span(*result.span_temp)} °C; sensor {result.sensor}."),
        _papers("the incident sheet, as PDF", asked),
        components.section("Incidents", components.table(heads, rows, "Incidents by date and hour")) if rows else None,
        components.facts((words, components.items(f"{o.sign} ({date(o.on, zone)})" for o in of)
                     or "nothing on record within a week") for words, of in seen),
        components.section("To be known", components.items(result.notes)),
    ])  # fmt: skip


def _away(result, asked: dict[str, str]) -> html.Div:
    from envwatch.cases.away import EACH_VISIT, NOT_ALLOWED, POWER_CUT
    from envwatch.present.paper.away import content

    told = content(result)
    heads = ("room", "ring outside", "last read", "loggers")
    return html.Div(
        [
            html.P(told["about"], className="where"),
            _papers("the sheet that stays there, as PDF", asked),
            components.section(
                "See to before you go", components.items(result.before) or html.P("Nothing stands open.")
            ),
            components.section("At each visit", components.items(EACH_VISIT)),
            components.section(
                "The lines",
                html.P(told["lines_note"], className="how"),
                components.table(heads, told["rooms"], "Rooms, and outside which figures one rings", numbers=False),
            ),
            components.section("Look more closely at", components.items(told["watched"])),
            components.section("Falls into this time", components.items(told["dated"])),
            html.P(POWER_CUT),
            html.P(NOT_ALLOWED),
            html.P(
                [
                    "On return: ",
                    dcc.Link("bring in the loggers' files", href="/files"),
                    ", then one review of all that time: ",
                    html.Code(result.catch_up.partition(", then ")[2].partition(":")[0]),
                ]
            ),
        ]
    )


def _papers(words: str, asked: dict[str, str]) -> html.Div:
    return html.Div([html.A(words, href=f"/around.pdf?{urlencode(asked)}", target="_blank"), components.print_button()],
                    className="actions noprint")  # fmt: skip


ANSWERED = {"today": _today, "where": _where, "leave": _leave, "call": _call, "loan": _loan, "away": _away}
