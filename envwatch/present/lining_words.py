"""The answers around a lining in words, for terminal and page alike."""

from __future__ import annotations

from envwatch.cases.lining import working
from envwatch.cases.lining.adhesives import Candidate, by_word
from envwatch.cases.lining.checks import IN_ORDER, NOT_KNOWN, NOT_YET, YES
from envwatch.cases.lining.readiness import Family, Today
from envwatch.core.findings import Finding, Level
from envwatch.core.text import date, number
from envwatch.figures.materials import Profile
from envwatch.present.words import amount

ANSWERS = {IN_ORDER: "Nothing against it.", NOT_YET: "Not yet.", NOT_KNOWN: "Not known."}


def answer_today(result: Today) -> str:
    """The word, and the conditions that make it so."""
    what = [check.what for check in result.checks if check.word == result.word]
    head = result.word[0].upper() + result.word[1:]
    return f"{head}." if result.word == YES else f"{head}: {', '.join(what)}."


def question(result: Today) -> str:
    """What is asked today, by what it is to be done with."""
    of = next((f for f in result.families if f.id == result.adhesive), None)
    return f"May I line today{f', with {of.short}' if of else ''}"


def room_told(result: Today) -> str:
    """Where it is lined and dried, and why that is taken."""
    return f"Lined and dried in {result.room}: {result.room_basis}."


def family_told(family: Family) -> str:
    """One adhesive today: the word, and each condition of its own that is not yes."""
    open_ = [f"{check.what}: {check.sentence}" for check in family.checks if check.word == family.own]
    told = f"{family.short} [{family.id}]: {family.word}; its own conditions: {family.own}"
    return told + ("." if family.own == YES else f": {' '.join(open_)}")


def air_of_last_day(result: Today) -> str:
    """The air of the last day, and how it is put on record with the lining; what of it was not read is said."""
    known = [
        (f"{number(value, places)} {unit}", f"{field}={value:.1f}")
        for value, places, unit, field in (
            (result.temp_c, 1, "°C", "studio_temp_c"), (result.rh_percent, 0, "% RH", "studio_rh_percent"),
        ) if value == value
    ]  # fmt: skip
    if not known:
        return (
            "The air of the room's last 24 h was not read: read it off a checked thermohygrometer and record it with "
            "the lining (studio_temp_c=, studio_rh_percent=)."
        )
    missing = "" if len(known) == 2 else " The other of temperature and humidity was not read."
    told, fields = zip(*known, strict=True)
    return (
        f"Air of the room, last 24 h: {', '.join(told)}.{missing} Record it with the lining: envwatch treat … lining "
        f"{' '.join(fields)}"
    )


def own(c: Candidate, zone: str) -> str:
    """What the lining's own layer would have met, settled: raised counts with value, limit and month, then the rest."""
    raised = sorted((f for f in c.own if f.level >= Level.WATCH), key=lambda f: -f.level)
    parts = [f"{f.level.word}, {f.mechanism} {_value(f)}{_when(f, zone)}" for f in raised]
    unknown = [f.mechanism for f in c.own if f.level is Level.UNKNOWN]
    clear = [f"{f.mechanism} {_value(f)}" for f in c.own if f.level is Level.CLEAR]
    parts += [f"not known: {', '.join(unknown)}"] if unknown else []
    parts += [f"nothing against it: {', '.join(clear)}"] if clear else []
    return "; ".join(parts)


def gives_first(c: Candidate, zone: str) -> str:
    """Which layer of the whole build-up gives way first, and in which month."""
    leads = c.gives_way
    if leads is None:
        return "nothing was found against any layer"
    return f"{leads.layer}: {leads.mechanism}{_when(leads, zone)}"


def first_weeks_of(c: Candidate, zone: str) -> str:
    """What its first weeks would meet, lined on the day of arrival."""
    first = max(c.first_weeks.raised, key=lambda f: f.level, default=None)
    started = "nothing found against it" if first is None else f"{first.level.word}, {first.layer}: {first.mechanism}"
    return f"until {date(c.first_weeks_end, zone)}: {started}"


def by_month(c: Candidate, zone: str) -> str:
    """Its layer's first weeks, by month of arrival."""
    months = "; ".join(f"{word}: {', '.join(names)}" for word, names in by_word(c.months, zone).items())
    return f"its layer's first weeks, by month: {months}"


def unseen(c: Candidate) -> str:
    """What could not be judged for it."""
    return ", ".join(dict.fromkeys(f"{f.hazard} ({f.mechanism})" for f in c.settled.unseen))


def worked_in(p: Profile) -> str:
    """The air in which it may be laid on and dried; "" where it is not known."""
    bands = [band for band in (working.temperature(p), working.humidity(p)) if band]
    return f"room: {'; '.join(band.words for band in bands)}" if bands else ""


def _value(f: Finding) -> str:
    return f"{amount(f, spread=False)} (limit {f.limit:g})".replace("limit -", "limit −")


def _when(f: Finding, zone: str) -> str:
    return "" if f.worst_at is None else f", worst in {f.worst_at.tz_convert(zone):%B %Y}"
