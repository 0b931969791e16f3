"""Papers around a lining for a client's file: the comparison of adhesives, the receipt, the incidents of a loan.

They are assessments: they carry no levels, no number out of ten and no name of an owner.
"""

from __future__ import annotations

from envwatch.cases.lining.adhesives import Candidate, Comparison, Month
from envwatch.cases.lining.release import Release
from envwatch.cases.loan import LoanReport, sentence
from envwatch.cases.painting.call import Call
from envwatch.core.findings import Finding, Level
from envwatch.core.quantities import Confidence
from envwatch.figures import SOURCES
from envwatch.figures import around_lining as fig
from envwatch.figures.handling import hot
from envwatch.present.lining_words import worked_in
from envwatch.present.paper import page as paper_page
from envwatch.present.paper.wording import TRUST, date, number, ours, span, stamp
from envwatch.present.words import amount

COUNTS = {
    "heat": "warmest", "heat, 30 days": "warmest 30 days", "damp": "dampest", "dry": "driest", "cold": "coldest",
    "swing": "largest change within 24 hours",
}  # fmt: skip
CAUSES = {
    "heat": "by heat", "damp": "by damp", "dry": "by dryness", "cold": "by cold", "swing": "by swings of humidity",
}  # fmt: skip
ROWS = 120

COMPARISON = paper_page.layout("comparison")

RECEIPT = paper_page.layout("receipt")

LOAN = paper_page.layout("loan")


WET = paper_page.layout("wet")


def wet(result: Call, paper: str = "a4") -> bytes:
    """The sheet for a leak or a flood, as a PDF: what to do first. Raises BadInput for another paper."""
    told = {
        "title": f"{result.painting.title}: wet",
        "steps": list(result.flood), "ask": list(result.triage.ask),
        "adoption": result.adoption,
        "foot": f"{result.studio}, first steps for a wet painting. Common practice; not an assessment.",
    }  # fmt: skip
    return paper_page.printed(told, WET, paper, result.at)


def comparison(result: Comparison, paper: str = "a4") -> bytes:
    """The comparison as a PDF. Raises BadInput for another paper."""
    return paper_page.printed(compared(result), COMPARISON, paper, result.made_at)


def compared(result: Comparison) -> dict:
    """All that stands on the comparison."""
    there = result.destination
    keys = sorted({f.source for c in result.candidates for f in c.own if f.level > Level.UNKNOWN})
    return {
        "title": f"Which adhesive for {result.title}",
        "about": f"An assessment for {result.painting_id}, going to {there.name}: {there.basis}. Each candidate is "
                 f"taken as lined and there on {date(there.start, there.zone)}.",
        "notes": [*there.notes, *result.notes],
        "unchanged": [_met(f, there.zone) for f in result.unchanged],
        "none": "Nothing was found without a lining, so far as was read.",
        "how": "How to read it: “beyond” is what passed the candidate's own limit of caution, with the month in which "
               "it was worst; “gives first” is the layer of the whole painting that leads; “arriving” are the months "
               "in which its own first weeks would have stayed within their stricter limits. The order is that of the "
               "materials file and means nothing; the conservator chooses.",
        "candidates": [_candidate(c, there.zone) for c in result.candidates],
        "sources": [f"{key}: {SOURCES[key]}" for key in keys],
        "trust": f"Limits for finished linings: {TRUST[Confidence.OUR_JUDGEMENT]}. Starting values, not a promise.",
        "adoption": result.adoption,
        "foot": f"{result.studio}, adhesives for {result.painting_id}. An assessment, not a warranty.",
    }  # fmt: skip


def _met(f: Finding, zone: str) -> str:
    """A finding without its level: which layer, how far, when, and the limit."""
    count = COUNTS.get(f.mechanism, f.mechanism)
    when = "" if f.worst_at is None else f", {f.worst_at.tz_convert(zone):%B %Y}"
    limit = "" if f.limit != f.limit else f" (limit {f.limit:g}{ours(f)})".replace("limit -", "limit −")
    return f"{f.layer}: {count} {amount(f, spread=False)}{limit}{when}"


def _candidate(c: Candidate, zone: str) -> dict:
    beyond = [f for f in c.own if f.level >= Level.WATCH]
    leads = c.gives_way
    return {
        "name": c.profile.label,
        "beyond": [_met(f, zone) for f in sorted(beyond, key=lambda f: -f.level)],
        "within": "; ".join(_short(f) for f in c.own if f.level is Level.CLEAR),
        "unknown": ", ".join(dict.fromkeys(f.mechanism for f in c.own if f.level is Level.UNKNOWN)),
        "first": "no layer, as far as was read" if leads is None
                 else f"{leads.layer}, {CAUSES.get(leads.mechanism, leads.mechanism)}",
        "months": _arriving(c.months, zone),
        "worked": worked_in(c.profile),
        "strength": str(c.profile.strength or ""), "removal": str(c.profile.removal or ""),
        "notes": [*c.pairs, *c.profile.overruled],
    }  # fmt: skip


def _short(f: Finding) -> str:
    return f"{COUNTS.get(f.mechanism, f.mechanism)} {amount(f, spread=False)} (limit {f.limit:g}{ours(f)})".replace(
        "limit -", "limit −"
    )


def _arriving(months: tuple[Month, ...], zone: str) -> str:
    def names(chosen) -> str:
        return ", ".join(f"{m.arrives.tz_convert(zone):%B}" for m in chosen)

    good = names(m for m in months if m.level is Level.CLEAR)
    open_ = names(m for m in months if m.level is Level.UNKNOWN)
    told = good or "in no month within the limits of its first weeks"
    return f"{told}; not known: {open_}" if open_ else told


def receipt(result: Release, although: str = "", paper: str = "a4") -> bytes:
    """The receipt to sign at handover, as a PDF. Raises BadInput for another paper."""
    return paper_page.printed(received(result, although), RECEIPT, paper, result.made_at)


def received(result: Release, although: str = "") -> dict:
    """All that stands on the receipt."""
    painting, zone = result.painting, result.zone
    size = " × ".join("?" if v is None else f"{v:g}" for v in (painting.height_cm, painting.width_cm))
    weight = "not known" if painting.weight_kg is None else f"{painting.weight_kg:g} kg"
    open_ = ", ".join(check.what for check in result.open)
    return {
        "title": f"Handed over: {painting.title}",
        "about": "A receipt, and an assessment on the day; not a warranty, and no part of an insurer's terms.",
        "facts": [
            ["number", painting.id], ["leaves on", date(result.on, zone)], ["size", f"{size} cm"],
            ["weight", weight], ["to", result.house or "…………………………"],
            ["lined on", date(painting.lined_on, zone, painting.lined_year_only) or "no lining on record"],
            ["studio air", _air(result)],
            ["its limit", _bears(result)],
        ],
        "although": f"It leaves although not all was in order ({open_}), because: {although}" if although else "",
        "condition": "Looked at together, front and back, in raking light before packing. What is seen is written "
                     "here, and marked on the photograph.",
        "seen": [f"{o.sign}{f', {o.where}' if o.where else ''} ({date(o.on, zone)})" for o in _since_lining(result)],
        "arrival": _arrival(result), "look_for": list(result.look_for),
        "ring": "Ring us the same day for anything that lifts, flakes, blisters, feels soft, smells of mould or got "
                "wet, and after a fall. Until we have seen it leave it as it is; touch nothing. Do not press the back, "
                f"knock in wedges, wipe or spray it. If it got hot: {' '.join(hot())}",
        "dates": [f"{date(s.on, zone)}: {s.what.partition(':')[2].strip() or s.what}" for s in result.ahead
                  if s.what.startswith("look")],
        "logger": _logger(result),
        "adoption": result.adoption,
        "foot": f"{result.studio}, receipt for {painting.id}. An assessment on the day, not a warranty.",
    }  # fmt: skip


def _air(result: Release) -> str:
    if result.temp_c != result.temp_c or result.rh_percent != result.rh_percent:
        return "not known"
    return f"{number(result.temp_c)} °C, {number(result.rh_percent, 0)} % RH"


def _bears(result: Release) -> str:
    limit = result.heat_limit_c
    return "not known" if limit != limit else f"never over {number(limit, 0)} °C{ours(limit)}, not even for an hour"


def _since_lining(result: Release):
    lined = result.painting.lined_on
    return [o for o in result.painting.observations if lined is None or o.on >= lined]


def _arrival(result: Release) -> list[str]:
    told = [
        "Carried upright by both sides, never by the stretcher, never face up in a hot vehicle.",
        f"The crate stays closed where it is to hang until {stamp(result.crate_opens, result.zone)} at the earliest"
        + (f" ({fig.CRATE_CLOSED_H:g} hours for its temperature)" if result.air is None else "") + ".",
    ]  # fmt: skip
    air = result.air
    if air is not None:
        told.append(f"Its canvas is at {number(air.studio, 0)} % RH and the house at {number(air.house, 0)} % "
                    f"({air.basis}); it goes on settling for {_days(air.own_h)} after that.")  # fmt: skip
    return [*told, "Not over a radiator, stove or fireplace, not where the sun reaches it, not flat on an outer wall."]


def _days(hours: float) -> str:
    return f"about {max(hours, 1):.0f} hours" if hours < 48 else f"about {hours / 24:.0f} days"


def _logger(result: Release) -> str:
    if not result.logger:
        return "None goes along."
    back = "" if result.journey.logger_back is None else f" by {date(result.journey.logger_back, result.zone)}"
    by = f" It is sent back by {result.journey.logger_by}{back}." if result.journey.logger_by else ""
    return f"{result.logger}. It hangs beside the picture, at its height, not in the sun.{by}"


def loan(result: LoanReport, paper: str = "a4") -> bytes:
    """The incident sheet as a PDF. Raises BadInput for another paper."""
    return paper_page.printed(lent(result), LOAN, paper, result.made_at)


def lent(result: LoanReport) -> dict:
    """All that stands on the incident sheet."""
    zone, painting = result.zone, result.painting
    rows = [row for incident in result.incidents for row in _days_of(incident, zone)]
    left = len(rows) - ROWS
    doubtful = any(not day.certain for incident in result.incidents for day in incident.days)
    return {
        "title": f"Loan of {painting.title}",
        "about": f"{painting.id}, at {result.place}, {date(result.start, zone)} to {date(result.last, zone)}. Hourly "
                 "means, in the time of the place.",
        "answer": sentence(result), "agreed": _agreed(result),
        "read": f"{span(*result.span_rh)} % RH, {span(*result.span_temp)} °C. Sensor {result.sensor}.",
        "notes": list(result.notes), "rows": rows[:ROWS],
        "none": "None in the hours that were read.",
        "more": [
            *(["* within the sensor's uncertainty of what was agreed"] if doubtful else []),
            *([f"{left} more days are not printed; the terminal's ⟦json⟧ has them all."] if left > 0 else []),
        ],
        "out": _seen(result.condition_out, zone), "back": _seen(result.condition_in, zone),
        "adoption": result.adoption,
        "foot": f"{result.studio}, loan of {painting.id}. An assessment of readings; the agreement stands.",
    }  # fmt: skip


def _days_of(incident, zone: str) -> list[list[str]]:
    def hour(time) -> str:
        return f"{time.tz_convert(zone):%H:%M}"

    def until(time) -> str:
        return "24:00" if hour(time) == "00:00" else hour(time)

    return [
        [incident.what, date(day.first, zone), f"{hour(day.first)}–{until(day.end)}",
         f"{day.hours:.0f}", f"{number(day.worst)} {incident.unit}{'' if day.certain else ' *'}", hour(day.worst_at),
         f"{incident.limit:g} {incident.unit}"]
        for day in incident.days
    ]  # fmt: skip


def _agreed(result: LoanReport) -> list[str]:
    a = result.agreement
    said = [
        _band("humidity", a.rh_low, a.rh_high, "% RH"), _band("temperature", a.temp_low, a.temp_high, "°C"),
        "" if a.rh_change is None else f"change of humidity within 24 h: at most {a.rh_change:g} % RH",
        "" if a.temp_change is None else f"change of temperature within 24 h: at most {a.temp_change:g} K",
    ]  # fmt: skip
    return [line for line in said if line]


def _band(what: str, low: float | None, high: float | None, unit: str) -> str:
    if low is None and high is None:
        return ""
    if low is None or high is None:
        return f"{what}: {'at most' if low is None else 'at least'} {high if low is None else low:g} {unit}"
    return f"{what}: {low:g} to {high:g} {unit}"


def _seen(observations, zone: str) -> list[str]:
    told = [f"{date(o.on, zone)}: {o.sign}{f', {o.where}' if o.where else ''}" for o in observations]
    return told or ["nothing on record within a week of it"]
