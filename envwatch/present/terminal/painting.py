"""One painting as plain text: a paragraph for each flag, with what was seen of it, and its whole story."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from envwatch.core.findings import Finding, Mechanism
from envwatch.core.painting import Treatment
from envwatch.core.text import date, stamp
from envwatch.present.ledger import all_whereabouts, story
from envwatch.present.terminal.layout import SHAPE, heading, wrap
from envwatch.present.words import measure, noted, observed, own_look, unseen

if TYPE_CHECKING:
    from envwatch.cases.painting.record import Dossier


def painting_lines(result: Dossier, width: int) -> Iterator[str]:
    """Where it is and how it is, then its layers, what was done, where it stood, what was said, what is to do."""
    painting, zone = result.painting, result.zone
    yield from wrap(f"{painting.title} [{painting.id}]", width)
    yield from wrap(_facts(result), width)
    yield from wrap(own_look(result.own_look, zone), width)
    for note in (*result.opening, *filter(None, (result.waits,)), *result.revised):
        yield from wrap(f"! {note}", width)
    if result.line is not None:
        yield from _how_it_is(result, width)
    yield from heading("Layers, front to back", width)
    for layer in painting.layers:
        applied = f", {date(layer.applied_on, zone, layer.year_only)}" if layer.applied_on is not None else ""
        tail = " (assumed)" if layer.assumed else ""
        yield from wrap(f"{layer.role}: {layer.material.replace('_', ' ')}, {layer.area}{applied}{tail}", width, "- ")
    yield from heading("Done", width)
    for treatment in painting.treatments:
        yield from wrap(_done(treatment, zone), width, "- ")
    if result.signs:
        yield from heading("Seen", width)
    for sign in result.signs:
        yield from wrap(noted(sign, zone), width, "- ")
    if result.signs and not any(sign.baseline for sign in result.signs):
        yield from wrap("no sign is on record from its arrival or a handover, so that each counts as new", width, "- ")
    yield from heading("Where it stood", width)
    yield from _stays(result, width)
    yield from heading("Said in earlier reviews", width)
    for sentence in result.said or ("nothing",):
        yield from wrap(sentence, width, "- ")
    if result.tasks:
        yield from heading("Tasks", width)
    for due in result.tasks:
        yield from wrap(f"{due.number}: {due.what} ({due.state}{': ' + due.note if due.note else ''})", width, "- ")


def _facts(result: Dossier) -> str:
    """What it is, as far as it is known; never whose, nor what it is worth."""
    p = result.painting
    size = f"{p.height_cm:g} × {p.width_cm:g} cm" if p.height_cm and p.width_cm else ""
    said = (
        f"{p.maker or 'maker not known'}, {p.made or 'undated'}", size, f"{p.weight_kg:g} kg" if p.weight_kg else "",
        p.support, p.ground and f"ground {p.ground}", p.varnish and f"varnish {p.varnish}",
        {True: "glazed", False: "not glazed", None: "glazing not known"}[p.glazed],
        {True: "backed", False: "no backing board", None: "backing not known"}[p.backed],
        p.stretcher and f"stretcher {p.stretcher}",
        f"frame {p.frame_depth_mm:g} mm deep" if p.frame_depth_mm else "",
        f"tacking margins {p.tacking_margins}", p.care.value,
    )  # fmt: skip
    return "; ".join(part for part in said if part)


def _how_it_is(result: Dossier, width: int) -> Iterator[str]:
    line, zone = result.line, result.zone
    assert line is not None
    seen = stamp(line.seen_until, zone) if line.seen_until is not None else "nothing read"
    yield from wrap(
        f"{all_whereabouts(line, line.headline)}; {line.level.word} {SHAPE[line.level]} in {result.label}; "
        f"air seen until {seen}",
        width,
    )
    if line.put_off:
        yield from wrap(f"put off {line.put_off}", width)
    for finding in line.verdict.raised:
        yield ""
        yield from _flag(finding, result, width)
    if line.drying is not None:
        yield ""
        yield from wrap(f"drying back: {line.drying.sentence}", width)
    tail = [f"noted: {f.sentence}" for f in line.verdict.findings if f.mechanism == Mechanism.COMPATIBILITY]
    tail += [f"assumed: {note}" for note in line.verdict.notes]
    tail += [result.ageing] if result.ageing else []
    tail += [f"not known: {unseen(line.verdict, zone)}"] if line.verdict.unseen else []
    if line.verdict.unseen:
        tail += [f"looked at by eye {observed(seen, zone)} (that makes nothing clear)" for seen in line.looked]
    if tail:
        yield ""
    for text in tail:
        yield from wrap(text, width, "- ")


def _flag(finding: Finding, result: Dossier, width: int) -> Iterator[str]:
    """What threatens which layer, how far over, since when; what to look for, to do and not to do; what clears it."""
    zone = result.zone
    by = f" By {date(finding.by, zone)}." if finding.by is not None else ""
    assert result.line is not None, "a finding without a line"
    yield from wrap(f"{finding.level.word} {SHAPE[finding.level]} {finding.layer}: {finding.sentence}", width)
    told = (
        ("", "; ".join(filter(None, (measure(finding), story(result.line, finding, zone))))),
        ("it is", finding.ordinary), ("look for", finding.look_for),
        ("do", f"{finding.do}{by}" if finding.do else ""), ("do not", finding.avoid), ("cleared by", finding.clears),
        ("take care", finding.caution),
    )  # fmt: skip
    for label, text in told:
        if text:
            yield from wrap(f"{label}: {text}" if label else text, width, "  ")
    for seen in result.painting.observations:
        if finding.number is not None and seen.finding == finding.number:
            yield from wrap(f"seen {observed(seen, zone)}", width, "  ")
    if finding.number is not None:
        yield f"  envwatch why {finding.number}"


def _done(t: Treatment, zone: str) -> str:
    """A treatment in a line: the fields of the trade that were kept."""
    temps = ", ".join(f"{c:g}" for c in t.temps_interface_c) or (
        f"{t.temp_interface_c:g}" if t.temp_interface_c else ""
    )
    figures = (
        ("held", t.hold_min, "min"), ("at", t.pressure_mbar, "mbar"), ("dried", t.drying_h, "h"),
        ("studio", t.studio_temp_c, "°C"), ("studio", t.studio_rh_percent, "% RH"),
    )  # fmt: skip
    told = [f"{t.kind} {t.material.replace('_', ' ')}".strip()]
    told += [f"{what} {text}" for what, text in (("on the", t.layer), ("batch", t.batch)) if text]
    told += [f"{temps} °C at the interface"] if temps else []
    told += [f"{what} {value:g} {unit}" for what, value, unit in figures if value is not None]
    told += [
        f"{what}{text}" for what, text in (("peel trial ", t.peel_trial), ("told the owner: ", t.limits_told)) if text
    ]
    return f"{date(t.on, zone, t.year_only)}: " + "; ".join([*told, t.note] if t.note else told)


def _stays(result: Dossier, width: int) -> Iterator[str]:
    """Each stay; a hole between two is said."""
    zone, before = result.zone, None
    for stay in result.painting.stays:
        if before is not None and before.end is not None and date(before.end, zone) != date(stay.start, zone):
            yield from wrap(f"{date(before.end, zone)} to {date(stay.start, zone)}: whereabouts unknown", width, "- ")
        until = date(stay.end, zone) if stay.end is not None else "now"
        meant = f" (intended: {stay.purpose})" if stay.intended else ""
        place = result.places.get(stay.place_id, stay.place_id)
        yield from wrap(f"{date(stay.start, zone)} to {until}: {place}, {stay.position}{meant}", width, "- ")
        before = stay
