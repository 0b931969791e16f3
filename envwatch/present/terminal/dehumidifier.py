"""The case for a dehumidifier, a spell ahead, and forecast against log, as plain text."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from envwatch.core.text import date, number, stamp
from envwatch.figures import dehumidifier as fig
from envwatch.present.terminal.layout import SHAPE, heading, wrap

if TYPE_CHECKING:
    from envwatch.cases.dehumidifier import DehumidifierCase, Outcome
    from envwatch.cases.dehumidifier.spell import Ahead
    from envwatch.cases.dehumidifier.verification import SavingsCheck

MOST_NEW = 4
STATES = ("cleared", "eased", "stays", "worse", "new", "unseen")


def case(result: DehumidifierCase, width: int = 80) -> str:
    """The whole case."""
    return "\n".join(_case(result, width)) + "\n"


def _case(result: DehumidifierCase, width: int) -> Iterator[str]:
    days = result.hours / 24
    yield f"Drying the room: {result.place.name}"
    yield from wrap(
        f"{date(result.start, result.zone)} to {date(result.end, result.zone)}, {days:.0f} days known"
        + (f", {result.not_known_h} h not known and not counted" if result.not_known_h else ""), width,
    )  # fmt: skip
    yield ""
    yield from wrap(result.advice.sentence, width)
    yield from heading("What may be done", width)
    yield from wrap(
        f"Each through the same weather, in {result.draws} rooms that could as well be this one: the middle room, and "
        f"in "
        f"brackets nine rooms of ten stay at or under. h: hours over {fig.DAMP_LINE:g} %.", width,
    )  # fmt: skip
    for number_, outcome in enumerate(result.outcomes, 1):
        yield from _outcome(number_, outcome, result, width)
    yield from _room(result, width)
    yield from heading("What the label must say", width)
    yield from wrap(
        f"To hold {result.set_percent:g} % even in the dampest {result.load.window_days} days: "
        f"{result.load.litres_day[1]:.1f} L/day must be drawn off "
        f"({result.load.litres_day[2]:.1f} in nine rooms of ten), "
        "which takes a machine labelled", width,
    )  # fmt: skip
    for label in result.load.labels:
        told = " or ".join(litres(v) for v in dict.fromkeys((label.litres_day, label.litres_day_nine_in_ten)))
        yield from wrap(f"{label.kind}, rated at {label.at}: {told}", width, "- ")
    yield from _lists(result, width)


def litres(value: float) -> str:
    """Litres a day of a label; none can be large enough where the machine stands still."""
    return (
        f"{value:.0f} L/day"
        if math.isfinite(value) and value >= 1
        else ("none is large enough" if not math.isfinite(value) else "under 1 L/day")
    )


def _outcome(number_: int, one: Outcome, result: DehumidifierCase, width: int) -> Iterator[str]:
    yield from wrap(f"{one.level.word} {SHAPE[one.level]} {one.name}", width, f"{number_:>2}. ")
    told = [f"{one.damp_h[1]:,.0f} h ({one.damp_h[2]:,.0f}) over {fig.DAMP_LINE:g} %"]
    told.append(f"{one.very_damp_h[1]:,.0f} h ({one.very_damp_h[2]:,.0f}) over {fig.VERY_DAMP_LINE:g} %")
    told.append(f"longest spell {one.longest_h[1]:,.0f} h")
    told.append(f"dampest 30 days {number(one.month_percent[1])} % ({number(one.month_percent[2])})")
    told.append(f"{one.dry_h[1]:,.0f} h under {fig.DRY_LINE:g} %")
    yield from wrap("; ".join(told), width, "    ")
    if one.kwh[1] > 0 or one.litres[1] > 0:
        water = f"{one.litres[1]:,.0f} L, " if one.litres[1] > 0 else ""
        money = "" if one.cost_year is None else f", {one.cost_year:,.0f} {result.money.currency}".rstrip() + " a year"
        tank = f", {one.visits[1]:.0f} emptyings, {one.full_h[1]:.0f} h with the tank full" if one.visits[1] else ""
        yield from wrap(
            f"{water}{one.kwh[1]:,.0f} kWh ({one.kwh[0]:,.0f} to {one.kwh[2]:,.0f}), {one.running_h[1]:,.0f} h running"
            f"{tank}{money}; warms the room by {one.warmer_k:.1f} K", width, "    ",
        )  # fmt: skip
    if number_ > 1:
        yield from _flags(one, width)


def _flags(one: Outcome, width: int) -> Iterator[str]:
    counts = {state: sum(c.state == state for c in one.changes) for state in STATES}
    told = ", ".join(f"{count} {state}" for state, count in counts.items() if count)
    yield from wrap(f"flags: {told or 'none'}", width, "    ")
    told_of: dict[str, list[str]] = {}
    for change in sorted(one.new, key=lambda change: -change.after):
        told_of.setdefault(f"{change.state}: {change.mechanism}, {change.after.word}", []).append(change.painting_id)
    for what, ids in list(told_of.items())[:MOST_NEW]:
        yield from wrap(f"{what} ({', '.join(ids)})", width, "    - ")
    if len(told_of) > MOST_NEW:
        yield f"    - and {len(told_of) - MOST_NEW} more"


def _room(result: DehumidifierCase, width: int) -> Iterator[str]:
    fitted = result.fitted
    yield from heading("The room", width)
    yield from wrap(f"{fitted.how}; {fitted.sized}; outdoors: {result.outdoors}.", width)
    if fitted.rate_h is not None:
        low, best, high = fitted.rate_h
        yield from wrap(f"Air change over buffering: {best:.4g} /h (80 % between {low:.4g} and {high:.4g}): half of a "
                        f"change outdoors is followed in {math.log(2) / best / 24:.1f} days.", width)  # fmt: skip
    low, best, high = fitted.excess_g_m3
    yield from wrap(f"Source over air change: {best:.2f} g/m³ moister than outdoors (80 % between {low:.2f} and "
                    f"{high:.2f}, the loggers' own errors within it).", width)  # fmt: skip
    if not math.isnan(fitted.held_out_rms):
        yield from wrap(
            f"Tried on {fitted.held_out_days:.0f} days that the fit had not seen: "
            f"off by {fitted.held_out_rms:.1f} % RH "
            f"(root mean square), {fitted.held_out_bias:+.1f} % on the whole.", width,
        )  # fmt: skip
    yield from wrap(f"The log itself: {result.log_damp_h:,} h over {fig.DAMP_LINE:g} %, dampest 30 days "
                    f"{number(result.log_month_percent)} %.", width)  # fmt: skip
    for sentence in fitted.open:
        yield from wrap(f"open: {sentence}", width, "- ")
    if result.causes:
        said = "; ".join(f"{c.name} ({c.of} {c.at_low:,.0f} to {c.at_high:,.0f})" for c in result.causes[:3])
        yield from wrap(f"What matters most: {said}.", width)


def _lists(result: DehumidifierCase, width: int) -> Iterator[str]:
    for title, items in (
        ("It will not fix", result.advice.will_not_fix), ("Measure first", result.advice.measure_first),
        ("Asked", result.questions), ("Not tried", result.not_tried), ("Assumed", result.assumptions),
    ):  # fmt: skip
        if items:
            yield from heading(title, width)
            for item in items:
                yield from wrap(item, width, "- ")


def spell(result: Ahead, width: int = 80) -> str:
    """A heatwave or a cold snap."""
    return "\n".join(_spell(result, width)) + "\n"


def _spell(result: Ahead, width: int) -> Iterator[str]:
    yield from wrap(f"A spell of {number(result.lowest_c, 0)} to {number(result.highest_c, 0)} °C outdoors: "
                    f"{result.place.name}", width)  # fmt: skip
    yield from wrap(
        f"The room would reach {number(result.room_lowest_c)} to {number(result.room_highest_c)} °C and "
        f"{number(result.room_lowest_rh, 0)} to {number(result.room_highest_rh, 0)} % until "
        f"{stamp(result.end, result.zone)}.", width,
    )  # fmt: skip
    yield ""
    yield from wrap(result.sentence, width)
    for one in result.crossings:
        yield from wrap(f"{one.level.word} {SHAPE[one.level]} {one.title} [{one.painting_id}], "
                        f"{stamp(one.at, result.zone)}: {one.sentence}", width, "- ")  # fmt: skip
        yield from wrap(f"carry to: {one.carry_to or 'nowhere better is known'}", width, "  ")
    yield from heading("Assumed or to be known", width)
    for note in result.notes:
        yield from wrap(note, width, "- ")


def after(result: SavingsCheck, width: int = 80) -> str:
    """Forecast against log."""
    return "\n".join(_after(result, width)) + "\n"


def _after(result: SavingsCheck, width: int) -> Iterator[str]:
    zone = result.place.zone
    yield from wrap(
        f"{result.place.name}, {date(result.since, zone)} to {date(result.until, zone)}: {result.machine}", width
    )
    yield from wrap(result.sentence, width)
    low, middle, high = result.forecast_mean_percent
    yield from wrap(f"Mean humidity: log {result.log_mean_percent:.1f} %, "
                    f"forecast {middle:.1f} % ({low:.1f} to {high:.1f}).",
                    width)  # fmt: skip
    low, middle, high = result.forecast_litres
    kwh = result.forecast_kwh
    yield from wrap(f"Forecast: {middle:.0f} L ({low:.0f} to {high:.0f}), "
                    f"{kwh[1]:.0f} kWh ({kwh[0]:.0f} to {kwh[2]:.0f}): "
                    "compare with the water poured away and the meter.", width)  # fmt: skip
