"""Forms that write to the register: one press, one call, and a refusal beside the field it speaks of."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any

from dash import Dash, Input, Output, State, ctx, no_update

from dashboards import components
from dashboards.session import house
from envwatch.archive import Studio
from envwatch.core.errors import BadInput, EnvwatchError


def on_press(outputs: int) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """For what answers a press: nothing before the first one; a refusal goes to the last of so many outputs."""

    def outer(answer: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(answer)
        def inner(clicks: Any, *rest: Any) -> Any:
            try:
                return answer(clicks, *rest) if clicks else _nothing(outputs)
            except EnvwatchError as error:
                refused = components.refusal(error)
                return refused if outputs == 1 else (*[no_update] * (outputs - 1), refused)

        return inner

    return outer


def _nothing(outputs: int) -> Any:
    return no_update if outputs == 1 else (no_update,) * outputs


def pressed() -> dict | None:
    """The id of the button of many that was pressed; None where one only came into being."""
    return ctx.triggered_id if ctx.triggered_id and ctx.triggered[0]["value"] else None


def unchanged(what: str, shown: object, now: object, given: object, field: str = "", place: str = "") -> None:
    """What a page showed is still so; else what would be written would take away what another entered.

    Raises
    ------
    BadInput : it is not, with what it is now and what was given.
    """
    if (shown or "") != (now or ""):
        what = f"{what} was {_quoted(shown)} when this page was shown and is {_quoted(now)} now"
        raise BadInput(f"{what}, as entered since; {_quoted(given)} was not taken. Show the page again", field=field,
                       place=place)  # fmt: skip


def _quoted(value: object) -> str:
    return f"“{value}”" if value not in (None, "") else "empty"


def touched(shown: Mapping[str, str], given: Mapping[str, str], now: Mapping[str, str], place: str) -> dict[str, str]:
    """What was changed in a form, by field; what was left as it was shown stays as it is, whoever changed it since.

    Raises
    ------
    BadInput : a field was changed that another changed since it was shown, too.
    """
    changed = {name: cell for name, cell in given.items() if cell != shown.get(name, "")}
    for name, cell in changed.items():
        if cell != now.get(name, ""):
            unchanged(name.replace("_", " "), shown.get(name, ""), now.get(name, ""), cell, name, place)
    return changed


CALLED = {"from": "on", "to": "until"}  # columns of the register whose input may be called otherwise here
Enter = Callable[[Studio, Any, dict[str, str]], str]  # (studio, whose, what was given by field) -> what was done


def wire(app: Dash, name: str, fields: tuple[str, ...], enter: Enter, whose: str | None = None) -> None:
    """Let the button of a form enter its fields. `whose`: the store that says of what the page is, if of one thing."""

    def press(clicks: int | None, again: int | None, *values: str | None):
        if not clicks:
            return no_update
        return entered(fields, again, values, enter)

    app.callback(
        Output("again", "data", allow_duplicate=True), Output("said", "children", allow_duplicate=True),
        Output(f"{name}-said", "children"), [Output(f"{name}-{field}", "error") for field in fields],
        Input(f"{name}-press", "n_clicks"), State("again", "data"), State(whose or "sink", "data" if whose else "id"),
        [State(f"{name}-{field}", "value") for field in fields], prevent_initial_call=True,
    )(press)  # fmt: skip


def entered(
    fields: tuple[str, ...], again: int | None, values: tuple[str | None, ...], enter: Enter
) -> tuple[Any, ...]:
    """Enter what was given (whose it is, then the fields), and show the page again; or set a refusal by its field."""
    whose, *rest = (value or "" for value in values)
    given = dict(zip(fields, rest, strict=True))
    try:
        with house().writing() as studio:
            said = enter(studio, whose, given)
        return (again or 0) + 1, components.notice(said), "", *[""] * len(fields)
    except EnvwatchError as error:
        at = {CALLED.get(fault.field, fault.field) if fault.field not in fields else fault.field: fault
              for fault in reversed(error.faults)}  # fmt: skip
        elsewhere = next((fault for name, fault in at.items() if name not in fields), None)
        beside = [components.plainly(at[name].beside) if name in at else "" for name in fields]
        return no_update, no_update, components.refusal(elsewhere) if elsewhere else "", *beside
