"""What a person types about a room and a machine, as figures: at the command line and in the fields of a page."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from envwatch.cases.dehumidifier.inputs import DryingInputs, Money, Range, Weighed
from envwatch.cases.dehumidifier.machine import Capacity, Litres, Machine, RatingPoint, USPints, condensing, desiccant
from envwatch.cases.fields import dehumidifier as fields
from envwatch.cases.fields.dehumidifier import INPUTS
from envwatch.climate.outdoors import Outdoors
from envwatch.core import period
from envwatch.core.errors import BadInput, EnvwatchError, Question

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
KINDS = dict(zip(fields.KINDS, ((condensing, Litres), (condensing, USPints), (desiccant, Litres)), strict=True))
NOT_RATED = "A capacity means nothing without the air it is rated at; the label says it, such as 27C/60%."


def span(text: str | None, field: str) -> Range | None:
    """A figure, or lowest-highest.

    >>> span("0.1-0.3", "air_change"), span("0.2", "air_change")
    ((0.1, 0.3), (0.2, 0.2))
    """
    if text is None:
        return None
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?:(?:-|–|\.\.|to)\s*(\d+(?:\.\d+)?))?\s*", text)
    if not match:
        what = "give a figure, or lowest-highest, such as 0.1-0.3; below 0 is not possible"
        raise BadInput(what, field=field, seen=text)
    return float(match[1]), float(match[2] or match[1])


def weighed(text: str, drawn_off: bool, zone: str) -> Weighed:
    """Water weighed over days: "2026-03-02..2026-03-09=6.3"."""
    field = "weighed" if drawn_off else "evaporated"
    match = re.fullmatch(r"(\d{4}-\d\d-\d\d)\.\.(\d{4}-\d\d-\d\d)=(\d+(?:\.\d+)?)", text.strip())
    if not match:
        what = "write first day..last day=litres, such as 2026-03-02..2026-03-09=6.3"
        raise BadInput(what, field=field, seen=text)
    first, last = period.begin(match[1], field, zone), period.begin(match[2], field, zone, 1)
    assert first is not None and last is not None
    return Weighed(first, last, float(match[3]), drawn_off)


def weekdays(text: str) -> tuple[int, ...]:
    """Days of the week, Monday 0, in order.

    >>> weekdays("Thu, Monday")
    (0, 3)
    """
    days = [word.strip().lower()[:3] for word in text.split(",") if word.strip()]
    if any(one not in WEEKDAYS for one in days):
        raise BadInput("write days of the week, such as Mon,Thu", field="visits", seen=text)
    return tuple(sorted(WEEKDAYS.index(one) for one in days))


def machine(kind: str, amount: float, rated_at: str | None, per_kwh: float | None, price: float | None) -> Machine:
    """A machine by its label. `kind`: one of `KINDS`.

    Raises
    ------
    Question : no rating point. BadInput : a rating point or a figure that no label has.
    """
    if not rated_at:
        raise Question(NOT_RATED, "rated_at")
    make, unit = KINDS[kind]
    return replace(make(Capacity(unit(amount), RatingPoint.parse(rated_at)), per_kwh), price=price)


# ---------------------------------------------------------------------------------------------- all that was given

Given = Mapping[str, Any]  # by the names of `fields.INPUTS`: text, figures, or lists of them


def asked(
    given: Given, zone: str, outdoors: Outdoors | None, machines: tuple[Machine, ...] | None = None
) -> DryingInputs:
    """All that was given; what is empty is not said.

    Without `machines` one is `kind`, `capacity`, `rated_at`, `litres_per_kwh` and `price`; a second one has the same
    with `2`.

    Raises
    ------
    BadInput, Question : what is given cannot be used, or leaves open what the label says; by its field.
    """
    told = {name: value for name, one in given.items() if _said(value := one.strip() if isinstance(one, str) else one)}
    for name in told:
        _one_of(told, name)

    def figure(name: str) -> float | None:
        return number(told, name)

    def date(name: str, later: int = 0) -> pd.Timestamp | None:
        return period.begin(told.get(name), name, zone, later)

    def spans(name: str) -> Range | None:
        return span(told[name].replace(",", "."), name) if name in told else None

    if machines is None:
        machines = tuple(made for which in ("", "2") if (made := _machine(told, which)) is not None)
    return DryingInputs(
        outdoors=outdoors, volume_m3=figure("volume"), air_change_h=spans("air_change"), source_g_h=spans("source"),
        buffer_g=figure("buffer"),
        weighed=tuple(
            weighed(line, name == "weighed", zone)
            for name in ("weighed", "evaporated") for line in _parts(told.get(name, ()), ";")
        ),
        first=date("log_from"), last=date("log_to", 1), machine_in_log=told.get("machine_in_log", ""),
        sink=told.get("sink", ""), machines=machines, set_percent=figure("set"), tank_l=figure("tank"),
        visit_days=weekdays(told.get("visits", "")), hours_away=figure("hours_away"),
        surface_below_k=figure("cold_wall"), heat_loss_w_k=figure("heat_loss"), tighten_to=figure("tighten_to"),
        others=tuple(word for word in _parts(told["also"], ",") if word != "nothing") if "also" in told else None,
        treated_on=date("treated_on"), draws=told.get("draws"),
        money=Money(figure("tariff"), told.get("currency", ""), figure("service"), figure("life"),
                    figure("retreatment_hours")),
    )  # fmt: skip


def _said(value: object) -> bool:
    return value is not None and value != "" and value != []


def _one_of(told: Given, name: str) -> None:
    choices = [key for key, _ in INPUTS[name].choices] if name in INPUTS else []
    if choices and told[name] not in choices:
        raise BadInput(f"expected {' or '.join(choices)}", field=name, seen=told[name])


def _parts(given: str | Iterable[str], mark: str) -> list[str]:
    """What is given in one line, parted by a mark, or as several."""
    lines = given.splitlines() if isinstance(given, str) else given
    return [part.strip() for line in lines for part in line.split(mark) if part.strip()]


def number(told: Given, name: str) -> float | None:
    """A figure that was given by name, with a comma or a point; None: it was not. BadInput: it is none."""
    if name not in told or isinstance(told[name], float):
        return told.get(name)
    try:
        value = float(told[name].replace(",", ".").replace("−", "-"))
    except ValueError:
        value = float("nan")
    if not abs(value) < float("inf"):
        raise BadInput("not a number", field=name, seen=told[name])
    return value


def _machine(told: Given, which: str) -> Machine | None:
    names = [f"{name}{which}" for name in ("capacity", "rated_at", "litres_per_kwh", "price")]
    if not any(name in told for name in names):
        return None
    capacity, _, *figures = (None if name == names[1] else number(told, name) for name in names)
    if capacity is None:
        raise BadInput("empty; a machine is told by its litres or pints a day and rating point", field=names[0])
    try:
        return machine(told.get(f"kind{which}", next(iter(KINDS))), capacity, told.get(names[1]), *figures)
    except EnvwatchError as error:
        error.field = error.field and f"{error.field}{which}"
        raise
