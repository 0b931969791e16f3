"""What a person types about a room and a machine, as figures: at the command line and in the fields of a page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace

import pandas as pd

from envwatch.cases.dehumidifier.inputs import Asked, Money, Range, Weighed
from envwatch.cases.dehumidifier.machine import Capacity, Litres, Machine, RatingPoint, USPints, condensing, desiccant
from envwatch.climate.outdoors import Outdoors
from envwatch.core import period
from envwatch.core.errors import BadInput, EnvwatchError, Question

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
KINDS = {
    "condensing, litres a day": (condensing, Litres),
    "condensing, US pints a day": (condensing, USPints),
    "desiccant, litres a day": (desiccant, Litres),
}
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


def day(text: str | None, field: str, zone: str, later: int = 0) -> pd.Timestamp | None:
    """The begin of a day in a zone, or of so many days after it. UTC."""
    if text is None:
        return None
    return (period.given(text, field) + pd.Timedelta(days=later)).tz_localize(zone).tz_convert("UTC")


def weighed(text: str, drawn_off: bool, zone: str) -> Weighed:
    """Water weighed over days: "2026-03-02..2026-03-09=6.3"."""
    field = "weighed" if drawn_off else "evaporated"
    match = re.fullmatch(r"(\d{4}-\d\d-\d\d)\.\.(\d{4}-\d\d-\d\d)=(\d+(?:\.\d+)?)", text.strip())
    if not match:
        what = "write first day..last day=litres, such as 2026-03-02..2026-03-09=6.3"
        raise BadInput(what, field=field, seen=text)
    first, last = day(match[1], field, zone), day(match[2], field, zone, 1)
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


def one_of(text: str, field: str, choices: tuple[str, ...]) -> str:
    """A word that is one of a few, or none."""
    if text and text not in choices:
        raise BadInput(f"expected {' or '.join(choices)}", field=field, seen=text)
    return text


# ------------------------------------------------------------------------------------------ the fields of a page


def asked(given: Mapping[str, str], zone: str, outdoors: Outdoors | None) -> Asked:
    """All that was typed, by name; what is empty is not said.

    A machine is `kind`, `capacity`, `rated_at`, `litres_per_kwh` and `price`; a second one has the same with `2`.

    Raises
    ------
    BadInput, Question : what is typed cannot be used, or leaves open what the label says; by its option.
    """
    told = {name: text.strip() for name, text in given.items() if text and text.strip()}

    def number(name: str) -> float | None:
        return _number(told, name)

    def date(name: str, later: int = 0) -> pd.Timestamp | None:
        return day(told.get(name), name, zone, later)

    def spans(name: str) -> Range | None:
        return span(told[name].replace(",", "."), name) if name in told else None

    return Asked(
        outdoors=outdoors, volume_m3=number("volume"), air_change_h=spans("air_change"), source_g_h=spans("source"),
        buffer_g=number("buffer"),
        weighed=tuple(
            weighed(line, name == "weighed", zone)
            for name in ("weighed", "evaporated") for line in told.get(name, "").replace(";", "\n").splitlines() if line
        ),
        first=date("log_from"), last=date("log_to", 1),
        machine_in_log=one_of(told.get("machine_in_log", ""), "machine_in_log", ("no", "yes")),
        sink=one_of(told.get("sink", ""), "sink", ("keep",)),
        machines=tuple(made for which in ("", "2") if (made := _machine(told, which)) is not None),
        set_percent=number("set"), tank_l=number("tank"), visit_days=weekdays(told.get("visits", "")),
        hours_away=number("hours_away"), surface_below_k=number("cold_wall"), heat_loss_w_k=number("heat_loss"),
        tighten_to=number("tighten_to"), others=_others(told.get("also")), treated_on=date("treated_on"),
        money=Money(number("tariff"), told.get("currency", ""), number("service"), number("life"),
                    number("retreatment_hours")),
    )  # fmt: skip


def _number(told: Mapping[str, str], name: str) -> float | None:
    if name not in told:
        return None
    try:
        value = float(told[name].replace(",", ".").replace("−", "-"))
    except ValueError:
        value = float("nan")
    if not abs(value) < float("inf"):
        raise BadInput("not a number", field=name, seen=told[name])
    return value


def _machine(told: Mapping[str, str], which: str) -> Machine | None:
    names = [f"{name}{which}" for name in ("capacity", "rated_at", "litres_per_kwh", "price")]
    if not any(name in told for name in names):
        return None
    capacity = _number(told, names[0])
    if capacity is None:
        what = "empty; a machine is told by its litres or pints a day and rating point"
        raise BadInput(what, field=names[0])
    if names[1] not in told:
        raise Question(NOT_RATED, names[1])
    kind = one_of(told.get(f"kind{which}", next(iter(KINDS))), f"kind{which}", tuple(KINDS))
    figures = _number(told, names[2]), _number(told, names[3])
    try:
        return machine(kind, capacity, told[names[1]], *figures)
    except EnvwatchError as error:
        error.field = error.field and f"{error.field}{which}"
        raise


def _others(text: str | None) -> tuple[str, ...] | None:
    if text is None:
        return None
    words = (word.strip() for word in text.split(","))
    return tuple(word for word in words if word and word != "nothing")
