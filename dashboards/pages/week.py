"""This week: which paintings need me, why, and what I do."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from flask import Response, request

from dashboards import components
from dashboards.forms import on_press, pressed
from dashboards.pages import events, looks
from dashboards.session import StudioSession, house
from envwatch.archive import Studio, reviews
from envwatch.cases import review
from envwatch.cases.review import PaintingLine, Review, TaskLine, desk
from envwatch.cases.review.plan import PlanStep, plan, unplanned
from envwatch.cases.review.span import week_of, weeks_beside
from envwatch.core.errors import BadInput, EnvwatchError, NotThere
from envwatch.core.findings import Finding
from envwatch.core.period import Period
from envwatch.core.text import date, several, stamp
from envwatch.present.ledger import all_whereabouts, changed, state, time_line
from envwatch.present.paper.review import content, weekly
from envwatch.present.paper.trace import drawing
from envwatch.present.words import measure, unseen

PATH, NAME, UNDER = "/", "This week", ("/why",)
HOW = (
    "How to read the drawings: the line is the air at the painting, hour by hour; where it is heavy it is beyond the "
    "limit (broken line); where there is no line, nothing was read."
)


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page of a week; `week` in the address names it, else it is the last full one."""
    with home.reading() as studio:
        if not any(seen.last is not None for seen in studio.seen(home.now()).values()):
            return _empty(studio)
        shown = home.review(asked.get("week"))
        return _page(studio, shown)


def _empty(studio: Studio) -> html.Div:
    return html.Div([
        html.H1("This week"),
        html.P(f"{studio.name} holds no readings yet, so nothing can be said of any painting."),
        dcc.Link("First: bring in the loggers' files", href="/files", className="press"),
        html.P(["Then enter the rooms under ", dcc.Link("Places", href="/places"), " and the pictures under ",
                dcc.Link("Paintings", href="/paintings"), ", or read both from tables with envwatch import; and say "
                "where each logger hangs and where each painting stands."]),
    ], className="empty")  # fmt: skip


def _page(studio: Studio, shown: Review) -> html.Div:
    told = content(shown)
    settled = desk.settled(studio, shown)
    ranked = list(enumerate(shown.needing, 1))
    now = [_painting(line, rank, shown, settled) for rank, line in ranked if line.ended is None]
    over = [_painting(line, rank, shown, settled) for rank, line in ranked if line.ended is not None]
    return html.Div([
        _head(shown, told),
        html.Div(id="task-said"),
        events.section(shown),
        components.section("Paintings that need me", *now, note=HOW if now else ""),
        components.section("Ended, to be looked at", *over),
        components.section("To watch", *(_watched(line, shown, settled) for line in shown.watched)),
        components.section("Told before", _standing(shown.told, "answered by a look, or told and no worse", shown)),
        components.section("Standing", _standing(shown.standing, "met before", shown)),
        components.section("Not known", *(_not_known(*both, shown)
                                     for both in zip(shown.not_seen, told["not_seen"], strict=True))),
        components.section("Besides, to do" if shown.trouble else "To do", *_tasks(shown, settled), id="to-do"),
        components.section("What changed since the review before", components.items(shown.changes)),
        components.section("Take care", components.items(shown.cautions)),
        None if shown.is_quiet else components.section("The rooms", _rooms(shown, told)),
        components.section("The fetch round", *_round(told["loggers"]),
                      note="Place by place, so that it can be walked." if told["loggers"] else ""),
        components.section("For the record", _record(shown, told)),
        html.Div(_kept(studio, shown), id="keep", className="noprint"),
        dcc.Store(id="week-shown", data=shown.period.label),
    ])  # fmt: skip


def _head(shown: Review, told: dict[str, Any]) -> html.Div:
    before, after = weeks_beside(shown.period)
    return html.Div([
        html.H1("This week"),
        html.P([html.Strong(shown.period.label), " · ", shown.period.days], className="when"),
        html.Div([
            dcc.Link("the week before", href=f"/?week={before}"),
            dcc.Link("the week after", href=f"/?week={after}"),
            html.Span([dmc.TextInput(id="any-day", placeholder="2026-10-26", w="9.5rem",
                                     **{"aria-label": "A day of another week, as year-month-day"}),
                       components.button("to-day", "the week of that day", quiet=True)], className="form inline"),
            html.A("the printed sheet (PDF)", href=f"/sheet.pdf?week={shown.period.label}"),
            components.print_button(),
        ], className="actions noprint"),
        html.Div(id="day-said"),
        *(html.P(note, className="opening") for note in shown.opening),
        *(html.P(one.sentence, className="opening") for one in shown.revised),
        _homeless(shown),
        html.P(told["summary"], className="summary"),
    ])  # fmt: skip


def _homeless(shown: Review) -> html.P | None:
    """Loggers whose readings belong to no place, and the way to say where they hang."""
    names = [line.name for line in shown.loggers if line.state == "no place"]
    told = f"{several(len(names), 'logger')} read but hang nowhere yet ({', '.join(names)}): "
    return html.P([told, dcc.Link("say where", href="/files#nowhere")], className="opening") if names else None


def _painting(line: PaintingLine, rank: int, shown: Review, settled: dict[int, str]) -> html.Article:
    finding = line.headline
    assert finding is not None, "a painting without a finding needs nobody"
    return _row(line, finding, shown, settled, f"{rank}. ", _trace(line, finding, shown.period.zone))


def _row(line: PaintingLine, finding: Finding, shown: Review, settled: dict[int, str], rank: str,
         drawn: html.Figure | None) -> html.Article:  # fmt: skip
    """What and where, what is done by when, because of what, since when, still so or over; the rest to be opened."""
    head = [rank, components.painting_link(line.id, line.title), html.Span(line.id, className="number")]
    return html.Article([
        html.Div([components.level(line.level), html.Span(state(finding) or changed(line), className="quiet")],
                 className="beside"),
        html.Div([
            html.H3(head),
            html.P(all_whereabouts(line, finding), className="where"),
            _plan(line, shown, settled),
            looks.tap(line.painting, shown.period.zone, shown.made_at),
            components.sentence(finding, shown.period.label),
            html.P(finding.ordinary) if finding.ordinary else None,
            html.P("; ".join(filter(None, (measure(finding), time_line(line, finding, shown)))), className="quiet"),
            drawn,
            components.more("look for, do not, what clears it" + (f", {len(line.others)} more" if line.others else ""),
                            _more(line, finding, shown.period)),
        ], className="told"),
    ], className="painting")  # fmt: skip


def _more(line: PaintingLine, finding: Finding, span: Period) -> html.Dl:
    return components.facts([
        ("look for", finding.look_for), ("do not", finding.avoid), ("cleared by", finding.clears),
        ("also", _others(line, span.label)), ("not known", unseen(line.verdict, span.zone)),
    ])  # fmt: skip


def _plan(line: PaintingLine, shown: Review, settled: dict[int, str]) -> html.Ul:
    """What is done about a painting, in one order by day, each step with its tick."""
    zone = shown.period.zone
    return html.Ul([_step(line, step, zone, settled) for step in plan(line, shown.tasks, zone)], className="tasks plan")


def _step(line: PaintingLine, step: PlanStep, zone: str, settled: dict[int, str]) -> html.Li:
    when = f"by {date(step.on, zone)}" if step.on is not None else "no day set"
    said = [html.Span(f"{line.title}: ", className="unseen"), html.Strong(f"{components.sentence_of(step.kind)}: "),
            step.what, html.Em(f" ({step.note})" if step.note else "")]  # fmt: skip
    if step.due is not None and step.due.number is None:
        said += [" ", _record_link(line.id)]
    return _ticked(step.due, when, said, settled)


def _others(line: PaintingLine, week: str) -> list | None:
    return [
        html.Div([components.level(f.level), components.sentence(f, week)], className="other") for f in line.others
    ] or None


def _trace(line: PaintingLine, finding: Finding, zone: str) -> html.Figure | None:
    drawn = drawing(line.trace, finding, zone)
    if drawn is None:
        return None
    limit = f", limit {drawn['limit']} {drawn['unit']}" if drawn["limit"] else ""
    name = (f"{drawn['quantity']} at the painting over the week, {drawn['low']} to {drawn['high']} {drawn['unit']}"
            f"{limit}")  # fmt: skip
    return html.Figure(
        [
            html.Div(
                [components.bare(drawn[end], drawn["unit"]) for end in ("high", "low")],
                className="scale",
                **{"aria-hidden": "true"},
            ),
            html.Img(src="data:image/svg+xml," + quote(drawn["svg"]), alt=name),
            html.Div(
                [
                    html.Span(drawn["unit"]),
                    components.bare(f"limit {drawn['limit']}" if drawn["limit"] else "", drawn["unit"]),
                ],
                className="unit",
                **{"aria-hidden": "true"},
            ),
            html.Div([html.Span(day) for day in drawn["days"]], className="days", **{"aria-hidden": "true"}),
        ],
        className="trace",
    )


def _watched(line: PaintingLine, shown: Review, settled: dict[int, str]) -> html.Article:
    finding = line.headline
    assert finding is not None, "a painting without a finding is not watched"
    return _row(line, finding, shown, settled, "", None)


def _standing(lines: Sequence[PaintingLine], why: str, shown: Review) -> html.Details | None:
    """Folded: what is raised and asks for nobody, with why."""
    rows = [
        [components.painting_link(line.id, line.title), html.Span(line.id, className="number"),
         f" {line.now or line.where}: {line.level.word}; {line.standing}",
         looks.tap(line.painting, shown.period.zone, shown.made_at)]
        for line in lines
    ]  # fmt: skip
    return components.more(f"{several(len(rows), 'painting')}: {why}", components.items(rows)) if rows else None


def _not_known(line: PaintingLine, said: dict, shown: Review) -> html.Article:
    zone = shown.period.zone
    seen = f"seen until {stamp(line.seen_until, zone)}" if line.seen_until is not None else "nothing was read"
    return html.Article([
        html.Div(components.level(line.level), className="beside"),
        html.Div([
            html.H3([components.painting_link(line.id, line.title), html.Span(line.id, className="number")]),
            html.P(f"{line.where}; {seen}", className="where"),
            looks.tap(line.painting, zone, shown.made_at),
            html.P(said["reasons"]),
        ], className="told"),
    ], className="painting")  # fmt: skip


def _round(groups: list[dict]) -> list:
    return [
        html.Div([html.H3(group["title"]),
                  components.items(f"{item['place'] + ': ' if item['place'] else ''}{item['name']} {item['sentence']}"
                              for item in group["items"])])
        for group in groups
    ]  # fmt: skip


def _rooms(shown: Review, told: dict[str, Any]) -> html.Div:
    heads = (
        "place",
        "°C",
        "% RH",
        "dew point °C",
        "daily swing % RH",
        "fluctuation % RH",
        told["damp_head"],
        "seen until",
    )
    rows = [
        [dcc.Link(line.place.name, href=f"/places?place={quote(line.place.id)}"), *cells[1:]]
        for line, cells in zip(shown.places, told["places"], strict=True)
    ]
    return html.Div(
        [components.table(heads, rows, "The rooms this week"), html.P(told["places_note"], className="quiet")]
    )


def _record(shown: Review, told: dict[str, Any]) -> html.Details | None:
    rows = [
        (row["label"], components.items(row["items"]))
        for row in (*told["rest"], *told["files"])
        if row["label"] not in ("told before", "standing")
    ]
    return components.more("what was assumed, files that came in, marks", components.facts(rows)) if rows else None


# -------------------------------------------------------------------------------------------------------- tasks


def _tasks(shown: Review, settled: dict[int, str]) -> list:
    """What is due besides the plans of the paintings above."""
    due = unplanned(shown)
    if not shown.tasks:
        return [html.P("Nothing is due.")]
    zone = shown.period.zone
    acts = [_task(one, zone, settled) for one in due if one.number is not None]
    looks = [_look(one, zone) for one in due if one.number is None]
    return [
        html.Ul(acts, className="tasks") if acts else None,
        html.H3("Look at recent work") if looks else None,
        html.Ul(looks, className="tasks") if looks else None,
    ]


def _task(due: TaskLine, zone: str, settled: dict[int, str]) -> html.Li:
    when = f"by {date(due.on, zone)}" if due.on is not None else "no day set"
    tail = f" ({due.words})" if due.words else ""
    return _ticked(due, when, [html.Strong(f"{due.title}: "), due.what, html.Em(tail)], settled)


def _ticked(due: TaskLine | None, when: str, said: list, settled: dict[int, str]) -> html.Li:
    """A step with the fields to tick it or put it off; once that is done, with what was said."""
    number = due.number if due is not None else None
    if number in settled:
        ticked = html.P([html.Span("✓ ", **{"aria-hidden": "true"}), *said])
        return html.Li([ticked, html.P(settled[number], className="quiet")], className="settled")
    if number is None:
        return html.Li([html.P(when, className="by"), html.P(said)])
    return html.Li([
        html.P(when, className="by"), html.P(said),
        components.more("tick, or put off", html.Div([
            components.field({"task": "word", "n": number}, "what was done"),
            components.button({"task": "done", "n": number}, "done"),
            components.field({"task": "until", "n": number}, "put off until", placeholder="2026-11-30"),
            components.field({"task": "reason", "n": number}, "because"),
            components.button({"task": "off", "n": number}, "put off", quiet=True),
        ], className="form row")),
    ])  # fmt: skip


def _record_link(id: str) -> dcc.Link:
    """An inspection is done by recording what was seen on the painting."""
    return dcc.Link("record what you saw", href=f"/painting/{quote(id)}#observe", className="noprint")


def _look(due: TaskLine, zone: str) -> html.Li:
    late = f" ({due.state})" if due.state not in ("open", "due next") else ""
    said = [html.Strong(f"{due.title}: "), due.what, html.Em(late), " ", _record_link(due.painting_id)]
    return html.Li([html.P(date(due.on, zone), className="by"), html.P(said)])


def _kept(studio: Studio, shown: Review) -> html.P | html.Div:
    kept = [k for k in reviews.reviews(studio) if k["label"] == shown.period.label]
    if kept:
        on = date(kept[-1]["made_at"], studio.zone)
        return html.P(f"This review was kept on {on}, with the limits then in force.", className="quiet")
    return html.Div([components.button("keep-it", "keep this review"),
                     html.Span(" Next week's review then says what changed, and its tasks are carried over.",
                               className="quiet")])  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    app.callback(Output("url", "href", allow_duplicate=True), Output("day-said", "children"),
                 Input("to-day", "n_clicks"), State("any-day", "value"), prevent_initial_call=True)(go)  # fmt: skip
    app.callback(Output("again", "data", allow_duplicate=True), Output("task-said", "children"),
                 Input({"task": "done", "n": ALL}, "n_clicks"), Input({"task": "off", "n": ALL}, "n_clicks"),
                 State({"task": "word", "n": ALL}, "value"), State({"task": "until", "n": ALL}, "value"),
                 State({"task": "reason", "n": ALL}, "value"), State({"task": "word", "n": ALL}, "id"),
                 State("week-shown", "data"), State("again", "data"), prevent_initial_call=True)(settle)  # fmt: skip
    app.callback(Output("keep", "children"), Input("keep-it", "n_clicks"), State("week-shown", "data"),
                 prevent_initial_call=True)(keep)  # fmt: skip
    app.server.add_url_rule("/sheet.pdf", "sheet", sheet)


def sheet() -> Response:
    """The week's sheet, as `envwatch review` prints it."""
    try:
        shown = house().review(request.args.get("week"))
    except EnvwatchError as error:
        return Response(str(error), 404, mimetype="text/plain")
    return components.sent(weekly(shown), f"envwatch-{shown.period.label}.pdf")


@on_press(2)
def go(_clicks: int, day: str):
    """To the week of a day."""
    return f"/?week={week_of(day, house().review().period.zone)}", ""


@on_press(2)
def settle(_done, _off, words, untils, reasons, ids, week, again):
    """Tick a task, or put it off."""
    which = pressed()
    at = [id["n"] for id in ids].index(which["n"]) if which else None
    told = which and components.notice(_settled(which, week, words[at], untils[at], reasons[at]))
    return ((again or 0) + 1, told) if which else (no_update, no_update)


def _settled(clicked: dict, week: str, word: str, until: str, reason: str) -> str:
    home = house()
    shown, number = home.review(week), clicked["n"]
    due = next((due for due in shown.tasks if due.number == number), None)
    with home.writing() as studio, studio.writing("settling a task"):
        if said := desk.settled(studio, shown).get(number):
            raise BadInput(f"settled since this page was shown: {said}", place=f"task {number}")
        if due is None:
            raise NotThere(f"the review of {week} has no task {number} any more; show the page again")
        if clicked["task"] == "done":
            return f"Task {desk.tick(studio, due, word, home.now()).number} is done: {word}"
        desk.put_off(studio, due, until, reason, home.now())
    return f"Task {due.number} is put off until {until}: {reason}"


@on_press(1)
def keep(_clicks: int, week: str):
    """Keep the review with its tasks and the limits in force."""
    home = house()
    with home.writing() as studio:
        review.keep(studio, home.review(week))
        return _kept(studio, home.review(week))
