"""Around the lining: which adhesive for where it goes, may I line today, may it leave, a loan, the client's call."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import urlencode

import pandas as pd
from dash import ALL, Dash, Input, Output, State, ctx, dcc, html, no_update
from flask import Response, request

from dashboards import around_fields as typing
from dashboards import parts, reckoning
from dashboards.files import held
from dashboards.house import House, house
from dashboards.reckoning import Job, Report
from envwatch import materials, period
from envwatch.archive import Studio
from envwatch.errors import BadInput, EnvwatchError
from envwatch.lining import Forecast, Journey, Step, compare, due, may_leave, may_line, of_place, of_year
from envwatch.lining import call as ring
from envwatch.lining import loan as lending
from envwatch.lining.choosing import candidates
from envwatch.lining.release import hand_over
from envwatch.lining.said import ANSWERS, air_of_last_day, by_month, first_weeks_of, gives_first, own, unseen
from envwatch.records import Painting
from envwatch.wording import date, number, span, stamp

PATH, NAME, UNDER = "/around", "Around the lining", ()
HOW = (
    "Six questions around a lining. Choose the painting, open one, answer what you know; what is not known is said, "
    "and never counts as safe."
)
LONG = "Judging. You may leave this page and come back to its address."
SHAPE = {"nothing against it": "clear", "not yet": "act", "not known": "unknown"}
MOST_FILE = 5 * 2**20


def layout(home: House, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page; what was asked stands in the address, so that it can be shared and found again."""
    said = typing.known(asked)
    with home.reading() as studio:
        if not studio.paintings():
            return html.Div([
                html.H1(NAME), html.P("No painting is in the register yet."),
                html.P(["First: ", dcc.Link("enter a painting", href="/paintings"), "."]),
            ], className="empty")  # fmt: skip
    shown, faults = _answer(home, said) if said.get("ask") in ASKS else (html.P(HOW, className="how"), {})
    with home.reading() as studio:
        return html.Div([html.H1(NAME), shown, typing.form(studio, said, faults, home.now()),
                         dcc.Store(id="around-asked", data=said)])  # fmt: skip


# ------------------------------------------------------------------------------------------------------ the work


def begin(home: House, asked: dict[str, str]) -> Job:
    """The answer that an address asks for, begun or found.

    Raises
    ------
    EnvwatchError : what is typed cannot be used as it is.
    """
    if asked["ask"] == "away":
        home.review()  # made first: its findings get their numbers, and with them the studio another version
    with home.reading() as studio:
        key = (home.folder, studio.state().version, "around", home.now().floor("h"), tuple(sorted(asked.items())))
        work = _work(home, studio, asked)

    def alone(report: Report) -> Any:
        with home.writing() as own_studio:  # a studio of its own: readers need not wait for it
            return work(own_studio, report)

    return home.bench.job(key, alone)


Work = Callable[[Studio, Report], Any]


def _work(home: House, studio: Studio, asked: dict[str, str]) -> Work:
    if asked["ask"] == "away":
        return _away(home, asked)
    if not asked.get("painting"):
        raise BadInput("painting is empty; choose the painting first")
    return WORK[asked["ask"]](home, studio, studio.find_painting(asked["painting"]), asked)


def _away(home: House, asked: dict[str, str]) -> Work:
    from envwatch.away import sheet_for

    missing = next((name for name in ("a_from", "a_until") if not asked.get(name)), None)
    if missing:
        raise BadInput(f"{missing} is empty; give the first and the last day away")
    first, last, now = period.given(asked["a_from"], "--from"), period.given(asked["a_until"], "--until"), home.now()
    if last < first:
        raise BadInput(f"--until {asked['a_until']}: lies before the first day")
    ring_whom = tuple(whom.strip() for whom in asked.get("ring", "").split(";") if whom.strip())
    return lambda own_studio, _report: sheet_for(
        own_studio, now, str(first.date()), str(last.date()), asked.get("who", ""), ring_whom
    )  # fmt: skip


def _today(home: House, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    number_ = typing.numbers(asked)
    forecast = Forecast(*(number_(name) for name in ("f_max", "f_min", "f_rh_max", "f_rh_min")))
    adhesive, now = asked.get("adhesive", ""), home.now()
    with materials.using(studio.materials()):
        candidates((adhesive,) if adhesive else ())

    def work(own_studio: Studio, _report: Report) -> Any:
        with materials.using(own_studio.materials()):
            steps = due(painting, own_studio.zone, now)
        return may_line(own_studio, painting, now, adhesive, forecast), steps

    return work


def _where(home: House, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    now = home.now()
    arrives = _day(studio, asked, "arrives") or now.floor("h")
    year = _day(studio, asked, "year_from")
    chosen = tuple(word.strip() for word in asked.get("candidates", "").split(",") if word.strip())
    with materials.using(studio.materials()):
        candidates(chosen)
    spot = _spot(home, asked) if asked.get("positions") else None
    if spot is None and not asked.get("to"):
        raise BadInput("to is empty; choose a place with a logger, or drop a file of positions")

    def work(own_studio: Studio, report: Report) -> Any:
        if spot is None:
            there = of_place(own_studio, painting, asked["to"], asked.get("at", "unknown"), arrives, year)
        else:
            from envwatch.hanging.year import described_year

            with materials.using(own_studio.materials()):
                there = of_year(described_year(own_studio, painting, spot, arrives))
        return compare(own_studio, painting, there, arrives, now, chosen, report)

    return work


def _spot(home: House, asked: dict[str, str]):
    from envwatch import hanging

    name, content = _shelved(home, asked["positions"])
    spots = hanging.read(content, name)
    found = [one for one in spots if one.name.casefold().startswith(asked.get("spot", "").casefold())]
    if len(found) != 1:
        raise BadInput(f"spot: say which position of {name}: {', '.join(one.name for one in spots)}")
    return found[0]


def _leave(home: House, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    number_, now = typing.numbers(asked), home.now()
    day = _day(studio, asked, "leave")
    if day is None:
        raise BadInput("leave is empty; give the day it is to leave")
    journey = Journey(
        asked.get("l_to", ""), asked.get("l_at", "unknown"), number_("house_rh"), number_("vehicle_max"),
        number_("outdoors_max"), asked.get("logger", ""), _day(studio, asked, "logger_back"),
        asked.get("logger_by", ""),
    )  # fmt: skip
    morning = day + pd.Timedelta(hours=8)  # a bare day: it leaves in the morning
    return lambda own_studio, _report: may_leave(own_studio, painting, morning, now, journey)


def _call(home: House, _studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    said, now = asked.get("sign", ""), home.now()
    if not said:
        raise BadInput("sign is empty; say what the client sees, in a word or the client's own")
    ring.triage_of(said)
    return lambda own_studio, _report: ring.ringing(own_studio, painting, said, now)


def _loan(home: House, studio: Studio, painting: Painting, asked: dict[str, str]) -> Work:
    if not asked.get("agreement"):
        raise BadInput("agreement: drop the file of the agreement first")
    name, content = _shelved(home, asked["agreement"])
    agreement, now = lending.read(content, name, studio.zone), home.now()
    if agreement.painting != painting.id:
        raise BadInput(f"{name}: is about {agreement.painting}, not {painting.id} ({painting.title})")
    return lambda own_studio, _report: lending.judged(own_studio, agreement, now)


WORK = {"today": _today, "where": _where, "leave": _leave, "call": _call, "loan": _loan}
ASKS = (*WORK, "away")


def _day(studio: Studio, asked: dict[str, str], name: str) -> pd.Timestamp | None:
    if not asked.get(name):
        return None
    return period.given(asked[name], f"--{name}").tz_localize(studio.zone).tz_convert("UTC")


def _shelved(home: House, token: str) -> tuple[str, bytes]:
    if token not in home.shelf:
        raise BadInput("the file dropped for this is not held any more; drop it again")
    return home.shelf[token]


# ---------------------------------------------------------------------------------------------------- the answers


def _answer(home: House, asked: dict[str, str]) -> tuple[Any, dict[str, str]]:
    """What is shown, and what is wrong by field."""
    try:
        job = begin(home, asked)
        if not job.over.is_set():
            return reckoning.waiting(job, LONG, asked, "around-tick"), {}
        if job.refused is not None:
            raise job.refused
    except EnvwatchError as error:
        faults = typing.fields_at_fault(str(error))
        return parts.refusal(next(iter(faults.values()))), faults
    show = {"today": _told_today, "where": _told_where, "leave": _told_leave, "call": _told_call, "loan": _told_loan,
            "away": _told_away}  # fmt: skip
    return show[asked["ask"]](job.result, asked), {}


def _head(title: str, id: str, words: str) -> html.P:
    return html.P([parts.painting_link(id, title), html.Span(id, className="number"), words], className="where")


def _checks(checks: Iterable[Any]) -> html.Ul:
    return html.Ul([
        html.Li([html.Span(className=f"shape {SHAPE[c.word]}", **{"aria-hidden": "true"}),
                 html.Strong(f" {c.what}: {c.word}. "), typing.plain(c.sentence)])
        for c in checks
    ], className="checks")  # fmt: skip


def _steps(steps: Iterable[Step], zone: str) -> Any:
    rows = [(date(s.on, zone), s.what, "seen" if s.done else "", s.why) for s in steps]
    return parts.table(("day", "what", "", "where the day comes from"), rows, "What is due", numbers=False) if rows \
        else html.P("Nothing.")  # fmt: skip


def _told_today(result: tuple, asked: dict[str, str]) -> html.Div:
    told, steps = result
    return html.Div([
        _head(told.title, told.painting_id, told.where),
        html.P(f"May I line today, {stamp(told.at, told.zone)}? {ANSWERS[told.word]}", className="summary opening"),
        _checks(told.checks),
        html.P(air_of_last_day(told)),
        parts.items(told.notes),
        parts.section("What is due", _steps(steps, told.zone), html.Div(
            html.A("as a calendar file", href=f"/around.ics?{urlencode(asked)}"), className="actions noprint")),
    ])  # fmt: skip


def _told_where(result, asked: dict[str, str]) -> html.Div:
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
            ("not known", unseen(c)),
            ("strength", str(c.profile.strength or "")), ("comes off by", str(c.profile.removal or "")),
            ("note", parts.items((*c.pairs, *c.profile.overruled))),
        ]),
    ], className="other-place")  # fmt: skip


def _told_leave(result, asked: dict[str, str]) -> html.Div:
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


def _told_call(result, asked: dict[str, str]) -> html.Div:
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


def _told_loan(result, asked: dict[str, str]) -> html.Div:
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


def _told_away(result, asked: dict[str, str]) -> html.Div:
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


# ------------------------------------------------------------------------------------------------------ callbacks


def callbacks(app: Dash) -> None:
    """What happens on a click, and while something is judged."""
    go_to = Output("url", "href", allow_duplicate=True)
    again, said = Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True)
    app.callback(go_to, said, Output("around-said", "children"), Output({"around": ALL}, "error"),
                 Input({"around-ask": ALL}, "n_clicks"), State({"around": ALL}, "value"), State({"around": ALL}, "id"),
                 State({"around-held": ALL}, "value"), State({"around-held": ALL}, "id"),
                 prevent_initial_call=True)(go)  # fmt: skip
    app.callback(Output("reckoned", "children", allow_duplicate=True), again, Input("around-tick", "n_intervals"),
                 State("reckon-asked", "data"), State("again", "data"), prevent_initial_call=True)(tick)  # fmt: skip
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
    if not ctx.triggered_id or not ctx.triggered[0]["value"]:
        return no_update, no_update, no_update, [no_update] * len(ids)
    typed = {id["around"]: value or "" for id, value in zip(ids, values, strict=True)}
    dropped = {id["around-held"]: token or "" for id, token in zip(files, tokens, strict=True)}
    asked = typing.given(typed | dropped, ctx.triggered_id["around-ask"])
    try:
        with house().reading() as studio:
            _work(house(), studio, asked)
    except EnvwatchError as error:
        faults = typing.fields_at_fault(str(error))
        whole = parts.refusal(faults[""]) if "" in faults else ""
        return no_update, "", whole, [faults.get(id["around"], "") for id in ids]
    return f"{PATH}?{urlencode(asked)}", "", "", [""] * len(ids)


def tick(_n: int, asked: dict[str, str], again: int | None):
    """How far it has come; the page again when it is done."""
    job = begin(house(), asked)
    return (no_update, (again or 0) + 1) if job.over.is_set() else (reckoning.bar(job), no_update)


def take(contents: list[str | None], names: list[str], ids: list[dict[str, str]]):
    """Hold a dropped file beside its question."""
    told: list[Any] = []
    for content, name, id in zip(contents, names, ids, strict=True):
        if not content or id["around-drop"] != (ctx.triggered_id or {}).get("around-drop"):
            told.append(no_update)
            continue
        try:
            kept, its_bytes = held(content, name, MOST_FILE)
            house().keep_on_shelf(hashlib.sha256(its_bytes).hexdigest()[:16], kept, its_bytes)
            token = next(reversed(house().shelf))
            told.append(
                [parts.notice(f"{kept} is held; press the button below."), typing.held_field(id["around-drop"], token)]
            )
        except EnvwatchError as error:
            told.append(parts.refusal(error))
    return told


def handed(clicks: int | None, although: str | None, asked: dict[str, str], again: int | None):
    """Record that it was handed over, with the reason where something is open."""
    if not clicks:
        return no_update, no_update, no_update
    try:
        job = begin(house(), asked)
        job.over.wait()
        with house().writing() as studio:
            hand_over(studio, job.result, although or "")
        query = urlencode(asked | {"although": although or ""})
        paper = html.A("The receipt to sign, as PDF", href=f"/around.pdf?{query}", target="_blank")
        return (again or 0) + 1, html.P(["The handover is on record. ", paper], className="notice", role="status"), ""
    except EnvwatchError as error:
        return no_update, "", parts.refusal(typing.plain(str(error)))


def rang(clicks: int | None, note: str | None, asked: dict[str, str], again: int | None):
    """Keep that the client rang, and what was advised."""
    if not clicks:
        return no_update, no_update, no_update
    try:
        job = begin(house(), asked)
        job.over.wait()
        with house().writing() as studio:
            ring.log(studio, job.result, asked.get("sign", ""), note or "")
        return (again or 0) + 1, parts.notice("The call is on record."), ""
    except EnvwatchError as error:
        return no_update, "", parts.refusal(error)


def _done(asked: dict[str, str]) -> Any:
    if asked.get("ask") not in ASKS:
        raise BadInput("nothing is asked; go back to the page")
    job = begin(house(), asked)
    job.over.wait()
    if job.refused is not None:
        raise job.refused
    return job.result


def printed() -> Response:
    """The paper that goes with an answer."""
    from envwatch.sheets import away as away_sheet
    from envwatch.sheets import lining as sheet

    asked, paper = typing.known(request.args.to_dict()), request.args.get("paper", "a4")
    try:
        result = _done({name: text for name, text in asked.items() if name != "although"})
        make = {"where": sheet.comparison, "call": sheet.wet, "loan": sheet.loan, "away": away_sheet.page}
        if asked["ask"] == "leave":
            if result.open and not asked.get("although"):
                raise BadInput("something is open: it has no receipt before it is handed over with a reason")
            pdf = sheet.receipt(result, asked.get("although", "") if result.open else "", paper)
        elif asked["ask"] in make:
            pdf = make[asked["ask"]](result, paper)
        else:
            raise BadInput("this answer has no paper of its own; print the page")
    except EnvwatchError as error:
        return Response(typing.plain(str(error)), 404, mimetype="text/plain")
    name = f"{asked['ask']}-{asked.get('painting', 'studio')}.pdf"
    return Response(pdf, mimetype="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'})


def calendar() -> Response:
    """What is due, as a calendar file."""
    from envwatch.lining.calendar import calendar as written

    asked = typing.known(request.args.to_dict()) | {"ask": "today"}
    try:
        told, steps = _done(asked)
    except EnvwatchError as error:
        return Response(typing.plain(str(error)), 404, mimetype="text/plain")
    content = written(steps, told.title, told.zone, house().now())
    name = f"due-{told.painting_id}.ics"
    return Response(
        content, mimetype="text/calendar", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )
