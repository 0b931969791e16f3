"""One tap on any page: this painting was looked at, front and back in raking light, and nothing new was there."""

from __future__ import annotations

import pandas as pd
from dash import ALL, Dash, Input, Output, State, html, no_update

from dashboards import components
from dashboards.forms import on_press, pressed
from dashboards.session import house
from envwatch.core.looks import last_own_look
from envwatch.core.painting import NOTHING_NEW, Look, Painting
from envwatch.present.words import own_look

MEANT = "an own look in raking light, front and back, now; by the name last given under “who looked” in this browser"


def tap(painting: Painting, zone: str, now: pd.Timestamp) -> html.Div:
    """The last own look up to now, and the button that logs one."""
    told = html.Span(own_look(last_own_look(painting, now), zone) + " ", className="quiet")
    press = components.button({"look": painting.id}, "looked, nothing new", quiet=True)
    press.title, press.className = MEANT, "plain noprint"
    return html.Div([told, press])


def callbacks(app: Dash) -> None:
    """What happens on a tap, and who is meant by it."""
    told = Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True)
    app.callback(*told, Input({"look": ALL}, "n_clicks"), State("looker", "data"), State("again", "data"),
                 prevent_initial_call=True)(looked)  # fmt: skip
    app.callback(*told, Input({"unlook": ALL, "on": ALL}, "n_clicks"), State("again", "data"),
                 prevent_initial_call=True)(taken_back)  # fmt: skip
    app.callback(Output("looker", "data"), Input("observe-press", "n_clicks"), State("observe-by", "value"),
                 prevent_initial_call=True)(named)  # fmt: skip


def named(clicks: int, by: str | None):
    """Keep who looked, for the taps on this browser."""
    return by if clicks and by else no_update


@on_press(2)
def looked(_clicks, by: str | None, again: int | None):
    """Log the look of the painting whose button was pressed."""
    which = pressed()
    return ((again or 0) + 1, enter(which["look"], by or "")) if which else (no_update, no_update)


@on_press(2)
def taken_back(_clicks, again: int | None):
    """Take the look back whose button was pressed."""
    which = pressed()
    return ((again or 0) + 1, withdraw(which["unlook"], which["on"])) if which else (no_update, no_update)


def enter(id: str, by: str) -> html.Div:
    """Log an own look of now that found nothing new; what was logged, and how it is taken back."""
    home = house()
    with home.writing() as studio:
        on = f"{home.now().tz_convert(studio.zone):%Y-%m-%d %H:%M:%S}"
        seen = studio.observe(id, on, NOTHING_NEW, look=Look.OWN, by=by)
        said = f"Logged: {studio.paintings()[id].title}: {seen.sign} ({seen.how})"
    back = components.button({"unlook": id, "on": on}, "take it back", quiet=True)
    return html.Div([components.notice(said if by else f"{said}; by whom is not known"), back])


def withdraw(id: str, on: str) -> html.P:
    """Take a look back that a tap has logged."""
    with house().writing() as studio:
        studio.take_back_look(id, on)
        return components.notice(f"Taken back: {studio.paintings()[id].title}: {NOTHING_NEW}")
