"""Marked readings, on the page of logger files: what bears a mark, the trace it lies in, and a person's answer."""

from __future__ import annotations

import hashlib
from typing import Any
from urllib.parse import urlencode

import pandas as pd
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update

from dashboards import components
from dashboards.forms import on_press, pressed, wire
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.archive.climates.answers import MarkedSpan
from envwatch.cases import logger as logger_course
from envwatch.core.errors import EnvwatchError, NotThere
from envwatch.core.period import Period, from_to
from envwatch.core.place import MarkDecision
from envwatch.core.text import several
from envwatch.logs.quality import marks as quality

FIELDS = ("answer", "mark", "channel", "from", "to", "because", "by")
MEANS = {rule.name: rule.words for rule in quality.RULES} | {
    "drift": "it and a neighbour in the same room have drifted apart"
}
ANSWERS = (("out", "take them out: they count as missing"), ("good", "they can be believed"))
ANSWER_NOTE = (
    "The answer touches readings with the mark and no others; the readings and their marks stay in the archive, and "
    "the answer can be taken back. Nothing that was taken out counts as safe: it is missing."
)
DAYS_BACK, AROUND, MOST = 62, pd.Timedelta(days=2), 12


def section(studio: Studio, home: StudioSession, asked: dict[str, str]) -> html.Section | None:
    """What is marked; with `logger` in the address its trace over `from` to `to`, and the form for an answer."""
    if not studio.loggers():
        return None
    try:
        span = _span(studio, home, asked)
        found = studio.doubts(span.start, span.end, asked.get("logger") or None)
        shown = _one(studio, asked["logger"], asked, span, found) if asked.get("logger") else _all(studio, found)
    except EnvwatchError as error:
        span, shown = None, [components.refusal(error)]
    return components.section(
        "Marked readings", _choose(studio, asked, span), html.Div(id="mark-said"), *shown, id="marks"
    )


def _span(studio: Studio, home: StudioSession, asked: dict[str, str]) -> Period:
    today = home.now().tz_convert(studio.zone)
    first, last = asked.get("from") or (today - pd.Timedelta(days=DAYS_BACK)).date(), asked.get("to") or today.date()
    return from_to(str(first), str(last), studio.zone)


def _choose(studio: Studio, asked: dict[str, str], span: Period | None) -> html.Div:
    known = [(logger.id, logger.name) for logger in studio.loggers().values()]
    first, last = _days(span) if span else (asked.get("from", ""), asked.get("to", ""))
    return html.Div([
        components.choice("trace-logger", "logger", known, asked.get("logger"), clearable=True, placeholder="all"),
        components.field("trace-from", "from", value=first, w="8.5rem"),
        components.field("trace-to", "to", value=last, w="8.5rem"),
        components.button("trace-go", "show"),
        html.Div(id="trace-said"),
    ], className="form row noprint", **{"data-enter": ""})  # fmt: skip


def _days(span: Period) -> tuple[str, str]:
    last = span.end - pd.Timedelta(minutes=1)
    return str(span.start.tz_convert(span.zone).date()), str(last.tz_convert(span.zone).date())


def _all(studio: Studio, found: tuple[MarkedSpan, ...]) -> list:
    if not found:
        return [html.P("No reading of these days bears a mark of doubt.")]
    open_ = [doubt for doubt in found if doubt.answer is None]
    said = f"{several(len(open_), 'stretch', 'stretches')} without an answer; doubted readings stay in until you say."
    latest = sorted(found, key=lambda doubt: (doubt.answer is not None, -doubt.end.value))
    rest = _table(studio, latest[MOST:]) if len(latest) > MOST else None
    return [html.P(said), _table(studio, latest[:MOST]), components.more(f"{len(latest) - MOST} more", rest)]


def _table(studio: Studio, found: list[MarkedSpan] | tuple[MarkedSpan, ...]) -> html.Div:
    heads = ("mark", "logger", "first", "last", "readings", "answer")
    rows = [
        (dcc.Link(doubt.mark, href=_address(studio, doubt)), _name(doubt), components.moment(doubt.start, studio.zone),
         components.moment(doubt.end, studio.zone), f"{doubt.readings:,}", _answer(doubt))
        for doubt in found
    ]  # fmt: skip
    return components.table(heads, rows, "Readings that bear a mark of doubt", numbers=False)


def _name(doubt: MarkedSpan) -> str:
    return doubt.name + (f", probe {doubt.channel}" if doubt.channel not in ("", "1") else "")


def _answer(doubt: MarkedSpan) -> Any:
    if doubt.answer is None:
        return "none yet"
    which = {"withdraw": doubt.answer.number, "of": f"{doubt.mark}{doubt.start}", "said": _digest(doubt.answer)}
    back = components.button(which, "take it back", quiet=True)
    return html.Span([doubt.answer.sentence, " ", html.Span(back, className="noprint")])


def _digest(answer: MarkDecision) -> str:
    """By which an answer is known again: its number may be another's once it was taken back."""
    return hashlib.sha256(repr(answer).encode()).hexdigest()[:16]


def _address(studio: Studio, doubt: MarkedSpan) -> str:
    around = Period(doubt.start - AROUND, doubt.end + AROUND, "", studio.zone)
    first, last = _days(around)
    asked = {"logger": doubt.logger, "from": first, "to": last, "mark": doubt.mark, "probe": doubt.channel}
    return f"/files?{urlencode(asked)}#marks"


def _one(studio: Studio, logger: str, asked: dict[str, str], span: Period, found: tuple[MarkedSpan, ...]) -> list:
    shown = logger_course.of_logger(studio, logger, span.start, span.end, asked.get("probe", ""))
    marks = list(dict.fromkeys(doubt.mark for doubt in found))
    means = [f"{mark}: {MEANS.get(mark, '')}" for mark in marks]
    return [
        components.chart("trace", shown, "logger", height=440),
        components.items(means), _table(studio, found) if found else html.P("No reading of these days bears a mark."),
        _form(asked, marks, found, span) if found else None,
    ]  # fmt: skip


def _form(asked: dict[str, str], marks: list[str], found: tuple[MarkedSpan, ...], span: Period) -> html.Details:
    mark = asked.get("mark") if asked.get("mark") in marks else marks[0]
    of_it = [doubt for doubt in found if doubt.mark == mark]
    first, last = (f"{time.tz_convert(span.zone):%Y-%m-%d %H:%M}" for time in (of_it[0].start, of_it[-1].end))
    probes = dict.fromkeys(doubt.channel for doubt in found)
    made = components.form(
        "marks-answer",
        "Say what counts",
        "record the answer",
        [
            components.choice("marks-answer-answer", "the marked readings", ANSWERS),
            components.choice(
                "marks-answer-mark", "with which mark", [(m, m) for m in marks], mark, clearable=True, placeholder="any"
            ),
            components.choice(
                "marks-answer-channel",
                "of which probe",
                [(c, c) for c in probes if c],
                asked.get("probe") or None,
                clearable=True,
                placeholder="any",
            ),
            components.field("marks-answer-from", "from", value=first),
            components.field("marks-answer-to", "to", value=last),
            components.field("marks-answer-because", "because", placeholder="it lay in the sun, battery flat"),
            components.field("marks-answer-by", "said by", placeholder="as logged in"),
        ],
        ANSWER_NOTE,
        opened="mark" in asked,
    )
    return html.Div([made, dcc.Store(id="marks-logger", data=asked["logger"])])


def enter(studio: Studio, logger: str, given: dict[str, str]) -> str:
    """Record what a person says about marked readings."""
    said = studio.answer_marks(logger, given["answer"], given["from"], given["to"] or None, because=given["because"],
                               mark=given["mark"], channel=given["channel"], by=given["by"])  # fmt: skip
    return f"{studio.loggers()[logger].name}: readings marked {said.mark or 'in any way'} are {said.sentence}"


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    wire(app, "marks-answer", FIELDS, enter, whose="marks-logger")
    app.callback(Output("url", "href", allow_duplicate=True), Output("trace-said", "children"),
                 Input("trace-go", "n_clicks"), State("trace-logger", "value"), State("trace-from", "value"),
                 State("trace-to", "value"), prevent_initial_call=True)(go)  # fmt: skip
    app.callback(Output("again", "data", allow_duplicate=True), Output("mark-said", "children"),
                 Input({"withdraw": ALL, "of": ALL, "said": ALL}, "n_clicks"), State("again", "data"),
                 prevent_initial_call=True)(withdraw)  # fmt: skip


@on_press(2)
def go(_clicks: int, logger: str | None, first: str, last: str):
    """To the days and the logger chosen."""
    from_to(first or "", last or "", "UTC")
    return f"/files?{urlencode({'from': first, 'to': last} | ({'logger': logger} if logger else {}))}#marks", ""


@on_press(2)
def withdraw(_clicks: list, again: int | None):
    """Take an answer back."""
    which = pressed()
    return ((again or 0) + 1, _withdrawn(which["withdraw"], which["said"])) if which else (no_update, no_update)


def _withdrawn(number: int, shown: str) -> html.P:
    with house().writing() as studio, studio.writing("taking back an answer"):
        held = [a for answers in studio.register().mark_answers.values() for a in answers if a.number == number]
        if not held or _digest(held[0]) != shown:
            raise NotThere("that answer was taken back since this page was shown. Show the page again")
        studio.withdraw_answer(number)
    return components.notice("The answer is taken back; the readings are doubted again.")
