"""The dossier of one painting on paper: treatment, its climate to the handover, assessment, advice, sources."""

from __future__ import annotations

import re

import pandas as pd

from envwatch.cases.painting.handover import Handover
from envwatch.cases.painting.times import Times
from envwatch.cases.review import hit_rate
from envwatch.climate.exposure import ENCLOSED
from envwatch.core.findings import Finding, Level, Mechanism, Verdict
from envwatch.core.painting import NO_WORK, Area, Margins, Treatment
from envwatch.core.place import Placement
from envwatch.core.quantities import STUDIO
from envwatch.present.ledger import story
from envwatch.present.paper import page
from envwatch.present.paper.course import drawn
from envwatch.present.paper.wording import date, measure, ours, outside, several, span, stamp, unseen
from envwatch.present.words import noted, observed

SHOWN_LIMITS = 12
SAME_SUM = "The same record printed again, here or from a backup, gives the same sum; one letter changed, another."
TOO_NEAR = 0.02  # of the drawing's width

LAYOUT = page.layout("dossier")


def dossier(result: Handover, paper: str = "a4") -> bytes:
    """The dossier as a PDF. The owner is on it only where `result` was made with the owner, on a page of their own.

    Parameters
    ----------
    result : as `handover.of` gives it.
    paper : "a4", or "letter".

    Raises
    ------
    BadInput : another paper.
    """
    return page.printed(content(result), LAYOUT, paper, result.made_at)


def content(result: Handover) -> dict:
    """All that stands on the sheet, as plain strings."""
    painting, zone, verdict = result.painting, result.period.zone, result.line.verdict
    ends = result.period.end - result.period.start
    done = [t for t in painting.treatments if t.on < result.period.end]
    moves = [(s.start - result.period.start) / ends for s in result.segments[1:]]
    return {
        "title": painting.title or painting.id,
        "facts": _facts(result),
        "now": result.line.now,
        "summary": f"{_level(verdict).word.capitalize()} over {result.period.days}, as far as read.",
        "withheld": list(result.withheld),
        "treatments": [_treatment(t, result) for t in done if t.kind not in NO_WORK],
        "spoken": [f"{date(t.on, zone)}: {t.kind}. {t.note}".strip() for t in painting.treatments if t.kind in NO_WORK],
        "stack": [_layer(layer, result) for layer in painting.layers],
        "how_to_read": "Each day from its lowest to its highest hourly mean of the air around the painting; a broken "
                       "line is a move, numbered as below; where there is nothing, nothing was read or it is left out.",
        "moves": _numbered(moves),
        "panels": _panels(result, moves),
        "segments": [_segment(n, s, zone) for n, s in enumerate(result.segments, 1)],
        "coverage": f"{verdict.coverage:.0%} of the period was read. {_stated(result)}",
        "findings": [_finding(f, result) for f in verdict.raised],
        "calm": [f"{f.layer}: {f.sentence}" for f in verdict.findings
                 if f.level is Level.CLEAR and f.mechanism != Mechanism.COMPATIBILITY],
        "events": [{"sentence": sentence, "times": _times(times, zone)} for sentence, times in result.events],
        "unseen": unseen(verdict, zone),
        "noted": [f.sentence for f in result.noted],
        "observed": [noted(sign, zone) for sign in result.signs],
        "said": [f"{label}: {sentence}" for label, sentence in result.said],
        "limits": [[told.finding, told.review, f"{told.then:g} {told.unit} ({_by(told.source, told.confidence)})",
                    "none" if told.today is None
                    else f"{told.today:g} {told.unit} ({_by(told.today_source, told.today_confidence)})"]
                   for told in result.limits if not told.same][:SHOWN_LIMITS],
        "limits_note": _limits_note(result),
        "sources": list(result.sources) or ["No limit was needed."],
        "notes": list(verdict.notes),
        "files": [f"{f.name} · logger {f.logger} · {date(f.first, zone)} to {date(f.last, zone)} · {f.readings:,} "
                  f"readings · SHA-256 {f.sha256}" for f in result.files],
        "adoption": result.adoption,
        "rests_on": _rests_on(result),
        "owner": result.owner,
        "foot": f"{result.studio}, dossier of {painting.id}. Printed {stamp(result.made_at, zone)} "
                f"{result.made_at.tz_convert(zone).year}. An assessment from readings, not a warranty.",
    }  # fmt: skip


def _numbered(moves: list[float]) -> list[dict]:
    """The stays that begin at each move; moves too near each other to be told apart share one mark."""
    marks: list[dict] = []
    for n, x in enumerate(moves, 2):
        if marks and x - marks[-1]["x"] < TOO_NEAR:
            marks[-1]["n"] += f", {n}"
        else:
            marks.append({"x": float(x), "n": str(n)})
    return marks


def _facts(result: Handover) -> str:
    p = result.painting
    size = f"{p.height_cm:g} × {p.width_cm:g} cm" if p.height_cm and p.width_cm else ""
    weight = f"{p.weight_kg:g} kg" if p.weight_kg else ""
    sheltered = {True: "glazed", False: "not glazed", None: ""}[p.glazed]
    board = {True: "backed", False: "no backing board", None: ""}[p.backed]
    margins = "" if p.tacking_margins == Margins.UNKNOWN else f"tacking margins {p.tacking_margins}"
    return "; ".join(part for part in (
        p.id, p.maker, p.made, size, weight, p.support, p.ground and f"ground {p.ground}",
        p.varnish and f"varnish {p.varnish}", sheltered, board, p.stretcher and f"stretcher {p.stretcher}", margins,
    ) if part)  # fmt: skip


def _layer(layer, result: Handover) -> str:
    when = f", {date(layer.applied_on, result.period.zone, layer.year_only)}" if layer.applied_on is not None else ""
    area = "" if layer.area == Area.WHOLE else f", {layer.area}"
    return f"{layer.role}: {_label(layer.material, result)}{area}{when}{' (assumed)' if layer.assumed else ''}"


def _label(material: str, result: Handover) -> str:
    return result.labels.get(material, material.replace("_", " "))


def _figure(value: float | None, unit: str, what: str) -> str:
    return "" if value is None else f"{what} {value:g} {unit}".strip()


def _treatment(t: Treatment, result: Handover) -> dict:
    """A treatment in the trade's own fields; what was not recorded is not there."""
    temps = ", ".join(f"{c:g}" for c in t.temps_interface_c) or (
        f"{t.temp_interface_c:g}" if t.temp_interface_c else ""
    )
    kept = {True: "test strip kept", False: "no test strip kept", None: ""}[t.strip_kept]
    told = {
        "material": (_label(t.material, result), t.family, t.form, t.batch and f"batch {t.batch}", t.carrier,
                     _figure(t.solids_percent, "%", "solids"), _figure(t.bloom, "", "Bloom"),
                     _figure(t.thickness_um, "µm", "film"), _figure(t.coats, "", "coats"),
                     _figure(t.amount_g_m2, "g/m²", ""), t.side, t.layer and f"on the {t.layer}",
                     t.cloth and f"cloth {_label(t.cloth, result)}"),
        "heat and pressure": (temps and f"{temps} °C at the interface", _figure(t.heating_min, "min", "heating"),
                              _figure(t.hold_min, "min", "held"), _figure(t.cooling_min, "min", "cooling"),
                              _figure(t.pressure_mbar, "mbar", "")),
        "drying": (_figure(t.drying_h, "h", ""), _figure(t.weight_g_cm2, "g/cm²", "under")),
        "trial": (t.peel_trial and f"peel trial {t.peel_trial}", kept),
        "studio air": (_figure(t.studio_temp_c, "°C", ""), _figure(t.studio_rh_percent, "% RH", "")),
        "afterwards": (_figure(t.weight_after_kg, "kg", "weight"), t.removal and f"removal: {t.removal}",
                       t.inspection_days and f"looks on day {', '.join(map(str, t.inspection_days))}"),
        "told the owner": (t.limits_told,),
        "note": (t.note,),
    }  # fmt: skip
    lines = {label: "; ".join(str(part) for part in parts if part) for label, parts in told.items()}
    rows = [{"label": label, "items": [line]} for label, line in lines.items() if line]
    return {"title": f"{t.kind.capitalize()}, {date(t.on, result.period.zone, t.year_only)}", "rows": rows}


def _panels(result: Handover, moves: list[float]) -> list[dict]:
    days, zone = result.days, result.period.zone
    ends = [date(moment, zone) for moment in (result.period.start, result.period.end - pd.Timedelta(hours=1))]
    made = [("°C", "temperature", drawn(*days.temp_c, 4.0, moves)),
            ("% RH", "relative humidity", drawn(*days.rh_percent, 10.0, moves))]  # fmt: skip
    return [
        drawing | {"unit": unit, "ends": ends, "alt": f"{what} around the painting, day by day"}
        for unit, what, drawing in made if drawing is not None
    ]  # fmt: skip


def _segment(n: int, s, zone: str) -> list[str]:
    where = s.place if s.position in (Placement.UNKNOWN, *ENCLOSED) or s.at_home else f"{s.place}, {s.position}"
    until = f"{date(s.start, zone)} to {date(s.end - pd.Timedelta(microseconds=1), zone)}"
    meant = " (intended)" if s.intended else ""
    return [
        str(n),
        f"{where}{meant}; {until}",
        span(s.temp_c[0], s.temp_c[1]),
        span(s.rh_percent[0], s.rh_percent[1], 0),
        f"{s.coverage:.0%}",
    ]


def _stated(result: Handover) -> str:
    """From where the readings come."""
    loggers = {f.logger for f in result.files}
    files = several(len(result.files), "logger file")
    stand = "stands" if len(result.files) == 1 else "stand"
    return f"{files[0].upper()}{files[1:]} of {several(len(loggers), 'logger')} {stand} behind it." if loggers else ""


def _finding(f: Finding, result: Handover) -> dict:
    zone = result.period.zone
    by = f" By {date(f.by, zone)}." if f.by is not None else ""
    seen = [observed(o, zone) for o in result.painting.observations if f.number is not None and o.finding == f.number]
    looked = hit_rate.beside(result.looked, f)
    worst = f"worst {stamp(f.worst_at, zone)}" if f.worst_at is not None else ""
    return {
        "word": outside(f).word, "layer": f.layer, "sentence": f.sentence + _from_memory(f), "measure": measure(f),
        "since": "; ".join(filter(None, (story(result.line, f, zone).removeprefix("since "), worst))),
        "times": next((_times(one, zone) for one in result.times if one.number == f.number is not None), ""),
        "look_for": f.look_for,
        "do": f.do + by if f.do else "", "avoid": f.avoid, "clears": _clears(f), "observed": seen,
        "looked": looked.sentence if looked is not None else "",
    }  # fmt: skip


def _times(one: Times, zone: str) -> str:
    """When it happened, was read, was seen by whom and was answered, in one row."""
    first, last = (date(moment, zone) if moment is not None else "" for moment in one.happened)
    by, answered_by = (f" by {name}" if name else "" for name in (one.by, one.answered_by))
    read = f"read {date(one.read, zone)}" if one.read is not None else "when it was read is not told"
    reviewed, answered = "in no kept review", "not answered"
    if one.reviewed is not None:
        reviewed = f"seen {date(one.reviewed, zone)}{by}, review of {one.review}"
    if one.answered is not None:
        answered = f"answered {date(one.answered, zone)}{answered_by}: {one.answer}"
    happened = f"happened {' to '.join(dict.fromkeys(filter(None, (first, last))))}" if first or last else ""
    return " · ".join(filter(None, (happened, read, reviewed, answered)))


def _rests_on(result: Handover) -> list[str]:
    """The one checksum, and what is not right about the register."""
    rests = result.basis
    if rests is None:
        return []
    rows, files = (
        several(rests.rows, "row of the register", "rows of the register"),
        several(rests.originals, "original file"),
    )
    said = f"{rows}, {files} and {several(rests.reviews, 'kept review')}, as they stood when it was printed: SHA-256 " \
           f"{rests.sha256}. {SAME_SUM}"  # fmt: skip
    return [said, *(f"Not as envwatch wrote it, or taken as it stood: {line}" for line in result.amiss)]


def _clears(f: Finding) -> str:
    return f.clears + (ours(f) if re.search(r"\d", f.clears) else "")


def _level(judged: Verdict) -> Level:
    return max(map(outside, judged.findings), default=judged.level)


def _from_memory(f: Finding) -> str:
    return " Its limit is from memory, and alone decides no level here." if outside(f) is not f.level else ""


def _by(source: str, confidence: str) -> str:
    return "the studio's own" if source == STUDIO else confidence


def _limits_note(result: Handover) -> str:
    reviews = len({told.review for told in result.limits})
    if not reviews:
        return "No review of the period was kept, so it is not known which limits stood then."
    changed = sum(not told.same for told in result.limits)
    all_of = f"{len(result.limits):,} limits of {several(reviews, 'kept review')} were compared with today's"
    verb = "differ" if changed > 1 else "differs"
    return f"{all_of}: {changed or 'none'} {verb}. All of them are in limits.csv of the bundle."


__all__ = ["content", "dossier"]
