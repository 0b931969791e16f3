"""The words of a row of the week: how many, where now, because of what, since when, ended or not, the last look."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from envwatch.cases.review import PaintingLine, Review
from envwatch.cases.review.state import BY, over_words
from envwatch.core.findings import Finding, Level, State
from envwatch.core.looks import last_own_look
from envwatch.core.text import day, first_sentence, several, stamp
from envwatch.present.words import amount, trust


def counts(review: Review) -> str:
    """All paintings of the register in one line, each counted once."""
    asking = Counter(line.level for line in review.trouble)
    clear = len(review.quiet) + len(review.waiting)
    groups = (
        (asking[Level.URGENT], "urgent"), (asking[Level.ACT], "act"), (asking[Level.WATCH], "watch"),
        (len(review.put_off), "put off"), (len(review.told), "told before"),
        (len(review.standing), "standing"), (len(review.not_seen), "not known"),
        (clear, "nothing against"), (len(review.left_out), "not judged"),
    )  # fmt: skip
    told = ", ".join(f"{count} {word}" for count, word in groups if count)
    total = len(review.judged) + len(review.left_out)
    return f"Of {several(total, 'painting')}: {told}" if told else "No painting in the register"


def whereabouts(line: PaintingLine, finding: Finding | None) -> str:
    """Where it is now, and where it was in the hours judged, if that is another place."""
    now, then = line.now or line.where, finding.place if finding is not None else ""
    return f"{now} (then: {then})" if then and then != now else now


def all_whereabouts(line: PaintingLine, finding: Finding | None) -> str:
    """The same, and where it stood at the end of the period, if that is a third place."""
    words, now = whereabouts(line, finding), line.now or line.where
    then = finding.place if finding is not None else ""
    return words if line.where in (now, then) else f"{words}; at the end of the week: {line.where}"


def begun_and_ended(finding: Finding, zone: str, hour: bool = True) -> tuple[str, str]:
    """Since when and that it ended, "" where it is not known or goes on: "since Wed 9 Sep 05:00", "ended …".

    The beginning with its year, where the end lies in another; `hour`: of the beginning.
    """
    over = f"ended {ended(finding, zone)}" if finding.ended is not None else ""
    if finding.since is None:
        return "", over
    local, end = finding.since.tz_convert(zone), finding.ended or finding.until or finding.since
    year = "" if local.year == end.tz_convert(zone).year else f" {local.year}"
    return f"since {f'{day(local)}{year} {local:%H:%M}' if hour else f'{local.day} {local:%b}{year}'}", over


def lasting(finding: Finding, line: PaintingLine, zone: str, hour: bool = True) -> str:
    """Since when, and still so or ended: "since Wed 9 Sep 05:00, still so Sun 1 Nov 23:00"; "" where neither is known.

    Still so is told by the last hour over its limit, and never past the last reading. `hour`: of its beginning too.
    """
    since, over = begun_and_ended(finding, zone, hour)
    if not over and finding.until is not None:
        over = f"still so {stamp(min(finding.until, line.read_until or finding.until), zone)}"
    return ", ".join(filter(None, (since, over)))


def then_and_now(finding: Finding, zone: str) -> str:
    """Where it was in the hours judged and where it is now, since when, and that it ended where it has."""
    now = f"now {finding.now}" if finding.now and finding.now != finding.place else ""
    return "; ".join(filter(None, (finding.place, now, *begun_and_ended(finding, zone))))


def ended(finding: Finding, zone: str) -> str:
    """When it ended, and by what: "Sat 10 Oct 20:00 (moved)"; "" where it goes on."""
    if finding.ended is None:
        return ""
    by = BY.get(finding.ended_by, "air") if finding.ended_by is not None else "air"
    return f"{stamp(finding.ended, zone)} ({by})"


def time_line(line: PaintingLine, finding: Finding, review: Review) -> str:
    """Since when, still so or ended, its worst moment, what it is against the review before, and who looked last."""
    zone = review.period.zone
    over = over_words(finding, line.painting, zone)
    course = begun_and_ended(finding, zone)[0] if over else lasting(finding, line, zone)
    worst = f"worst {stamp(finding.worst_at, zone)}" if finding.worst_at is not None else ""
    parts = (course, worst, state(finding), own_look(line, review.made_at, zone))
    return "; ".join(part for part in parts if part) + (f". {over}" if over else "")


def story(line: PaintingLine, finding: Finding, zone: str) -> str:
    """Of one finding: since when, still so or ended, where, if it is elsewhere now, and why it asks for nobody."""
    elsewhere = f"there: {finding.place}" if finding.place and finding.place != (line.now or line.where) else ""
    parts = (lasting(finding, line, zone), state(finding), elsewhere, finding.cause, finding.standing)
    return "; ".join(part for part in parts if part)


def state(finding: Finding) -> str:
    """New, worse, the same or eased; what is over says so by its day."""
    return "" if finding.state in (None, State.OVER) else finding.state.value


def changed(line: PaintingLine) -> str:
    """The painting against the review before."""
    return "ended" if line.change == State.OVER else line.change


def own_look(line: PaintingLine, before: pd.Timestamp, zone: str) -> str:
    """The last look of one's own, in a few words."""
    seen = last_own_look(line.painting, before)
    if seen is None:
        return "no own look"
    on = seen.on.tz_convert(zone)
    year = "" if on.year == before.tz_convert(zone).year else f" {on.year}"
    return f"own look {day(on)}{year}: {seen.sign}"


def because(finding: Finding) -> str:
    """What of which layer, its value with ±, and the limit with whose it is; in words where it has no value."""
    if np.isnan(finding.value) or np.isnan(finding.limit):
        return first_sentence(finding.sentence)
    limit = f"{round(finding.limit, 2):g}".replace("-", "−")
    return f"{finding.mechanism}, {finding.layer}: {amount(finding)}, limit {limit} ({trust(finding)})"
