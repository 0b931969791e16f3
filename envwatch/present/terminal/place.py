"""One place over its record, as plain text."""

from __future__ import annotations

import math
from collections.abc import Iterator

from envwatch.cases.place import PlaceTold
from envwatch.climate import ClassResult, DampSpell, TargetHours
from envwatch.climate.history import CycleTable, PlaceHistory
from envwatch.core.text import date, lasted, number, span, stamp
from envwatch.present.terminal.layout import heading, wrap

EDGES = ("5 to 10", "10 to 20", "20 to 30", "over 30")


def place(told: PlaceTold, width: int = 80) -> str:
    """A place's climate: what it was, how papers would call it, and what cannot be said yet."""
    return "\n".join(_place(told, width)) + "\n"


def _place(told: PlaceTold, width: int) -> Iterator[str]:
    history, zone = told.history, told.history.zone
    yield from wrap(f"{told.place.name} [{told.place.id}], {told.label}", width)
    ends = f"{date(history.first_reading, zone)} to {date(history.last_reading, zone)}"
    yield from wrap(f"{ends}; temperature and humidity were read for {history.coverage:.0%} of that time", width)
    for line in told.opening:
        yield from wrap(line, width, "! ", "  ")
    if history.suspect_hours:
        yield from wrap(f"{history.suspect_hours:.0f} h of it bear a mark of doubt and are counted", width, "! ", "  ")
    low, high = history.rh_range_percent
    yield from wrap(f"humidity {span(low, high)} % RH, mean {number(history.rh_mean_percent)}; temperature "
                    f"{span(*history.temp_range_c)} °C, mean {number(history.temp_mean_c)}", width)  # fmt: skip
    for spot in told.spots:
        yield from wrap(f"{spot.where} ({spot.name}): humidity {span(*spot.rh_range_percent)} % RH, temperature "
                        f"{span(*spot.temp_range_c)} °C", width, "- ")  # fmt: skip
    yield from _season(history, width)
    yield from _damp(history, width)
    yield from _control(history, width)
    yield from _targets(history, width)
    yield from _cycles(history, width)
    yield from heading("Slow ageing", width)
    yield from wrap(history.ageing, width)
    if history.not_yet:
        yield from heading("What cannot be said yet", width)
        for item in history.not_yet:
            when = f", from {date(item.since, zone)}" if item.since is not None else ""
            yield from wrap(f"{item.what}{when}, if nothing is missed until then", width, "- ")
    for note in history.notes:
        yield from wrap(note, width, "note: ", "  ")


def _season(history: PlaceHistory, width: int) -> Iterator[str]:
    yield from heading("Season and band", width)
    season, band, zone = history.season, history.band, history.zone
    if season is None:
        yield from wrap("no seasonal level yet: it is a mean over 30 days", width)
        return
    yield from wrap(
        f"seasonal level (30-day mean) from {number(season.lowest_percent)} % RH about "
        f"{date(season.lowest_at, zone)} to {number(season.highest_percent)} about {date(season.highest_at, zone)}; "
        f"at the end {number(season.last_percent)}{' (trailing mean, provisional)' if season.provisional else ''}",
        width,
    )
    if band is None:
        yield from wrap("no band of fluctuation yet: it asks for 90 days at least", width)
        return
    kind = (
        "13 months or more, as the standard asks" if band.standard else "provisional: the standard asks for 13 months"
    )
    sides = ", ".join(name for name, wide in zip(("lower", "upper"), band.widened, strict=True) if wide)
    widened = f"{sides} edge widened to ±10" if sides else "no edge widened"
    yield from wrap(
        f"band about the season: 7th percentile {number(band.p7)}, 93rd {number(band.p93)}; edges {number(band.low)} "
        f"and +{number(band.high)} % RH ({widened}); {band.hours_outside:.0f} h outside it in {band.days:.0f} days "
        f"({kind}). Where no edge was widened 14 % lie outside by construction.",
        width,
    )


def _damp(history: PlaceHistory, width: int) -> Iterator[str]:
    yield from heading("Hours damp", width)
    for damp in history.damp:
        longest = damp.longest
        text = f"over {damp.limit_percent:g} % RH: {damp.hours:.0f} h"
        if longest is not None:
            text += (f" in {len(damp.spells)} {'spell' if len(damp.spells) == 1 else 'spells'}; the longest "
                     f"{lasted(longest.hours, longest.unread_h)} from {stamp(longest.start, history.zone)} "
                     f"{longest.start.tz_convert(history.zone).year}, up to "
                     f"{number(longest.highest_percent)} %")  # fmt: skip
        yield from wrap(text, width, "- ")


def _control(history: PlaceHistory, width: int) -> Iterator[str]:
    yield from heading("Types of control of the museum handbook", width)
    if not history.control:
        yield "no humidity was read"
        return
    met = history.control_met
    yield from wrap(f"strictest type within which it stayed: {met}" if met else "no type is known to be met", width)
    longest = next((d.longest for d in history.damp if d.limit_percent == 65), None)
    for result in history.control:
        damp = result.name in "CD" and result.met is not False
        yield from wrap(_type(result) + (_long_damp(longest) if damp and longest else ""), width, "- ")
    yield from wrap("our reading of it: 95 % of hours inside and no excursion over 24 h; seasons without any hour "
                    "outside. The handbook gives no rule for a record; its temperatures are from memory.",
                    width)  # fmt: skip


def _long_damp(longest: DampSpell) -> str:
    told = lasted(longest.hours, longest.unread_h)
    return f"; it asks besides for no long damp, and the longest spell over 65 % was {told}"


def _type(result: ClassResult) -> str:
    if result.met:
        return f"type {result.name}: within its limits"
    if result.met is None:
        return f"type {result.name}: nothing failed so far, and a year is not there yet"
    failed = "; ".join(
        f"{t.criterion} {t.hours_outside:.0f} h outside ({1 - t.share_inside:.0%} of hours read, longest "
        f"{t.longest_h:.0f} h)" for t in result.failed
    )  # fmt: skip
    return f"type {result.name}: not met by {failed}"


def _targets(history: PlaceHistory, width: int) -> Iterator[str]:
    yield from heading("Hours outside named targets", width)
    for told in history.targets:
        yield from wrap(_target(told), width, "- ")


def _target(told: TargetHours) -> str:
    t, parts = told.target, []
    if not math.isnan(told.rh_hours_outside):
        parts.append(f"{told.rh_hours_outside:.0f} h outside {t.rh_low:g} to {t.rh_high:g} % RH")
    if not math.isnan(told.temp_hours_outside):
        parts.append(f"{told.temp_hours_outside:.0f} h outside {t.temp_low_c:g} to {t.temp_high_c:g} °C")
    if not math.isnan(told.change_hours_lenient):
        parts.append(f"{told.change_hours_lenient:.0f} h over ±{t.change_24h_percent:g} % RH in 24 h "
                     f"({told.change_hours_strict:.0f} h where highest less lowest is meant)")  # fmt: skip
    note = f"; {t.note}" if t.note else ""
    return f"{t.name} ({t.confidence.value}{note}): {', '.join(parts)}; of {told.rh_hours_read:.0f} h read"


def _cycles(history: PlaceHistory, width: int) -> Iterator[str]:
    yield from heading("Cycles of the moisture response", width)
    for table in history.cycles:
        yield from wrap(_cycle(table), width, "- ")
    if history.cycles:
        yield from wrap("Rainflow counting (ASTM E1049) of the lagged humidity, split at gaps; the time constants are "
                        "our judgement.", width)  # fmt: skip


def _cycle(table: CycleTable) -> str:
    counted = ", ".join(f"{count:g} of {words}" for count, words in zip(table.counts, EDGES, strict=True))
    largest = f"; largest {number(table.largest_percent)} %" if not math.isnan(table.largest_percent) else ""
    return f"{table.build_up} ({table.tau_h:g} h): {counted} % RH in {table.days:.0f} days{largest}"
