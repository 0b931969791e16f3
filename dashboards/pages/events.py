"""What the air of the rooms did this week, and the field in which its cause is named once."""

from __future__ import annotations

from dash import ALL, Dash, Input, Output, State, dcc, html, no_update

from dashboards import components, forms
from dashboards.forms import on_press, pressed
from dashboards.session import house
from envwatch.cases.review import Review, causes
from envwatch.cases.review.model import Event
from envwatch.core.errors import NotThere


def section(shown: Review) -> html.Section | None:
    """One line an event, each with a field for its cause."""
    week = dcc.Store(id={"cause": "week", "n": 0}, data=shown.period.label)  # of this page alone, as its buttons are
    events = [_event(event) for event in shown.events]
    return components.section("In the rooms", *events, week) if events else None


def _event(event: Event) -> html.Div:
    """An event; without a number, in a folder that cannot be written to, no cause can be named."""
    said = html.P(event.sentence)
    if not event.numbers:
        return html.Div(said)
    n = event.numbers[0]
    return html.Div([said, components.more("name the cause" if not event.cause else "name another cause", html.Div([
        components.field({"cause": "words", "n": n}, "what it came by", "named once; it closes no look and no task"),
        components.button({"cause": "name", "n": n}, "name it"),
        dcc.Store(id={"cause": "was", "n": n}, data=event.cause),
    ], className="form row"))])  # fmt: skip


def callbacks(app: Dash) -> None:
    """What happens when a cause is named."""
    app.callback(Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True),
                 Input({"cause": "name", "n": ALL}, "n_clicks"), State({"cause": "words", "n": ALL}, "value"),
                 State({"cause": "words", "n": ALL}, "id"), State({"cause": "was", "n": ALL}, "data"),
                 State({"cause": "week", "n": ALL}, "data"), State("again", "data"),
                 prevent_initial_call=True)(named)  # fmt: skip


@on_press(2)
def named(_clicks, words: list[str], ids: list[dict], shown: list[str], weeks: list[str], again: int | None):
    """Name the cause of the event whose button was pressed."""
    which = pressed()
    if not which:
        return no_update, no_update
    at = [id["n"] for id in ids].index(which["n"])
    return (again or 0) + 1, components.notice(name(weeks[0], which["n"], words[at], shown[at]))


def name(week: str, number: int, words: str, shown: str = "") -> str:
    """Name the cause of the week's event that explains a finding, in place of the one `shown`; what was done, in words.

    Raises
    ------
    NotThere : the week has no such event any more. BadInput : no words, or another cause was named since.
    """
    home = house()
    event = next((event for event in home.review(week).events if number in event.numbers), None)
    if event is None:
        raise NotThere(f"the review of {week} has no event with finding {number} any more; show the page again")
    with home.writing() as studio, studio.writing("naming a cause"):
        now = event.kind and event.until and causes.cause_of(
            studio, event.place_id, event.kind, event.began, event.until)  # fmt: skip
        forms.unchanged("the cause", shown, now.words if now else "", words)
        cause = causes.name(studio, event, words, home.now())
    return f"Cause named: {cause.words}. It closes no look and no task."
