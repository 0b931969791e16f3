"""What all hazards share: from a value to a level, what missing data do to it, and whether its air has ended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from envwatch.climate.series import OF_RH, OF_TEMP, Climate
from envwatch.core.arrays import Mask
from envwatch.core.findings import Certainty, Finding, Level, judgement
from envwatch.figures import Confidence
from envwatch.figures.coverage import CLEAR_NEEDS, ENDED_NEEDS_H, SPELL_BRIDGES_H

HOUR = pd.Timedelta(hours=1)


def grade(value: float, watch: float, act: float | None = None, urgent: float | None = None, *, sign: int = 1) -> Level:
    """Level of a value that is worse the higher it is, or with `sign` -1 the lower. NaN is UNKNOWN, never clear.

    >>> grade(42, 35, 40, 45), grade(float("nan"), 35), grade(24, 35, 25, sign=-1)
    (<Level.ACT: 3>, <Level.UNKNOWN: 1>, <Level.ACT: 3>)
    """
    if np.isnan(value):
        return Level.UNKNOWN
    level = Level.CLEAR
    for limit, reached in ((watch, Level.WATCH), (act, Level.ACT), (urgent, Level.URGENT)):
        if limit is not None and not np.isnan(limit) and sign * value >= sign * limit:
            level = reached
    return level


def certainty(value: float, uncertainty: float, *limits: float | None) -> Certainty:
    """Whether a value can be told from the nearest limit at its uncertainty. Never changes the level."""
    distances = [abs(value - limit) for limit in limits if limit is not None and not np.isnan(limit)]
    if not distances or np.isnan(value) or np.isnan(uncertainty):
        return Certainty.CANNOT_TELL
    return Certainty.CERTAIN if min(distances) > uncertainty else Certainty.CANNOT_TELL


def with_limit_origin(finding: Finding) -> Finding:
    """A raised finding whose limit is our judgement says so in its first sentence, whichever hazard it comes from.

    One whose limit a studio has overruled says that instead, by itself.

    >>> held = Finding("mould", "damp hours", "film", "room", Level.ACT, "9 days damp. It goes on.", limit=168.0)
    >>> with_limit_origin(held).sentence
    '9 days damp (limit: our judgement). It goes on.'
    """
    if finding.level < Level.WATCH or not judgement(finding):
        return finding
    head, stop, rest = finding.sentence.partition(". ")
    head, said = head.rstrip("."), f"limit: {Confidence.OUR_JUDGEMENT.value}"
    head += f"; {said}" if head.endswith(")") else f" ({said})"
    return replace(finding, sentence=f"{head}.{' ' if stop else ''}{rest}")


def with_open_level(finding: Finding) -> Finding:
    """A finding that may be of a higher level by what was not read cannot be told, and its sentence says so."""
    most = finding.level_high
    if most is None or most <= max(finding.level, Level.UNKNOWN):
        return finding
    up_to = "" if np.isnan(finding.value_high) else f"{finding.value_high:.1f} {finding.unit}, which is "
    said = f"{finding.sentence.removesuffix('.')}; with what was not read it may be {up_to}{most.word}."
    return replace(finding, sentence=said, certainty=Certainty.CANNOT_TELL)


def clear_only_if_seen(finding: Finding, coverage: float, reason: str) -> Finding:
    """A clear finding from too little of its period becomes UNKNOWN with the reason; others keep their level.

    Parameters
    ----------
    coverage : share of the judged period that was read, 0 to 1; NaN counts as nothing read.
    reason : one plain sentence, used in place of the finding's own when it turns unknown.
    """
    finding = replace(finding, coverage=coverage)
    if finding.level is Level.CLEAR and not coverage >= CLEAR_NEEDS:
        return replace(finding, level=Level.UNKNOWN, sentence=reason, certainty=Certainty.CANNOT_TELL)
    return finding


def with_bounds(finding: Finding, air: Climate | None) -> Finding:
    """A raised finding whose value rests on readings that are bounds (">95") says that it is at least that, or at most.

    air : the climate at its point; None where there is none. Bounds count from when the finding began, at least a day
    before its worst moment, up to that.
    """
    when, of = finding.worst_at, {"°C": OF_TEMP, "% RH": OF_RH, "K": OF_TEMP | OF_RH}
    unit = next((unit for unit in of if finding.unit.startswith(unit)), "")
    if finding.level < Level.WATCH or when is None or air is None or air.bounded is None or not unit:
        return finding
    begin = min(finding.since or when, when - 24 * HOUR)
    rows = slice(*air.time.searchsorted([begin, when + HOUR]))
    if not (air.bounded[rows] & of[unit]).any():
        return finding
    word = "at least" if finding.value >= finding.limit else "at most"
    head, stop, rest = finding.sentence.partition(". ")
    head = f"{head.rstrip('.')}; {word} that, for readings there are bounds in the file, such as >95"
    return replace(finding, bound=word, sentence=f"{head}.{' ' if stop else ''}{rest}")


def with_ending(finding: Finding, time: pd.DatetimeIndex, over: Mask, read: Mask, window_h: float = 1) -> Finding:
    """A raised finding with the end of its last hour over a limit, and when it ended; any other as it is.

    Parameters
    ----------
    time : (n,) whole hours of the record, those read after the period too.
    over, read : (n,) hours over the limit of its level, of an urgent one that of act; hours in which that can be told.
    window_h : hours from which each is formed: a mean or a range of a day holds the day that has to pass. [h]

    Nothing read since, or less than a day within the limit, is no end: `Finding.ended` stays None.
    """
    rows = np.flatnonzero(over)
    if finding.level < Level.WATCH or not len(rows):
        return finding
    last = int(rows[-1])
    until = time[last] + HOUR
    needs = max(ENDED_NEEDS_H - window_h, float(SPELL_BRIDGES_H))
    ended = until if int(read[last + 1 :].sum()) >= needs else None
    return replace(finding, until=until, ended=ended)
