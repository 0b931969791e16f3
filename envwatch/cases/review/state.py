"""How a finding stands: new, worse, the same, eased or over; and whether a look has answered it.

Against this painting's earlier kept reviews. What is over asks for a look and nothing else; only an own look closes it,
with the second look that its mechanism asks for. What is unchanged and answered does not lead again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, takewhile
from typing import Any

import numpy as np
import pandas as pd

from envwatch.cases.leaving import RING, end_of
from envwatch.cases.review.met import Met
from envwatch.climate.exposure import ENCLOSED, Exposure
from envwatch.core.dates import day_end
from envwatch.core.findings import KINDS, Ending, Finding, Hazard, Level, Mechanism, State, Verdict
from envwatch.core.painting import NO_WORK, Look, Observation, Painting, Stay
from envwatch.core.period import Period
from envwatch.core.place import Place, Placement
from envwatch.core.text import date, stamp
from envwatch.figures import review as fig
from envwatch.figures.coverage import ENDED_NEEDS_H

HEAT = (Mechanism.HEAT, Mechanism.HEAT_MONTH)
SLOW = (Mechanism.DRY, Mechanism.DRY_AIR, Mechanism.SWING, Mechanism.CHANGE, Mechanism.BEYOND)  # dry and swing
DRYNESS = (Mechanism.DRY, Mechanism.DRY_AIR)
DRY_KEYS = ((Hazard.LINING.value, Mechanism.DRY.value), (Hazard.FLUCTUATION.value, Mechanism.DRY_AIR.value))
SEASON = pd.Timedelta(days=float(fig.SEASON_DAYS))
Record = Mapping[str, Any]


@dataclass(frozen=True)
class KeptPainting:
    """What an earlier kept review said of one painting: its findings by (hazard, mechanism)."""

    start: pd.Timestamp
    end: pd.Timestamp
    findings: Mapping[tuple[str, str], Record]
    made: pd.Timestamp | None = None


def kept_of(reviews: Iterable[Mapping[str, Any]], before: pd.Timestamp) -> dict[str, list[KeptPainting]]:
    """The kept reviews of periods that begin before a moment, by painting, oldest first; of one period the last."""
    last = {(r["period_start"], r["period_end"]): r for r in reviews if r["period_start"] < before}
    out: dict[str, list[KeptPainting]] = {}
    for (start, end), review in sorted(last.items(), key=lambda item: item[0][::-1]):
        record = review["record"]
        found: dict[str, dict[tuple[str, str], Record]] = {id: {} for id in record.get("levels", {})}
        for one in record.get("findings", ()):
            found.setdefault(one["painting"], {})[one["hazard"], one["mechanism"]] = one
        for id, findings in found.items():
            out.setdefault(id, []).append(KeptPainting(start, end, findings, review["made_at"]))
    return out


# ------------------------------------------------------------------------------------------------ against earlier


def worse_by(finding: Finding, earlier: Record) -> float:
    """How much worse its value is than an earlier one, in its unit; NaN where either has none."""
    now, then = finding.value, earlier.get("value")
    if then is None or np.isnan(now) or earlier.get("limit") is None:
        return float("nan")
    return (now - float(then)) * (1 if finding.value >= finding.limit else -1)


def compared(finding: Finding, earlier: Record | None) -> State:
    """The state of a raised finding whose air goes on, against the review before."""
    if earlier is None or earlier.get("ended") or finding.level > earlier["level"]:
        return State.NEW
    if finding.level < earlier["level"]:
        return State.EASED
    change, u = worse_by(finding, earlier), np.nan_to_num(finding.uncertainty)
    return State.WORSE if change > u else State.EASED if change < -u else State.SAME


def last_change(painting: Painting, now: pd.Timestamp) -> pd.Timestamp | None:
    """When it was last treated, moved, or seen with a sign: what was told before that is told anew."""
    days = [t.on for t in painting.treatments if t.kind not in NO_WORK]
    days += [stay.start for stay in painting.stays]
    days += [o.on for o in painting.observations if not o.well and o.confirms is not False]
    return max((on for on in days if on <= now), default=None)


def last_led(
    finding: Finding, kept: Sequence[KeptPainting], end: pd.Timestamp, since: pd.Timestamp | None = None
) -> tuple[Record | None, pd.Timestamp | None]:
    """What was told of a finding before, and when: held against that, and not against last week, nothing can creep.

    Of reviews without a break before this one the last that it led. Of dryness, and of a swing to watch, the worst
    that was told within a season: what comes and goes with the weather is told once, and the dryness of a canvas and
    of what lines it are one. `since`: of a season only what was told after that.
    """
    keys = _keys(finding)
    if _told_by_season(finding):
        first = max(end - SEASON, since) if since is not None else end - SEASON
        season = [(k.findings[key], k.made) for k in kept if k.end > first for key in keys if key in k.findings]
        season.sort(key=lambda told: _severity(finding, told[0]), reverse=True)
        record, when = _first_led(season)
        return (None, None) if record is None else ({**record, "ended": None}, when)
    run = takewhile(lambda k: keys[0] in k.findings, reversed(kept))
    return _first_led([(k.findings[keys[0]], k.made) for k in run])


def _first_led(
    told: Sequence[tuple[Record, pd.Timestamp | None]],
) -> tuple[Record | None, pd.Timestamp | None]:
    return next((one for one in told if not one[0].get("standing")), told[0] if told else (None, None))


def key_of(finding: Finding) -> tuple[str, str]:
    """Under which a review keeps a finding of a painting."""
    return str(finding.hazard), str(finding.mechanism)


def _keys(finding: Finding) -> list[tuple[str, str]]:
    """Under which a finding was kept, its own first."""
    own = key_of(finding)
    return [own, *(key for key in DRY_KEYS if key != own)] if finding.mechanism in DRYNESS else [own]


def _told_by_season(finding: Finding) -> bool:
    return finding.mechanism in DRYNESS or (finding.mechanism in SLOW and finding.level is Level.WATCH)


def _severity(finding: Finding, record: Record) -> tuple[int, float]:
    return record["level"], -float(np.nan_to_num(worse_by(finding, record)))


def with_met(judged: Verdict, met: Met) -> Verdict:
    """A verdict whose findings say what the painting has met before, and what is ordinary."""
    return replace(judged, findings=tuple(_met(finding, met) for finding in judged.findings))


def _met(finding: Finding, met: Met) -> Finding:
    finding = met.explained(finding)
    if finding.key in met.keys:
        return replace(finding, standing=met.sentence, met=True)
    return replace(finding, ordinary=met.told) if finding.key in met.ordinary else finding


# ------------------------------------------------------------------------------------------------------- endings


def words_of(place: str, position: str) -> str:
    """A place with the position in it, where that says something of its air."""
    return place if position in ("", Placement.UNKNOWN, *ENCLOSED) else f"{place}, {position}"


def stood(finding: Finding, exposures: Sequence[Exposure], painting: Painting) -> Finding:
    """A raised finding with the place of its worst hour, and by what its air ended."""
    if finding.level < Level.WATCH:
        return finding
    at = finding.worst_at or finding.until
    stint = exposures[finding.way].stint_at(at) if at is not None else None
    place = words_of(stint.place_name, stint.position) if stint is not None and stint.place_id else ""
    taken = _taken_away(finding, exposures)
    finding = finding if taken is None else replace(finding, ended=taken)
    return replace(finding, place=place, ended_by=_ended_by(finding, exposures, painting))


def _taken_away(finding: Finding, exposures: Sequence[Exposure]) -> pd.Timestamp | None:
    """When it was moved within a day of the last hour over its limit: that ended it, and not the hour."""
    if finding.until is None:
        return None
    last = finding.until + pd.Timedelta(hours=float(ENDED_NEEDS_H))
    starts = _moves(exposures)
    read = max((e.read_until for e in exposures if e.read_until is not None), default=finding.until)
    return min((start for start in starts if finding.until <= start <= last and start <= read), default=None)


def _moves(exposures: Sequence[Exposure]) -> set[pd.Timestamp]:
    """When it came to another place or position; not when another logger came to where it stands."""
    pairs = (pair for exposure in exposures for pair in pairwise(exposure.stints))
    return {b.start for a, b in pairs if (a.place_id, a.position) != (b.place_id, b.position)}


def _ended_by(finding: Finding, exposures: Sequence[Exposure], painting: Painting) -> Ending | None:
    if finding.ended is None:
        return None
    first = finding.ended - pd.Timedelta(hours=float(fig.MOVE_ENDS_WITHIN_H))
    starts = _moves(exposures)
    if any(first <= start <= finding.ended for start in starts):
        return Ending.MOVE
    work = (t.on for t in painting.treatments if t.kind not in NO_WORK)
    return Ending.TREATMENT if any(first <= on <= finding.ended for on in work) else Ending.AIR


def present(painting: Painting, places: Mapping[str, Place], now: pd.Timestamp) -> tuple[Stay | None, str]:
    """The stay it is in by the clock, from the minute that a move is entered, and that in words."""
    here = [stay for stay in painting.stays if stay.start <= now and (stay.end is None or end_of(stay, places) > now)]
    if not here:
        return None, "whereabouts unknown"
    return here[-1], words_of(places[here[-1].place_id].name, here[-1].position)


def moved_since(finding: Finding, stay: Stay | None) -> Finding:
    """A finding whose air went on when it was last read, and whose painting has been taken elsewhere since: ended."""
    if finding.level < Level.WATCH or finding.ended is not None or finding.until is None or stay is None:
        return finding
    unsure = pd.Timedelta(days=1) if stay.start_is_date else pd.Timedelta(hours=1)  # such a day is both places'
    if stay.start + unsure < finding.until:
        return finding
    return replace(finding, ended=max(stay.start, finding.until), ended_by=Ending.MOVE)


# --------------------------------------------------------------------------------------------------------- looks


def holds_days(finding: Finding) -> float:
    """For how long a look that found the painting well answers a finding that grows no worse. [d]"""
    return float(fig.LOOK_HOLDS_SLOW_DAYS if finding.mechanism in SLOW else fig.LOOK_HOLDS_DAMP_DAYS)


def second_look_days(mechanism: str, hazard: str) -> float | None:
    """After how many days what is over is looked at once more; None where one look is enough. [d]"""
    if mechanism in HEAT:
        return float(fig.SECOND_LOOK_HEAT_DAYS)
    damp = hazard in (Hazard.MOULD, Hazard.CONDENSATION) or mechanism in (Mechanism.DAMP, Mechanism.DAMP_AIR)
    return float(fig.SECOND_LOOK_DAMP_DAYS) if damp else None


def found_well(painting: Painting, finding: Finding) -> list[Observation]:
    """Own looks that found nothing new, or denied the finding; a later own look with a sign takes them back."""
    looks = [o for o in painting.observations if o.look == Look.OWN]
    well = [o for o in looks if o.well or (o.confirms is False and o.finding == finding.number)]
    signs = [o for o in looks if not o.well and o.confirms is not False and o.finding in (None, finding.number)]
    return [o for o in well if not any(s.on >= o.on for s in signs)]


def answer(finding: Finding, painting: Painting, kept: Sequence[KeptPainting], span: Period, now: pd.Timestamp) -> str:
    """By which own look a finding is answered, in words; "" where by none, or where it has grown worse since.

    Such a look holds 7 days for damp and 28 for dryness and swing; for heat until the next hot hour.
    """
    looks = [o for o in found_well(painting, finding) if o.on <= now and o.on >= (finding.since or o.on)]
    goes_on = finding.ended is None and finding.level >= Level.ACT
    for look in reversed(looks):
        if goes_on and not any(finding.since is None or k.end > finding.since for k in _telling(finding, look, kept)):
            continue  # who looked had not been told of this spell
        if _too_old(finding, look, span.end) or _worse_since(finding, look, kept):
            continue
        still = f"still so {stamp(finding.until, span.zone)}; " if goes_on and finding.until is not None else ""
        return f"{still}looked, found well {date(look.on, span.zone)}"
    return ""


def _telling(finding: Finding, look: Observation, kept: Sequence[KeptPainting]) -> list[KeptPainting]:
    """Reviews of periods begun before a look that said something of a finding."""
    key = key_of(finding)
    return [k for k in kept if k.start < look.on and key in k.findings]


def _too_old(finding: Finding, look: Observation, end: pd.Timestamp) -> bool:
    if finding.mechanism in HEAT:
        return finding.until is None or look.on < finding.until
    return end - look.on > pd.Timedelta(days=holds_days(finding))


def _worse_since(finding: Finding, look: Observation, kept: Sequence[KeptPainting]) -> bool:
    """Whether its worst hour came after a look, and is worse than what had been told by then."""
    if finding.worst_at is None or finding.worst_at <= look.on:
        return False
    key = key_of(finding)
    known = [k.findings[key] for k in _telling(finding, look, kept)]
    if not known or finding.level > max(one["level"] for one in known):
        return True
    least = min(worse_by(finding, one) for one in known)
    return not least <= np.nan_to_num(finding.uncertainty)


def with_state(
    finding: Finding, painting: Painting, kept: Sequence[KeptPainting], span: Period, stay: Stay | None,
    now: pd.Timestamp, settled: bool = True,
) -> Finding:  # fmt: skip
    """A raised finding with its state, and why it leads no list where it does not; any other as it is.

    `settled`: no layer is in its first weeks. Dryness and swings of a settled painting are told once, then by change:
    what they ask for stays among the things to do until somebody has looked.
    """
    if finding.level < Level.WATCH:
        return finding
    finding = moved_since(finding, stay)
    earlier, when = last_led(finding, kept, span.end, last_change(painting, now))
    change = compared(finding, earlier)
    state = State.OVER if finding.ended is not None else change
    why = finding.standing or answer(finding, painting, kept, span, now)
    if not why and finding.mechanism in SLOW and settled and change in (State.SAME, State.EASED) and when is not None:
        why = " ".join(filter(None, (finding.ordinary, f"told {date(when, span.zone)}, no worse since; not looked at")))
    if not why and state is State.OVER and earlier is not None and earlier.get("ended"):
        why = f"ended {stamp(finding.ended, span.zone)}, told then; not looked at yet"
    return over_advice(replace(finding, state=state, standing=why), painting, span.zone, now)


def with_answers(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """The milder findings of a kind of harm that goes on are answered with the worst: what leads is not its lesser."""
    answered = [f for f in findings if f.level >= Level.ACT and f.ended is None and f.standing and not f.met]

    def of(finding: Finding) -> str:
        asks = finding.level >= Level.WATCH and not finding.standing
        kind = KINDS.get(finding.mechanism)
        worse = (f for f in answered if f.level > finding.level and kind and KINDS.get(f.mechanism) == kind)
        return next((f.standing for f in worse), "") if asks else ""

    return tuple(replace(f, standing=of(f) or f.standing) for f in findings)


# ---------------------------------------------------------------------------------------------------------- over


def over_advice(finding: Finding, painting: Painting, zone: str, now: pd.Timestamp) -> Finding:
    """A finding whose air is over: nothing to stop, a look to be had; never "today", never "move it"."""
    if finding.level < Level.WATCH or finding.ended is None or finding.do.startswith(RING):
        return finding
    by = now + pd.Timedelta(days=float(fig.LOOK_WHEN_OVER_DAYS[int(finding.level)]))
    do = f"{seen_words(looks_since(painting, finding.ended, zone), zone)} {look_words(finding.look_for)}".strip()
    return replace(finding, do=do, avoid="No keying out and no framing before that look.",
                   clears=_clears(finding), by=by)  # fmt: skip


LOOK = "Nothing to stop. Look at it in raking light, front and back, before anyone keys or frames it"
LOOK_IN_SHORT = "Nothing to stop; look at it before anyone keys or frames it"  # the same, on one line


def look_words(signs: str) -> str:
    """What is asked once the air is over."""
    signs = signs.rstrip(".").removeprefix("In raking light and at the back: ")
    return f"{LOOK}: {_low(signs or 'anything loose, lifted, slack or new')}."


def _low(text: str) -> str:
    return text[:1].lower() + text[1:]


def _clears(finding: Finding) -> str:
    days = second_look_days(finding.mechanism, finding.hazard)
    again = "" if days is None else f", and a second look {days:g} days after it was over"
    return f"An own look that finds nothing new{again}."


BY = {Ending.MOVE: "moved", Ending.TREATMENT: "treated"}


def by_words(ending: str | None) -> str:
    """By what it ended, in brackets; "" where its air merely came back."""
    return f" ({BY[Ending(ending)]})" if ending in BY else ""


def over_words(finding: Finding, painting: Painting, zone: str) -> str:
    """When its air was over, by what, and whether anybody has looked since; "" where it goes on."""
    if finding.ended is None:
        return ""
    looks = looks_since(painting, finding.ended, zone)
    seen = f"Looked at {date(looks[-1].on, zone)}: {looks[-1].sign}." if looks else "It has not been looked at since."
    return f"It ended {stamp(finding.ended, zone)}{by_words(finding.ended_by)}. {seen}"


def looks_since(painting: Painting, moment: pd.Timestamp, zone: str) -> list[Observation]:
    """Own looks from a moment on; one of which only the day is known is taken to be of that day's end."""
    looks = (o for o in painting.observations if o.look == Look.OWN)
    return [o for o in looks if o.on >= moment or (_bare(o.on, zone) and day_end(o.on, zone) > moment)]


def _bare(on: pd.Timestamp, zone: str) -> bool:
    local = on.tz_convert(zone)
    return local == local.normalize()


def seen_words(looks: Sequence[Observation], zone: str) -> str:
    """The sign that the last of some looks found; "" where it found none."""
    last = looks[-1] if looks else None
    if last is None or last.well or last.confirms is False:
        return ""
    return f"Seen {date(last.on, zone)}: {last.sign}. It stays here until an own look finds nothing new."
