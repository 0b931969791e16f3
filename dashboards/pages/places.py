"""Places: the air of a room over any span, against its season, another room, or the air outdoors."""

from __future__ import annotations

from math import ceil, floor
from typing import Any
from urllib.parse import urlencode

import pandas as pd
from dash import Dash, Input, Output, State, dcc, html, no_update

from dashboards import components
from dashboards.forms import on_press, wire
from dashboards.session import StudioSession, house
from envwatch import climate
from envwatch.archive import Studio
from envwatch.archive.intake.summary import mark_notes
from envwatch.cases import timeline
from envwatch.core.errors import BadInput, EnvwatchError
from envwatch.core.period import from_to
from envwatch.core.place import PLACE_KINDS, Place, PlaceKind
from envwatch.core.text import date, lasted, number, span
from envwatch.present import charts

PATH, NAME, UNDER = "/places", "Places", ()
SPANS = (("7", "a week"), ("30", "a month"), ("365", "a year"), ("all", "all"))
MOST_SPELLS = 8
KEPT = ("beside", "against", "behind")  # of an address, when another span of the same place is chosen
ROOM = ("id", "name", "kind", "volume_m3", "outer_walls", "zone")
YEAR = (
    "Each row is a month; each bar reaches from its lowest to its highest reading, on the scale its heading gives, "
    "the same in all rows."
)


def layout(home: StudioSession, _rest: str, asked: dict[str, str]) -> html.Div:
    """The page of a place; what is drawn stands in the address, so that a view can be shared: `place`, `from`, `to` or
    `days`, `beside` (another place), `against` (first day of another period), `behind` (the air outdoors)."""
    with home.reading() as studio:
        places = timeline.places_read(studio)
        if not places:
            return _empty(studio)
        place = next((p for p in places if p.id == asked.get("place")), places[0])
        try:
            return _page(studio, place, places, asked)
        except EnvwatchError as error:
            return html.Div([html.H1(place.name), _choose(places, place, asked, "", ""), components.refusal(error)])


def _empty(studio: Studio) -> html.Div:
    return html.Div([
        html.H1("Places"), html.P("No logger hangs anywhere yet."),
        html.P(["First: ", dcc.Link("bring in a logger's files", href="/files"), ", and say there where it hangs."]),
        _new_form(studio),
    ], className="empty")  # fmt: skip


def _page(studio: Studio, place: Place, places: tuple[Place, ...], asked: dict[str, str]) -> html.Div:
    first, last = timeline.span_of(studio, place.id)
    start, end = _span(place, asked, first, last)
    shown = timeline.of_place(studio, place.id, start, end)
    view = _view(studio, place, asked, start, end)
    over = _over(studio, view, start, end)
    unread = [f"{other.title}: nothing was read there in these days" for _kind, other in over if not other.coverage]
    summary = climate.describe_place(studio.climate(place.id, start - pd.Timedelta(days=60), end), place.zone, start)
    return html.Div(
        [
            html.H1(place.name),
            html.P(f"{place.kind}; read from {date(first, place.zone)} to {date(last, place.zone)}", className="where"),
            _choose(
                places,
                place,
                asked,
                str(start.tz_convert(place.zone).date()),
                str((end - pd.Timedelta(minutes=1)).tz_convert(place.zone).date()),
            ),
            html.P(_told(summary), className="summary"),
            components.section(
                "The air",
                html.Div(components.chart("air", shown, "place", over, 480)),
                html.P(shown.band_words, className="quiet") if shown.band_words else None,
            ),
            components.section("Damp spells, the longest first", _spells(summary, place.zone)),
            components.section("The year at a glance", _year(studio, place, end)),
            components.section(
                "To be known", components.items((*unread, *shown.notes, *_marks(studio, place, start, end)))
            ),
            components.section("Enter", _new_form(studio)),
            dcc.Store(id="place-shown", data=view),
        ]
    )


def _marks(studio: Studio, place: Place, start: pd.Timestamp, end: pd.Timestamp) -> list[str]:
    """What is marked of the loggers that hung in a place."""
    return list(mark_notes(studio, start, end, place.id))


def _new_form(studio: Studio) -> html.Details:
    return components.form("room", "A new place", "enter it", [
        components.field("room-id", "a short name", placeholder="attic"), components.field("room-name", "name"),
        components.choice("room-kind", "what it is", [(kind, kind) for kind in PLACE_KINDS]),
        components.field("room-volume_m3", "volume, m³"), components.field("room-outer_walls", "outer walls, how many"),
        components.field("room-zone", "clock", value=studio.zone),
    ])  # fmt: skip


def enter_new(studio: Studio, _whose: str, given: dict[str, str]) -> str:
    """Enter a new place."""
    with studio.writing("entering a place"):
        if given["id"] in studio.places():
            raise BadInput(f"id {given['id']!r} is taken; give it another short name", field="id", place="place")
        studio.enter("place", given)
    return f"Entered: {given['name']}"


def _span(place: Place, asked: dict[str, str], first: pd.Timestamp, last: pd.Timestamp):
    """The span asked for, else the last thirty days that were read."""
    if asked.get("from") and asked.get("to"):
        span = from_to(asked["from"], asked["to"], place.zone)
        return span.start, span.end
    days = asked.get("days", "30")
    if days == "all":
        return first, last
    if not days.isdigit() or not 0 < int(days) < 10_000:
        raise BadInput(f"days {days}: give a number of days, or all")
    return max(last - pd.Timedelta(days=int(days)), first), last


def _view(studio: Studio, place: Place, asked: dict[str, str], start: pd.Timestamp, end: pd.Timestamp) -> dict:
    """What is drawn, so that a stretch of it can be drawn again: the place, its span, and what lies over or behind it.

    Raises
    ------
    BadInput : another period that is no day, or that nothing was read in.
    """
    beside = asked.get("beside", "")
    other = beside if beside in studio.places() and beside != place.id else ""
    view = {"place": place.id, "beside": other, "behind": asked.get("behind", ""), "against": "",
            "start": start.isoformat(), "end": end.isoformat()}  # fmt: skip
    if asked.get("against"):
        day = from_to(asked["against"], asked["against"], place.zone).start
        if day == start:
            raise BadInput(f"{asked['against']}: the other period is the one shown; give another first day")
        view["against"] = day.isoformat()
    return view


def _over(studio: Studio, view: dict[str, str], start: pd.Timestamp, end: pd.Timestamp) -> tuple:
    """What is drawn with a place over a span: the air outdoors, another place, another period of its own."""
    out = []
    outdoors = next((p.id for p in timeline.places_read(studio) if p.kind == PlaceKind.OUTDOORS), "")
    if view.get("behind") and outdoors not in ("", view["place"], view.get("beside")):
        out.append(("outdoors", timeline.of_place(studio, outdoors, start, end)))
    if view.get("beside"):
        out.append(("beside", timeline.of_place(studio, view["beside"], start, end)))
    if view.get("against"):
        later = pd.Timestamp(view["start"]) - pd.Timestamp(view["against"])
        earlier = timeline.of_place(studio, view["place"], start - later, end - later)
        out.append(("other period", timeline.shifted(earlier, later, f"from {_day(earlier.start, earlier.zone)}")))
    return tuple(out)


def _day(time: pd.Timestamp, zone: str) -> str:
    return str(time.tz_convert(zone).date())


def _choose(places: tuple[Place, ...], place: Place, asked: dict[str, str], first: str, last: str) -> html.Div:
    options = [(p.id, p.name) for p in places]
    here = {"place": place.id} | {name: asked[name] for name in KEPT if asked.get(name)}
    return html.Div([
        html.Div([
            components.choice("place-which", "place", options, place.id),
            components.field("place-from", "from", value=first, w="8.5rem"),
            components.field("place-to", "to", value=last, w="8.5rem"),
            components.choice("place-beside", "another place over it", options, asked.get("beside"), clearable=True),
            components.field("place-against", "or other days, from", value=asked.get("against", ""),
                        placeholder="2025-10-26", w="12rem"),
            components.button("place-go", "show"),
        ], className="form row", **{"data-enter": ""}),
        html.Div([
            *(dcc.Link(words, href=f"/places?{urlencode(here | {'days': days})}") for days, words in SPANS),
            _behind(places, place, here, first, last),
        ], className="actions"),
        html.Div(id="place-said"),
    ], className="noprint")  # fmt: skip


def _behind(places: tuple[Place, ...], place: Place, here: dict[str, str], first: str, last: str) -> dcc.Link | None:
    """The air outdoors behind it, or away again."""
    if place.kind == PlaceKind.OUTDOORS or not any(p.kind == PlaceKind.OUTDOORS for p in places):
        return None
    shown = {name: value for name, value in here.items() if name != "behind"} | {"from": first, "to": last}
    if here.get("behind"):
        return dcc.Link("without the air outdoors", href=f"/places?{urlencode(shown)}")
    return dcc.Link("with the air outdoors behind it", href=f"/places?{urlencode(shown | {'behind': 'outdoors'})}")


def _told(summary: climate.PlaceSummary) -> str:
    swing = summary.swing
    most = (
        f"the largest daily swing {number(swing.percent)} % RH, on {swing.on:%a} {swing.on.day} {swing.on:%b}"
        if swing
        else ""
    )
    mean = number(summary.rh_mean_percent)
    told = [
        f"{span(summary.temp_min_c, summary.temp_max_c)} °C",
        f"{span(summary.rh_min_percent, summary.rh_max_percent, 0)} % RH, in the mean {mean}",
        f"dew point {span(summary.dew_point_min_c, summary.dew_point_max_c)} °C",
        most, f"read for {summary.coverage:.0%} of the time",
    ]  # fmt: skip
    return "; ".join(part for part in told if part) + "."


def _spells(summary: climate.PlaceSummary, zone: str) -> Any:
    rows = [
        (f"over {damp.limit_percent:g} %", lasted(spell.hours, spell.unread_h), number(spell.highest_percent),
         components.moment(spell.start, zone), components.moment(spell.end, zone))
        for damp in summary.damp for spell in damp.spells[:MOST_SPELLS]
    ]  # fmt: skip
    if not rows:
        return html.P(f"No hour over {min(d.limit_percent for d in summary.damp):g} % RH among those that were read.")
    return components.table(
        ("humidity", "how long", "highest hour, % RH", "from", "to"), rows, "Damp spells, by length"
    )


def _year(studio: Studio, place: Place, end: pd.Timestamp) -> Any:
    first, _last = timeline.span_of(studio, place.id)
    begin = (end.tz_convert(place.zone) - pd.DateOffset(months=12)).replace(day=1).normalize()
    year = timeline.of_place(studio, place.id, max(begin.tz_convert("UTC"), first), end, steps=365)
    temps, rhs = _scale([row.temp for row in year.rows]), _scale([row.rh for row in year.rows])
    of_temp = f"from {number(temps[0], 0)} to {number(temps[1], 0)} °C"
    heads = ("", "°C", of_temp, "% RH", f"from {rhs[0]} to {rhs[1]} % RH", "read")
    rows = [
        (row.label, span(*row.temp), _bar(row.temp, temps, "temp"), span(*row.rh, 0), _bar(row.rh, rhs, "rh"),
         f"{row.coverage:.0%}")
        for row in year.rows
    ]  # fmt: skip
    return html.Div([html.P(YEAR, className="how"), components.table(heads, rows, f"{place.name}, month by month")])


def _scale(ranges: list[tuple[float, float]]) -> tuple[int, int]:
    """The ends of a scale on which all ranges find room, in steps of five."""
    known = [value for low_high in ranges for value in low_high if value == value]
    return (floor(min(known) / 5) * 5, ceil(max(known) / 5) * 5) if known else (0, 100)


def _bar(low_high: tuple[float, float], scale: tuple[int, int], kind: str) -> html.Div:
    """A bar from lowest to highest on a scale that is the same in all rows."""
    low, high = low_high
    if low != low:
        return html.Div(className="bar")
    left, width = (100 * part / (scale[1] - scale[0]) for part in (low - scale[0], high - low))
    style = {"left": f"{left:.1f}%", "width": f"{max(width, 0.5):.1f}%"}
    return html.Div(html.Span(className=kind, style=style), className="bar", **{"aria-hidden": "true"})


def callbacks(app: Dash) -> None:
    """What happens on a click."""
    wire(app, "room", ROOM, enter_new)
    app.callback(Output("url", "href", allow_duplicate=True), Output("place-said", "children"),
                 Input("place-go", "n_clicks"), State("place-which", "value"), State("place-beside", "value"),
                 State("place-from", "value"), State("place-to", "value"), State("place-against", "value"),
                 State("place-shown", "data"), prevent_initial_call=True)(go)  # fmt: skip
    app.callback(Output("air", "figure"), Input("air", "relayoutData"), State("place-shown", "data"),
                 prevent_initial_call=True)(zoom)  # fmt: skip


@on_press(2)
def go(_clicks: int, place: str, beside: str | None, first: str, last: str, against: str | None, shown: dict | None):
    """To the view chosen; its address can be shared."""
    from_to(first or "", last or "", "UTC")
    asked = {"place": place, "from": first, "to": last, "beside": beside, "against": against}
    return address(asked | {"behind": (shown or {}).get("behind")}), ""


def address(asked: dict[str, str | None]) -> str:
    """A view as an address. BadInput: another period whose first day is none."""
    if asked.get("against"):
        from_to(asked["against"] or "", asked["against"] or "", "UTC")
    return f"/places?{urlencode({name: value for name, value in asked.items() if value})}"


def zoom(moved: dict[str, Any] | None, shown: dict[str, str]):
    """The stretch drawn with the mouse, read again at the width of the screen."""
    edges = _edges(moved or {}, shown)
    return no_update if edges is None else _drawn(shown, *edges)


def _drawn(shown: dict[str, str], start: pd.Timestamp, end: pd.Timestamp) -> dict:
    with house().reading() as studio:
        return charts.course(timeline.of_place(studio, shown["place"], start, end), _over(studio, shown, start, end))


def _edges(moved: dict[str, Any], shown: dict[str, str]):
    """The stretch asked for, in UTC: the one drawn, or the whole after a double click."""
    if moved.get("xaxis.autorange") or moved.get("xaxis.showspikes") is False:
        return pd.Timestamp(shown["start"]), pd.Timestamp(shown["end"])
    if "xaxis.range[0]" not in moved:
        return None
    with house().reading() as studio:
        zone = studio.places()[shown["place"]].zone
    drawn = (pd.Timestamp(moved[f"xaxis.range[{i}]"]) for i in (0, 1))
    return tuple(t.tz_localize(zone, nonexistent="shift_forward", ambiguous=True).tz_convert("UTC") for t in drawn)
