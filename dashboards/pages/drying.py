"""Drying the room: what would be done about the damp, by how much each way would help, and at what cost."""

from __future__ import annotations

from urllib.parse import urlencode

import pandas as pd
from dash import Dash, Input, Output, State, html, no_update
from flask import Response, request

from dashboards import components, uploads
from dashboards.asking import Asking
from dashboards.forms import pressed
from dashboards.jobs import Job, Work
from dashboards.pages import drying_fields as fields
from dashboards.session import StudioSession, house
from envwatch.archive import Studio
from envwatch.cases import timeline
from envwatch.core import period
from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.core.place import PlaceKind
from envwatch.core.text import date, number, stamp
from envwatch.present import charts

PATH, NAME, UNDER = "/drying", "Drying the room", ()
HOW = (
    "Reckons what a dehumidifier, tightening, airing, heating, another room or a cover would do to the damp of a room, "
    "all through the weather that was, and judges the paintings in it each time. It takes up to a minute."
)
LONG = (
    "Reckoning. Each way is tried in hundreds of rooms that could as well be this one. You may leave this page and "
    "come back to its address."
)
NOT_ROOMS = ("outdoors", "crate", "vehicle")
ASKS = {"case": "The case", "spell": "A hot or cold spell", "after": "After buying"}
MOST_FILE = 20 * 2**20


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page; what was asked stands in the address, so that it can be shared and found again."""
    with home.reading() as studio:
        rooms = [place for place in timeline.places_read(studio) if place.kind not in NOT_ROOMS]
    if not rooms:
        return components.first_of_all(NAME, "No logger hangs in a room yet; six weeks of one are needed.",
                                  "bring in a logger's files", "/files", ", and say there where it hangs.")  # fmt: skip
    usual = next((room for room in rooms if room.kind == PlaceKind.STORE), rooms[0])
    place = next((room for room in rooms if room.id == asked.get("place")), usual)
    said = fields.known(asked) | {"place": place.id}
    shown, faults = html.P(HOW, className="how"), {}
    if asked.get("ask") in ASKS:
        shown, faults, _result = PAGE.answer(home, said, _shown)
    return html.Div([html.H1(NAME), shown, fields.form(rooms, place, said, files_held(home), faults)])


def files_held(home: StudioSession) -> list[tuple[str, str]]:
    """The files of air outdoors that were dropped since the pages were started."""
    return [(f"file:{token}", name) for token, (name, _) in home.shelf.items()]


# ------------------------------------------------------------------------------------------------------ the work


def begin(home: StudioSession, asked: dict[str, str]) -> Job:
    """The reckoning that an address asks for, begun or found.

    Raises
    ------
    BadInput, Question : what is typed cannot be used as it is.
    """
    return home.reckon(PATH, asked, lambda studio: _work(home, studio, asked))


def _work(home: StudioSession, studio: Studio, asked: dict[str, str]) -> Work:
    from envwatch.cases.dehumidifier import make, typed

    now, place, zone = home.now(), asked["place"], studio.zone
    said = typed.asked(asked, zone, _outdoors(home, studio, asked))
    if asked["ask"] == "spell":
        from envwatch.cases.dehumidifier.spell import ahead

        highest, lowest, days = fields.spell_of(asked)
        return lambda own, _report: ahead(own, place, now, highest, lowest, days, said)
    if asked["ask"] == "after":
        from envwatch.cases.dehumidifier.verification import after_buying

        since = period.begin(asked.get("bought") or "", "bought", zone)
        assert since is not None
        return lambda own, _report: after_buying(own, place, now, since, said)
    return lambda own, report: make(own, place, now, said, report)


def _outdoors(home: StudioSession, studio: Studio, asked: dict[str, str]):
    """The air outdoors that was named: none (bounds), a file dropped here, or the studio's own logger."""
    from envwatch.climate.outdoors import bounds
    from envwatch.logs import weather

    named, now = asked.get("outdoors", ""), home.now()
    if named == "none":
        return bounds(studio.climate(asked["place"], now - pd.Timedelta(days=1500), now))
    if not named.startswith("file:"):
        return None
    with uploads.as_file(home, named[5:], "the file dropped for this", "outdoors") as path:
        return weather.read(path, asked.get("outdoors_zone") or None, now, asked.get("outdoors_start") or None)


PAGE = Asking(PATH, LONG, begin, _work, lambda name: fields.LABELS.get(name, "") if name in fields.TYPED else "",
              lambda field, _asked: fields.CALLED.get(field, field))  # fmt: skip


# ----------------------------------------------------------------------------------------------------- the answer


def _shown(result, asked: dict[str, str]) -> html.Div:
    return {"case": _case, "spell": _spell, "after": _after}[asked["ask"]](result, asked)


def _case(case, asked: dict[str, str]) -> html.Div:
    from envwatch.present.paper import dehumidifier as sheet

    told = sheet.content(case)
    return html.Div(
        [
            html.P(f"{told['place']}, {told['span']}", className="where"),
            html.P(told["sentence"], className="summary opening"),
            html.Div(
                [
                    html.A(
                        "the page for whoever pays, as PDF", href=f"/drying.pdf?{urlencode(asked)}", target="_blank"
                    ),
                    components.print_button(),
                ],
                className="actions noprint",
            ),
            components.figure(
                "before-after",
                charts.before_after(case.picture, case.zone),
                told["how_to_read"],
                charts.before_after_told(case.picture),
                _months(case),
                300,
            ),
            components.facts((fact["label"], components.items(fact["items"])) for fact in told["facts"]),
            components.section("What may be done", html.P(told["table_note"], className="how"), _ways(case, told)),
            components.section(
                "Behind it",
                *(
                    components.more(part["title"], *map(html.P, part["lines"]), components.items(part["items"]))
                    for part in told["parts"]
                ),
            ),
            components.section(
                "Safety",
                html.P(html.Strong(told["safety_first"])),
                *(
                    components.more(part["title"], components.items(part["items"]), opened=True)
                    for part in told["safety"]
                ),
            ),
        ]
    )


def _ways(case, told: dict) -> html.Div:
    rows = [
        (row[0], components.level(one.level), *row[1:])
        for row, one in zip(told["rows"], case.outcomes, strict=True)
    ]  # fmt: skip
    heads = ("", "paintings", *told["heads"][1:])
    return html.Div(
        components.table(heads, rows, f"What may be done about the damp: {told['place']}"), className="ways"
    )


def _months(case) -> html.Div:
    heads, rows = charts.before_after_table(case.picture, case.zone)
    return components.table(heads, rows, "Mean humidity by month: as read, as reckoned, and after")


def _spell(result, _asked: dict[str, str]) -> html.Div:
    zone = result.zone
    first = (
        f"{result.place.name}: a spell of {number(result.lowest_c, 0)} to {number(result.highest_c, 0)} °C outdoors. "
        f"The room would reach {number(result.room_lowest_c)} to {number(result.room_highest_c)} °C and "
        f"{number(result.room_lowest_rh, 0)} to {number(result.room_highest_rh, 0)} % RH "
        f"until {stamp(result.end, zone)}."
    )
    rows = [
        (
            components.painting_link(one.painting_id, one.title),
            components.level(one.level),
            stamp(one.at, zone) if one.at else "",
            one.sentence,
            one.carry_to or "nowhere better is known",
        )
        for one in result.crossings
    ]
    heads = ("painting", "level", "from", "why", "carry to")
    return html.Div([
        html.P(result.sentence, className="summary opening"), html.P(first),
        components.table(heads, rows, "Paintings that cross a limit, the first first", numbers=False) if rows else None,
        components.section("Assumed or to be known", components.items(result.notes)),
    ])  # fmt: skip


def _after(result, _asked: dict[str, str]) -> html.Div:
    zone = result.place.zone

    def three(values, unit: str, form: str = ".0f") -> str:
        low, middle, high = (format(value, form) for value in values)
        return f"{middle} {unit} ({low} to {high})"

    rows = [
        ("mean humidity", f"{result.log_mean_percent:.1f} %", three(result.forecast_mean_percent, "%", ".1f"), ""),
        ("damp hours", f"{result.log_damp_h:,} h", three(result.forecast_damp_h, "h"),
         three(result.without_damp_h, "h")),
        ("water", "see the tank", three(result.forecast_litres, "L"), ""),
        ("current", "see the meter", three(result.forecast_kwh, "kWh"), ""),
    ]  # fmt: skip
    heads = ("", "as read", "as forecast", "had it not been bought")
    return html.Div([
        html.P(f"{result.place.name}, {date(result.since, zone)} to {date(result.until, zone)}: {result.machine}",
               className="where"),
        html.P(result.sentence, className="summary opening"),
        html.P("Forecast: the middle of the plausible rooms, and in brackets eight of ten.", className="how"),
        components.table(heads, rows, "Forecast against log"),
    ])  # fmt: skip


# ------------------------------------------------------------------------------------------------------ callbacks


def callbacks(app: Dash) -> None:
    """What happens on a click, and while a reckoning is at work."""
    app.callback(
        Output("url", "href", allow_duplicate=True), Output("dry-said", "children"),
        [Output(f"dry-{name}", "error") for name in fields.TYPED],
        Input("dry-case", "n_clicks"), Input("dry-spell", "n_clicks"), Input("dry-after", "n_clicks"),
        [State(f"dry-{name}", "value") for name in fields.NAMES], prevent_initial_call=True,
    )(go)  # fmt: skip
    app.callback(Output("dry-outdoors", "data"), Output("dry-outdoors", "value"), Output("dry-file-said", "children"),
                 Input("dry-file", "contents"), State("dry-file", "filename"), State("dry-outdoors", "value"),
                 prevent_initial_call=True)(take)  # fmt: skip
    app.server.add_url_rule("/drying.pdf", "drying-sheet", printed)


def go(_case: int, _spell: int, _after: int, *values: str | None):
    """To the address of what is asked; or a refusal beside the field it speaks of."""
    button = pressed()
    if button is None:
        return no_update, no_update, *[no_update] * len(fields.TYPED)
    to, whole, errors = PAGE.go(fields.given(values, button.removeprefix("dry-")), fields.TYPED)
    return to, whole, *errors


def take(content: str | None, name: str, chosen: str | None):
    """Hold a dropped file of air outdoors, and choose it."""
    if not content:
        return no_update, no_update, no_update
    try:
        token, kept = uploads.hold(house(), content, name, MOST_FILE)
    except EnvwatchError as error:
        return no_update, chosen, components.refusal(error)
    options = [{"value": key, "label": words} for key, words in fields.outdoors_choices(files_held(house()))]
    return options, f"file:{token}", components.notice(f"{kept} is chosen; it is read when you press the button below.")


def printed() -> Response:
    """The case on paper, once it has been reckoned."""
    from envwatch.present.paper import dehumidifier as sheet

    asked = fields.known(request.args.to_dict()) | {"ask": "case"}
    try:
        if "place" not in asked:
            raise BadInput("no room is named; go back to the page")
        case = begin(house(), asked).finished()
        pdf = sheet.page(case, request.args.get("paper", "a4"))
    except EnvwatchError as error:
        return Response(PAGE.words(error, asked), 404, mimetype="text/plain")
    return components.sent(pdf, f"drying-{case.place.id}-{case.end.tz_convert(case.zone).date()}.pdf")
