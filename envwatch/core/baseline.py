"""The signs that a painting came with and went out with, and whether a sign is new beside them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from envwatch.core.painting import HANDOVER, NO_WORK, Observation, Painting
from envwatch.core.text import date, fold
from envwatch.core.words import Word

ABSENT = ("no", "none", "nothing")  # a sign that begins so is of something that was not there
UNLESS = {"but", "except", "only", "apart", "save"}  # with one of these it is of something after all


class Novelty(Word):
    """What a look adds to what was noted before."""

    NEW = "new"  # nowhere before
    BACK = "back"  # only before the last work, that should have done away with it
    KNOWN = "known"
    NOTHING = "nothing"  # nothing new, or the absence of something


@dataclass(frozen=True)
class Sign:
    """A look beside the earlier ones. `before`: where the same sign was first noted."""

    seen: Observation
    novelty: Novelty
    before: Observation | None = None
    baseline: bool = False  # of those that the painting came with or went out with

    @property
    def new(self) -> bool:
        """Whether it was not there before, or had gone."""
        return self.novelty in (Novelty.NEW, Novelty.BACK)

    def words(self, zone: str) -> str:
        """What it adds: "baseline", "new: not noted before"; empty where that is nothing."""
        if self.novelty == Novelty.BACK:
            assert self.before is not None
            return f"back: noted {date(self.before.on, zone)}, before the last work"
        if self.baseline:
            return "baseline"
        return "new: not noted before" if self.novelty == Novelty.NEW else ""


def baseline(painting: Painting, zone: str) -> tuple[Observation, ...]:
    """Signs noted on the day of the first stay or before the first work, and on the day of a handover.

    `zone` says when a day begins. Looks that found nothing are none of it. Without work on record the day of the
    first stay stands alone; without a stay too there is no arrival.
    """
    first = min(_work(painting), default=None)
    days = {_day(stay.start, zone) for stay in painting.stays[:1]}
    days |= {_day(done.on, zone) for done in painting.treatments if done.kind == HANDOVER}
    return tuple(
        seen
        for seen in painting.observations
        if not _absent(seen) and (_day(seen.on, zone) in days or (first is not None and seen.on < first))
    )


def signs(painting: Painting, zone: str) -> tuple[Sign, ...]:
    """Each look of a painting, in their order, beside those before it. See `sign` and `baseline`."""
    first = baseline(painting, zone)
    return tuple(replace(sign(painting, seen), baseline=seen in first) for seen in painting.observations)


def sign(painting: Painting, seen: Observation) -> Sign:
    """Whether a sign is new: neither in the baseline nor in an earlier look at the same spot.

    Every look before it counts, those at arrival and at handover among them, of whatever kind. Free text is compared by
    its words, without their order, case and signs between them: the words of the sign must be the same, and those of
    the spot. "bulge" and "bulge, larger" are two; so are other words for one thing, one or several of it, another
    language, and a spot that one of the two looks does not name: when in doubt it is new. Text that begins with no,
    none or nothing is the absence of a sign, and so is one that denies a finding. What was noted only before the last
    work (lining, consolidation, …; not a trial, a call, a handover or a correction), or on its day, is "back".
    """
    if _absent(seen):
        return Sign(seen, Novelty.NOTHING)
    same = [one for one in painting.observations if not _absent(one) and _key(one) == _key(seen)]
    earlier = [one for one in same if one.on < seen.on or (one.on == seen.on and _stands_before(painting, one, seen))]
    if not earlier:
        return Sign(seen, Novelty.NEW)
    work = max((on for on in _work(painting) if on <= seen.on), default=None)
    since = [one for one in earlier if work is None or one.on > work]
    return Sign(seen, Novelty.KNOWN, since[0]) if since else Sign(seen, Novelty.BACK, earlier[-1])


def _stands_before(painting: Painting, one: Observation, other: Observation) -> bool:
    there = [id(seen) for seen in painting.observations]
    return id(other) not in there or there.index(id(one)) < there.index(id(other))


def _absent(seen: Observation) -> bool:
    words = fold(seen.sign).split()
    none = not words or (words[0] in ABSENT and not UNLESS & set(words))
    return seen.well or seen.confirms is False or none


def _key(seen: Observation) -> tuple[frozenset[str], frozenset[str]]:
    return frozenset(fold(seen.sign).split()), frozenset(fold(seen.where).split())


def _work(painting: Painting) -> list[pd.Timestamp]:
    return [done.on for done in painting.treatments if done.kind not in NO_WORK]


def _day(at: pd.Timestamp, zone: str) -> pd.Timestamp:
    return at.tz_convert(zone).normalize()
