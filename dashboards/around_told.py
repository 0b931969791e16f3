"""The answers of *Around the lining* as they stand on the page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from dashboards import parts
from dashboards.around_fields import plain
from envwatch.lining import Step
from envwatch.lining import call as ring
from envwatch.lining import loan as lending
from envwatch.lining.said import (
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
from envwatch.wording import date, number, span, stamp

SHAPE = {"nothing against it": "clear", "not yet": "act", "not known": "unknown", "yes": "clear", "with care": "watch",
         "no": "act"}  # fmt: skip


def _head(title: str, id: str, words: str) -> html.P:
    return html.P([parts.painting_link(id, title), html.Span(id, className="number"), words], className="where")


def _checks(checks: Iterable[Any]) -> html.Ul:
    return html.Ul([
        html.Li([html.Span(className=f"shape {SHAPE[c.word]}", **{"aria-hidden": "true"}),
                 html.Strong(f" {c.what}: {c.word}. "), plain(c.sentence)])
        for c in checks
    ], className="checks")  # fmt: skip


def _steps(steps: Iterable[Step], zone: str) -> Any:
    rows = [(date(s.on, zone), s.what, "seen" if s.done else "", s.why) for s in steps]
    return parts.table(("day", "what", "", "where the day comes from"), rows, "What is due", numbers=False) if rows \
        else html.P("Nothing.")  # fmt: skip


def _today(result: tuple, asked: dict[str, str]) -> html.Div:
    told, steps = result
    return html.Div([
        _head(told.title, told.painting_id, told.where),
        html.P(f"{question(told)}, {stamp(told.at, told.zone)}? {answer_today(told)}", className="summary opening"),
        html.P(plain(room_told(told))),
        _checks(told.checks),
        None
        if told.adhesive
        else parts.section("By adhesive", parts.items(plain(family_told(one)) for one in told.families)),
        html.P(air_of_last_day(told)),
        parts.items(told.notes),
        parts.section("Cautions", parts.items(told.cautions)),
        parts.section("If it is done now", _steps(told.ahead, told.zone)) if told.ahead else None,
        parts.section("What is due", _steps(steps, told.zone), html.Div(
            html.A("as a calendar file", href=f"/around.ics?{urlencode(asked)}"), className="actions noprint")),
    ])  # fmt: skip


def _where(result, asked: dict[str, str]) -> html.Div:
    there = result.destination
    return html.Div([
        _head(result.title, result.painting_id, f"going to {there.name}"),
        html.P(f"{there.basis}; as if lined and there on {date(there.start, there.zone)}.", className="quiet"),
        _papers("the comparison for the client's file, as PDF", asked),
        parts.items((*there.notes, *result.notes)),
        parts.section("What no lining changes",
                      parts.items([parts.level(f.level), " ", f.sentence] for f in result.unchanged)
                      or html.P("Nothing was found against it without a lining, so far as was read.")),
        parts.section("Each candidate, in the order of the materials file; the choice is yours",
                      *(_candidate(c, there.zone) for c in result.candidates)),
    ])  # fmt: skip


def _candidate(c, zone: str) -> html.Article:
    return html.Article([
        html.H3(c.profile.label),
        parts.facts([
            ("its layer", own(c, zone)), ("gives first", gives_first(c, zone)),
            ("first weeks", first_weeks_of(c, zone)), ("arriving", by_month(c, zone)),
                    ("worked in", worked_in(c.profile)),
            ("not known", unseen(c)),
            ("strength", str(c.profile.strength or "")), ("comes off by", str(c.profile.removal or "")),
            ("note", parts.items((*c.pairs, *c.profile.overruled))),
        ]),
    ], className="other-place")  # fmt: skip


def _leave(result, asked: dict[str, str]) -> html.Div:
    where = f" for {result.house}" if result.house else ""
    return html.Div([
        _head(result.painting.title, result.painting.id, ""),
        html.P(f"May it leave on {date(result.on, result.zone)}{where}? {ANSWERS[result.word]}",
               className="summary opening"),
        _checks(result.checks),
        html.P(f"Crate: closed where it arrives until {stamp(result.crate_opens, result.zone)} at the earliest."),
        _papers("the receipt to sign, as PDF", asked) if not result.open else None,
        parts.section("What falls due after it has left", _steps(result.ahead, result.zone)),
        parts.form("hand", "It is handed over", "record it", [
            parts.field("hand-although", "why it leaves although something is open",
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
        parts.facts([
            ("assessed", ring.last_known(result)),
            ("last look", "no look on record" if seen is None else f"{date(seen.on, zone)}: {seen.sign}"),
            ("treated", "" if done is None else f"{done.kind}, {date(done.on, zone)}"),
            ("advised", result.advised or "no limits told on record"),
            ("ask", parts.items(result.triage.ask)),
            ("until seen", parts.items(result.triage.until_seen)),
        ]),
        parts.section("A reply to send", html.Pre(result.reply, tabIndex=0, className="letter")),
        parts.form("rang", "Keep that the client rang", "keep it", [
            parts.field("rang-note", "what else was said, and by whom"),
        ]),
    ])  # fmt: skip


def _loan(result, asked: dict[str, str]) -> html.Div:
    zone, painting = result.zone, result.painting
    rows = [
        (i.what, stamp(i.start, zone), stamp(i.end, zone), f"{i.hours:.0f}", f"{number(i.worst)} {i.unit}",
         f"{i.limit:g}", "" if i.certain else "within the sensor's uncertainty")
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
        parts.section("Incidents", parts.table(heads, rows, "Incidents by date and hour")) if rows else None,
        parts.facts((words, parts.items(f"{o.sign} ({date(o.on, zone)})" for o in of)
                     or "nothing on record within a week") for words, of in seen),
        parts.section("To be known", parts.items(result.notes)),
    ])  # fmt: skip


def _away(result, asked: dict[str, str]) -> html.Div:
    from envwatch.away import EACH_VISIT, NOT_ALLOWED, POWER_CUT
    from envwatch.sheets.away import content

    told = content(result)
    heads = ("room", "ring outside", "last read", "loggers")
    return html.Div([
        html.P(told["about"], className="where"),
        _papers("the sheet that stays there, as PDF", asked),
        parts.section("See to before you go", parts.items(result.before) or html.P("Nothing stands open.")),
        parts.section("At each visit", parts.items(EACH_VISIT)),
        parts.section("The lines", html.P(told["lines_note"], className="how"),
                      parts.table(heads, told["rooms"], "Rooms, and outside which figures one rings", numbers=False)),
        parts.section("Look more closely at", parts.items(told["watched"])),
        parts.section("Falls into this time", parts.items(told["dated"])),
        html.P(POWER_CUT), html.P(NOT_ALLOWED),
        html.P(["On return: ", dcc.Link("bring in the loggers' files", href="/files"), ", then one review of all that "
                "time: ", html.Code(result.catch_up.partition(", then ")[2].partition(":")[0])]),
    ])  # fmt: skip


def _papers(words: str, asked: dict[str, str]) -> html.Div:
    return html.Div([html.A(words, href=f"/around.pdf?{urlencode(asked)}", target="_blank"), parts.print_button()],
                    className="actions noprint")  # fmt: skip


ANSWERED = {"today": _today, "where": _where, "leave": _leave, "call": _call, "loan": _loan, "away": _away}
