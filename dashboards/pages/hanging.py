"""Where to hang: a painting's places in a house, described or logged, judged by the one path, and the owner's page."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote, urlencode

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update
from flask import Response, request

from dashboards import components, uploads
from dashboards.asking import Asking, painting_of
from dashboards.forms import pressed
from dashboards.jobs import Job, Report, Work
from dashboards.pages import hanging_fields as fields
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.cases.fields.hanging import AFTER
from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.core.findings import Level
from envwatch.core.text import date, first_sentence

PATH, NAME, UNDER = "/hang", "Where to hang", ()
HOW = (
    "Answer what you know of each place; leave the rest open. What is not known counts at its worst plausible value, "
    "and that is said. Six questions decide most; they stand first."
)
LONG = "Judging each place over a year from the day of hanging. You may leave this page and come back to its address."
MOST_FILE = 20 * 2**20
TITLES = {"never here": "Never here", "good place": "Good place", "good place if …": "Good place if …",
          "measure first": "Measure first"}  # fmt: skip
LANGUAGES = {"en": "English", "pt": "Portuguese", "es": "Spanish", "fr": "French", "it": "Italian", "de": "German"}
STILL = (
    "Found by solving: each is the least change of its kind that clears what it names, all else as described. It is "
    "advice on the day, not a guarantee; the insurer's terms and licensed trades come first."
)


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page; the positions stand in the address, so that it can be shared and found again."""
    said = fields.known(asked)
    with home.reading() as studio:
        if not studio.paintings():
            return components.first_of_all(
                NAME, "No painting is in the register yet.", "enter a painting", "/paintings"
            )
    shown, faults, result = html.P(HOW, className="how"), {}, None
    if said.get("ask"):
        shown, faults, result = PAGE.answer(home, said, _shown)
    with home.reading() as studio:
        return html.Div([
            html.H1(NAME), shown, fields.form(studio, said, faults, _deciding(result, said)),
            dcc.Store(id="hang-asked", data=said),
        ])  # fmt: skip


# ------------------------------------------------------------------------------------------------------ the work


def begin(home: StudioSession, asked: dict[str, str]) -> Job:
    """The judging that an address asks for, begun or found.

    Raises
    ------
    BadInput, Question, NotThere : what is typed cannot be used as it is.
    """
    return home.reckon(PATH, asked, lambda studio: _work(home, studio, asked))


def _work(home: StudioSession, studio: Studio, asked: dict[str, str]) -> Work:
    from envwatch.cases import hanging
    from envwatch.cases.hanging.assessment import hung_at, with_adhesive
    from envwatch.core import period

    if not asked.get("painting"):
        raise BadInput("choose the painting that is to hang there", field="painting")
    house_, rows = fields.rows_of(asked)
    if not any(rows):
        raise BadInput("describe one position at least: its name, and what you know of it", field="1.name")
    spots = hanging.described(house_, rows)
    painting = with_adhesive(painting_of(studio, asked), asked.get("adhesive"), studio.materials())
    day = period.begin(asked.get("on"), "on", studio.zone)
    now = home.now()
    if asked["ask"] == "after":
        spots = (hung_at(spots, asked.get("at", "")),)
        owners = _owners_file(home, asked)

    def work(own: Studio, report: Report) -> Any:
        advice = hanging.advise(own, painting, spots, now, day, report)
        if asked["ask"] != "after":
            return advice
        from envwatch.cases.hanging.verification import after_hanging

        return advice, after_hanging(own, painting, spots[0], advice.positions[0], owners, advice.hang_on)

    return work


def _owners_file(home: StudioSession, asked: dict[str, str]):
    from envwatch import logs
    from envwatch.cases.hanging.assessment import owners_air

    with uploads.as_file(home, asked.get("log", ""), "the owner's file") as path:
        said = logs.Answers(zone=asked.get("zone") or None, start=asked.get("start") or None)
        read = logs.read(path, said, now=home.now(), need_rh=True)
        return owners_air(read, path.name)


PAGE = Asking(PATH, LONG, begin, _work, fields.label)


# ----------------------------------------------------------------------------------------------------- the answer


def _shown(result, asked: dict[str, str]) -> html.Div:
    return _after(*result) if asked["ask"] == "after" else _advice(result, asked)


def _deciding(result, asked: dict[str, str]) -> dict[str, set[str]]:
    """Which fields could still change the answer, by position."""
    if result is None or asked["ask"] == "after":
        return {}
    return {s.name: {s.decider.field.removesuffix("_m")} for s in result.positions if s.decider is not None}


def _advice(advice, asked: dict[str, str]) -> html.Div:
    from envwatch.present.paper import hanging as sheet

    told = sheet.content(advice)
    spots = dict(zip((s.name for s in advice.positions), told["spots"], strict=True))
    return html.Div(
        [
            html.P(
                [components.painting_link(advice.painting_id, advice.title), ": ", told["about"]], className="where"
            ),
            html.P(told["answer"], className="summary opening"),
            html.P(["What would decide it. ", told["decides"]]) if told["decides"] else None,
            _papers(asked),
            *(html.P(note, className="notice") for note in told["notes"]),
            *(
                components.section(
                    f"{words}: {len(advice.of(kind))}", *(_spot(spot, spots[spot.name]) for spot in advice.of(kind))
                )
                for kind, words in TITLES.items()
                if advice.of(kind)
            ),
            html.P(STILL, className="quiet"),
            components.section("After hanging", _owners_form(advice)),
            components.section(
                "For the record", components.items(told["sources"]), html.P(told["trust"], className="quiet")
            ),
        ]
    )


def _papers(asked: dict[str, str]) -> html.Div:
    query = urlencode(asked)
    owners = [html.A(words, href=f"/hanging-owner.pdf?{query}&language={code}", target="_blank", lang="en")
              for code, words in LANGUAGES.items()]  # fmt: skip
    return html.Div([
        html.Div([html.Span("the owner's page, as PDF:"), *owners], className="actions"),
        html.Div([html.A("the studio's sheet, as PDF", href=f"/hanging-studio.pdf?{query}", target="_blank"),
                  components.print_button()], className="actions"),
    ], className="noprint")  # fmt: skip


def _spot(spot, told: dict) -> html.Article:
    raised = [found for found in spot.found if found.high >= Level.WATCH]
    return html.Article([
        html.H3(spot.name), html.P(told["why"], className="sentence"),
        components.facts([
            ("if you", components.items(told["conditions"])),
            ("instead" if spot.kind == "never here" else "solved for", components.items(told["cures"])),
            ("find out", told["find_out"]),
            ("ask", components.items(spot.questions)),
            ("first weeks", told["first"]), ("settled", told["settled"]),
            ("known by", told["tier"]), ("assumed", told["assumed"]),
            ("note", components.items([*told["notes"], *(["the data do not separate this one from the next"]
                                                   if spot.apart is False else [])])),
        ]),
        components.more(f"what counts against it: {len(raised)}" if raised else "every count", _counts(spot, told)),
        components.more("behind the picture: wall face and back of the canvas", *_behind(spot, told)) if told["colds"]
        else None,
    ], className="other-place")  # fmt: skip


def _counts(spot, told: dict) -> Any:
    heads = ("count", "kindest to worst", "worst value and limit", "source")
    return (
        components.table(heads, told["counts"], f"What counts at {spot.name}", numbers=False)
        if told["counts"]
        else None
    )


def _behind(spot, told: dict) -> list:
    heads = ("", "U, W/(m²K)", "outdoors, °C", "room", "wall, °C", "wall, % RH", "canvas, °C", "canvas, % RH")
    drawn = [
        html.Figure([
            html.Figcaption(told["section_note"], className="how"),
            html.Img(src=f"data:image/svg+xml,{quote(told['svg'])}", className="sectioned",
                     alt=f"The wall at {spot.name} cut through, with the course of temperature from outdoors to the "
                     "room; its figures stand in the table."),
        ])
    ] if told["svg"] else []  # fmt: skip
    return [*drawn, components.table(heads, told["colds"], f"Wall face and canvas back at {spot.name}"),
            components.items(told["years"])]  # fmt: skip


def _owners_form(advice) -> html.Div:
    names = [(spot.name, spot.name) for spot in advice.positions]
    return html.Div([
        html.P("The owner's logger file, sent later, is held against this advice.", className="quiet"),
        html.Div([
            components.choice("hang-at", AFTER["at"].words, names, names[0][0]),
            components.field("hang-zone", AFTER["zone"].words, AFTER["zone"].hint),
            components.field("hang-start", AFTER["start"].words, AFTER["start"].hint),
        ], className="fields"),
        dcc.Upload(html.Div([html.Strong("Drop the owner's file here"), html.Span(", or press to choose it")]),
                   id="hang-log", className="drop", className_active="drop over", style={}, style_active={}),
        html.Div(id="hang-log-said"),
    ], className="form noprint")  # fmt: skip


def _after(advice, result) -> html.Div:
    rows = [
        (f"{count.finding.hazard}, {count.finding.mechanism}", components.level(count.finding.level), count.word,
         first_sentence(count.finding.sentence))
        for count in result.counts
        if count.finding.level >= Level.WATCH or count.word.startswith(("worse", "not known"))
    ]  # fmt: skip
    heads = ("count", "level", "against the advice", "")
    return html.Div([
        html.P(f"{advice.title}, {result.name}: {date(result.start, advice.zone)} to {date(result.end, advice.zone)}; "
               f"{result.verdict.coverage:.0%} of the time was read", className="where"),
        html.P(result.sentence, className="summary opening"),
        components.table(heads, rows, "What counts since hanging", numbers=False) if rows else None,
        components.section("To be known", components.items(result.notes)),
    ])  # fmt: skip


# ------------------------------------------------------------------------------------------------------ callbacks


def callbacks(app: Dash) -> None:
    """What happens on a click, and while a judging is at work."""
    go_to = Output("url", "href", allow_duplicate=True)
    app.callback(go_to, Output("said", "children", allow_duplicate=True), Output("hang-said", "children"),
                 Output({"hang": ALL}, "error"),
                 Input("hang-go", "n_clicks"), Input("hang-another", "n_clicks"), State({"hang": ALL}, "value"),
                 State({"hang": ALL}, "id"), prevent_initial_call=True)(go)  # fmt: skip
    app.callback(go_to, Output("said", "children", allow_duplicate=True), Input("hang-file", "contents"),
                 State("hang-file", "filename"), State("hang-asked", "data"),
                 prevent_initial_call=True)(fill)  # fmt: skip
    app.callback(go_to, Output("hang-log-said", "children"), Input("hang-log", "contents"),
                 State("hang-log", "filename"), State("hang-at", "value"), State("hang-zone", "value"),
                 State("hang-start", "value"), State("hang-asked", "data"),
                 prevent_initial_call=True)(take)  # fmt: skip
    app.server.add_url_rule("/hanging-owner.pdf", "hanging-owner", lambda: printed("owner"))
    app.server.add_url_rule("/hanging-studio.pdf", "hanging-studio", lambda: printed("studio"))


def go(_go: int, _another: int, values: list, ids: list[dict[str, str]]):
    """To the address of what is asked; or a refusal beside the field it speaks of."""
    button = pressed()
    if button is None:
        return no_update, no_update, no_update, [no_update] * len(ids)
    given = ((id["hang"], (value or "").strip()) for id, value in zip(ids, values, strict=True))
    asked = {name: text for name, text in given if text}
    try:
        if button == "hang-another":
            spots = fields.spots_of(dict.fromkeys((id["hang"] for id in ids), "")) + 1
            asked["spots"] = str(spots)
            return f"{PATH}?{urlencode(asked)}#position-{spots}", "", "", [""] * len(ids)
    except EnvwatchError as error:
        return no_update, "", components.refusal(error), [""] * len(ids)
    to, whole, errors = PAGE.go(asked | {"ask": "where"}, [id["hang"] for id in ids])
    return to, "", whole, errors


def fill(content: str | None, name: str, asked: dict[str, str]):
    """Fill in the questions from a dropped file of positions."""
    if not content:
        return no_update, no_update
    from envwatch.cases import hanging

    try:
        told, rows = hanging.cells(uploads.read(content, name, MOST_FILE)[1], name)
        filled = {key: asked[key] for key in fields.TOP if asked.get(key)} | fields.asked_of(told, rows)
        fields.spots_of(filled)
    except EnvwatchError as error:
        return no_update, components.refusal(error)
    return f"{PATH}?{urlencode(fields.known(filled))}", components.notice(f"{name} is filled in below.")


def take(content: str | None, name: str, at: str, zone: str | None, start: str | None, asked: dict[str, str]):
    """Hold the owner's file, and judge it against the advice."""
    if not content:
        return no_update, no_update
    try:
        token, _ = uploads.hold(house(), content, name, MOST_FILE)
        said = {**asked, "ask": "after", "log": token, "at": at}
        said |= {field: text for field, text in (("zone", zone), ("start", start)) if text}
        with house().reading() as studio:
            _work(house(), studio, said)
    except EnvwatchError as error:
        below = f" Say so under “{AFTER[error.field].words}”" if error.field in ("zone", "start") else ""
        return no_update, components.refusal(PAGE.words(error, asked) + below)
    return f"{PATH}?{urlencode(said)}", ""


def printed(which: str) -> Response:
    """The owner's page or the studio's sheet."""
    from envwatch.present.paper import hanging as studio_sheet
    from envwatch.present.paper import owner

    asked = fields.known(request.args.to_dict()) | {"ask": "where"}
    paper, language = request.args.get("paper", "a4"), request.args.get("language", "en")
    try:
        advice = begin(house(), asked).finished()
        if which == "owner":
            with house().reading() as studio:
                advice = studio.names().within(advice)
        pdf = owner.page(advice, paper, language) if which == "owner" else studio_sheet.page(advice, paper)
    except EnvwatchError as error:
        return Response(PAGE.words(error, asked), 404, mimetype="text/plain")
    return components.sent(pdf, f"hanging-{advice.painting_id}-{which}.pdf")
