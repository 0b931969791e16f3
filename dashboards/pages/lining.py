"""Around the lining: which adhesive for where it goes, may I line today, may it leave, a loan, the client's call."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import pandas as pd
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from flask import Response, request

from dashboards import components, uploads
from dashboards.asking import Asking, painting_of
from dashboards.forms import pressed
from dashboards.jobs import Job, Report, Work
from dashboards.pages import lining_answers as told
from dashboards.pages import lining_fields as fields
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.cases import loan as lending
from envwatch.cases.lining import Bench, Forecast, Journey, compare, due, may_leave, may_line, of_place, of_year
from envwatch.cases.lining.adhesives import candidates
from envwatch.cases.lining.readiness import adhesives
from envwatch.cases.lining.release import hand_over
from envwatch.cases.painting import call as ring
from envwatch.core import period
from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.core.painting import Painting

PATH, NAME, UNDER = "/around", "Around the lining", ()
HOW = (
    "Six questions around a lining. Choose the painting, open one, answer what you know; what is not known is said, "
    "and never counts as safe."
)
LONG = "Judging. You may leave this page and come back to its address."
MOST_FILE = 5 * 2**20
DROPPED = "the file dropped for this"


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page; what was asked stands in the address, so that it can be shared and found again."""
    said = fields.known(asked)
    with home.reading() as studio:
        if not studio.paintings():
            return components.first_of_all(
                NAME, "No painting is in the register yet.", "enter a painting", "/paintings"
            )
    shown, faults = html.P(HOW, className="how"), {}
    if said.get("ask") in ASKS:
        shown, faults, _result = PAGE.answer(
            home, said, lambda result, asked: told.ANSWERED[asked["ask"]](result, asked)
        )
    with home.reading() as studio:
        return html.Div([html.H1(NAME), shown, fields.form(studio, said, faults, home.now()),
                         dcc.Store(id="around-asked", data=said)])  # fmt: skip


# ------------------------------------------------------------------------------------------------------ the work


def begin(home: StudioSession, asked: dict[str, str]) -> Job:
    """The answer that an address asks for, begun or found.

    Raises
    ------
    EnvwatchError : what is typed cannot be used as it is.
    """
    if asked["ask"] == "away":
        home.review()  # made first: its findings get their numbers, and with them the studio another version
    return home.reckon(PATH, asked, lambda studio: _work(home, studio, asked))


def _work(home: StudioSession, studio: Studio, asked: dict[str, str]) -> Work:
    if asked["ask"] == "away":
        return _away(home, asked)
    if not asked.get("painting"):
        raise BadInput("choose the painting first", field="painting")
    return WORK[asked["ask"]](home, studio, painting_of(studio, asked), asked)


def _away(home: StudioSession, asked: dict[str, str]) -> Work:
    from envwatch.cases.away import sheet_for

    missing = next((name for name in ("a_from", "a_until") if not asked.get(name)), None)
    if missing:
        raise BadInput("give the first and the last day away", field=missing)
    first, last = (period.given(asked[name], name) for name in ("a_from", "a_until"))
    if last < first:
        raise BadInput("lies before the first day", field="a_until", seen=asked["a_until"])
    ring_whom = tuple(whom.strip() for whom in asked.get("ring", "").split(";") if whom.strip())
    return lambda own_studio, _report: sheet_for(
        own_studio, home.now(), str(first.date()), str(last.date()), asked.get("who", ""), ring_whom
    )  # fmt: skip


def _today(home: StudioSession, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    number_ = fields.numbers(asked)
    forecast = Forecast(*(number_(name) for name in ("f_max", "f_min", "f_rh_max", "f_rh_min")))
    bench = Bench(asked.get("room", ""), asked.get("attended_by", ""), number_("film_forming"))
    adhesive, now = asked.get("adhesive", ""), home.now()
    adhesives(studio.materials(), adhesive)

    def work(own_studio: Studio, _report: Report) -> Any:
        steps = due(painting, own_studio.zone, now, own_studio.materials())
        return may_line(own_studio, painting, now, adhesive, forecast, bench), steps

    return work


def _where(home: StudioSession, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    now = home.now()
    arrives = period.begin(asked.get("arrives"), "arrives", studio.zone) or now.floor("h")
    year = period.begin(asked.get("year_from"), "year_from", studio.zone)
    chosen = tuple(word.strip() for word in asked.get("candidates", "").split(",") if word.strip())
    candidates(chosen, studio.materials())
    spot = _spot(home, asked) if asked.get("positions") else None
    if spot is None and not asked.get("to"):
        raise BadInput("choose a place with a logger, or drop a file of positions", field="to")

    def work(own_studio: Studio, report: Report) -> Any:
        if spot is None:
            there = of_place(own_studio, painting, asked["to"], asked.get("at", "unknown"), arrives, year)
        else:
            from envwatch.cases.hanging.year import described_year

            there = of_year(described_year(own_studio, painting, spot, arrives))
        return compare(own_studio, painting, there, arrives, now, chosen, report)

    return work


def _spot(home: StudioSession, asked: dict[str, str]):
    from envwatch.cases import hanging

    name, content = uploads.held(home, asked["positions"], DROPPED, "positions")
    spots = hanging.read(content, name)
    found = [one for one in spots if one.name.casefold().startswith(asked.get("spot", "").casefold())]
    if len(found) != 1:
        raise BadInput(f"say which position of {name}: {', '.join(one.name for one in spots)}", field="spot")
    return found[0]


def _leave(home: StudioSession, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    number_, now = fields.numbers(asked), home.now()
    day = period.begin(asked.get("leave"), "leave", studio.zone)
    if day is None:
        raise BadInput("give the day it is to leave", field="leave")
    journey = Journey(
        asked.get("l_to", ""), asked.get("l_at", "unknown"), number_("house_rh"), number_("vehicle_max"),
        number_("outdoors_max"), asked.get("logger", ""),
        period.begin(asked.get("logger_back"), "logger_back", studio.zone), asked.get("logger_by", ""),
    )  # fmt: skip
    morning = day + pd.Timedelta(hours=8)  # a bare day: it leaves in the morning
    return lambda own_studio, _report: may_leave(own_studio, painting, morning, now, journey)


def _call(home: StudioSession, _studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    said, now = asked.get("sign", ""), home.now()
    if not said:
        raise BadInput("say what the client sees, in a word or the client's own", field="sign")
    ring.triage_of(said)
    return lambda own_studio, _report: ring.ringing(own_studio, painting, said, now)


def _loan(home: StudioSession, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    if not asked.get("agreement"):
        raise BadInput("drop the file of the agreement first", field="agreement")
    name, content = uploads.held(home, asked["agreement"], DROPPED, "agreement")
    agreement, now = lending.read(content, name, studio.zone), home.now()
    if agreement.painting != painting.id:
        what = f"is about {agreement.painting}, not {painting.id} ({painting.title})"
        raise BadInput(what, field="agreement", place=name)
    return lambda own_studio, _report: lending.judged(own_studio, agreement, now)


WORK = {"today": _today, "where": _where, "leave": _leave, "call": _call, "loan": _loan}
ASKS = (*WORK, "away")


PAGE = Asking(PATH, LONG, begin, _work, fields.label, fields.input_of)


# ------------------------------------------------------------------------------------------------------ callbacks


def callbacks(app: Dash) -> None:
    """What happens on a click, and while something is judged."""
    go_to = Output("url", "href", allow_duplicate=True)
    again, said = Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True)
    app.callback(go_to, said, Output("around-said", "children"), Output({"around": ALL}, "error"),
                 Input({"around-ask": ALL}, "n_clicks"), State({"around": ALL}, "value"), State({"around": ALL}, "id"),
                 State({"around-held": ALL}, "value"), State({"around-held": ALL}, "id"),
                 prevent_initial_call=True)(go)  # fmt: skip
    app.callback(Output({"around-file": ALL}, "children"), Input({"around-drop": ALL}, "contents"),
                 State({"around-drop": ALL}, "filename"), State({"around-drop": ALL}, "id"),
                 prevent_initial_call=True)(take)  # fmt: skip
    app.callback(again, said, Output("hand-said", "children"), Input("hand-press", "n_clicks"),
                 State("hand-although", "value"), State("around-asked", "data"), State("again", "data"),
                 prevent_initial_call=True)(handed)  # fmt: skip
    app.callback(again, said, Output("rang-said", "children"), Input("rang-press", "n_clicks"),
                 State("rang-note", "value"), State("around-asked", "data"), State("again", "data"),
                 prevent_initial_call=True)(rang)  # fmt: skip
    app.server.add_url_rule("/around.pdf", "around-sheet", printed)
    app.server.add_url_rule("/around.ics", "around-calendar", calendar)


def go(_clicks: list, values: list, ids: list[dict[str, str]], tokens: list, files: list[dict[str, str]]):
    """To the address of what is asked; or a refusal beside the field it speaks of."""
    button = pressed()
    if button is None:
        return no_update, no_update, no_update, [no_update] * len(ids)
    typed = {id["around"]: value or "" for id, value in zip(ids, values, strict=True)}
    on_shelf = {id["around-held"]: token or "" for id, token in zip(files, tokens, strict=True)}
    asked = fields.given(typed | on_shelf, button["around-ask"])
    to, whole, errors = PAGE.go(asked, [id["around"] for id in ids])
    return to, "", whole, errors


def take(contents: list[str | None], names: list[str], ids: list[dict[str, str]]):
    """Hold a dropped file beside its question."""
    said: list[Any] = []
    for content, name, id in zip(contents, names, ids, strict=True):
        if not content or id["around-drop"] != (ctx.triggered_id or {}).get("around-drop"):
            said.append(no_update)
            continue
        try:
            token, kept = uploads.hold(house(), content, name, MOST_FILE)
            said.append(
                [
                    components.notice(f"{kept} is held; press the button below."),
                    fields.held_field(id["around-drop"], token),
                ]
            )
        except EnvwatchError as error:
            said.append(components.refusal(error))
    return said


def handed(clicks: int | None, although: str | None, asked: dict[str, str], again: int | None):
    """Record that it was handed over, with the reason where something is open."""
    if not clicks:
        return no_update, no_update, no_update
    try:
        result = _done(asked)
        with house().writing() as studio:
            hand_over(studio, result, although or "")
        query = urlencode(asked | {"although": although or ""})
        paper = html.A("The receipt to sign, as PDF", href=f"/around.pdf?{query}", target="_blank")
        return (again or 0) + 1, html.P(["The handover is on record. ", paper], className="notice", role="status"), ""
    except EnvwatchError as error:
        return no_update, "", components.refusal(error.place if error.field == "although" else error)


def rang(clicks: int | None, note: str | None, asked: dict[str, str], again: int | None):
    """Keep that the client rang, and what was advised."""
    if not clicks:
        return no_update, no_update, no_update
    try:
        result = _done(asked)
        with house().writing() as studio:
            ring.log(studio, result, asked.get("sign", ""), note or "")
        return (again or 0) + 1, components.notice("The call is on record."), ""
    except EnvwatchError as error:
        return no_update, "", components.refusal(error)


def _done(asked: dict[str, str]) -> Any:
    if asked.get("ask") not in ASKS:
        raise BadInput("nothing is asked; go back to the page")
    return begin(house(), asked).finished()


def printed() -> Response:
    """The paper that goes with an answer."""
    from envwatch.cases.away import nameless
    from envwatch.present.paper import away as away_sheet
    from envwatch.present.paper import lining as sheet

    asked, paper = fields.known(request.args.to_dict()), request.args.get("paper", "a4")
    try:
        result = _done({name: text for name, text in asked.items() if name != "although"})
        with house().reading() as studio:
            names = studio.names()
            result = nameless(studio, result) if asked["ask"] == "away" else names.within(result)
        make = {"where": sheet.comparison, "call": sheet.wet, "loan": sheet.loan, "away": away_sheet.page}
        if asked["ask"] == "leave":
            if result.open and not asked.get("although"):
                raise BadInput("something is open: it has no receipt before it is handed over with a reason")
            pdf = sheet.receipt(result, names.hide(asked.get("although", "")) if result.open else "", paper)
        elif asked["ask"] in make:
            pdf = make[asked["ask"]](result, paper)
        else:
            raise BadInput("this answer has no paper of its own; print the page")
    except EnvwatchError as error:
        return Response(PAGE.words(error, asked), 404, mimetype="text/plain")
    return components.sent(pdf, names.ident(f"{asked['ask']}-{asked.get('painting', 'studio')}.pdf"))


def calendar() -> Response:
    """What is due, as a calendar file."""
    from envwatch.cases.lining.calendar import calendar as written

    asked = fields.known(request.args.to_dict()) | {"ask": "today"}
    try:
        with house().reading() as studio:
            names = studio.names()
        found, steps = names.within(_done(asked))
    except EnvwatchError as error:
        return Response(PAGE.words(error, asked), 404, mimetype="text/plain")
    content = written(steps, found.title, found.zone, house().now())
    return components.sent(content, f"due-{found.painting_id}.ics", "text/calendar", "attachment")
