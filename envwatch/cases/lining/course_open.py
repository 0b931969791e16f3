"""Whether a painting still is on its course back from damp: then its canvas is damper than where it goes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio, reviews
from envwatch.archive.climates.exposure import record_begin
from envwatch.cases import judging
from envwatch.cases.lining.checks import IN_ORDER, NOT_KNOWN, NOT_YET, Check
from envwatch.climate import drying_back
from envwatch.climate.drying_back import Dampness, DryingCourse, Progress
from envwatch.climate.exposure import Exposure
from envwatch.core.painting import Painting
from envwatch.core.text import date
from envwatch.figures import around_lining as fig

WHAT, NONE = "drying back", "It is on no course back from damp."
UNREAD = f"Nothing of its canvas is known for the last {fig.ASSESSED_OVER_D:g} days, so not whether it is to be dried."


def dried_back(studio: Studio, painting: Painting, until: pd.Timestamp, on: pd.Timestamp) -> Check:
    """The course that the last review kept, held to what was read since; else a new one where its air asks for it.

    Parameters
    ----------
    until : up to when readings count. on : when it leaves.

    Returns
    -------
    Not yet, while the course is open; not known, where by its dates it is over before the painting leaves, or where
    there is none and no day of the canvas's last seven is known.
    """
    now = _progress(studio, painting, until)
    if now.course is None:
        return Check(WHAT, IN_ORDER if now.sentence else NOT_KNOWN, now.sentence or UNREAD)
    last = now.course.steps[-1]
    told = f"Its course back from damp is open until {date(last.by, studio.zone)}: {now.sentence}"
    if last.by > on:
        return Check(WHAT, NOT_YET, told)
    return Check(WHAT, NOT_KNOWN, f"{told} That is before it leaves; ask again then.")


def _progress(studio: Studio, painting: Painting, until: pd.Timestamp) -> Progress:
    """Where it stands; without a course what is said instead, "" where that is not known."""
    since = until - pd.Timedelta(days=float(fig.ASSESSED_OVER_D))
    course = _kept(studio, painting, until)
    begin = record_begin(studio, painting, since if course is None else min(since, course.start))
    ways = studio.exposures(painting, begin, until)
    damp = _damp(studio, painting, ways, since)
    days = [verdict.canvas_days(way, painting, since, studio.zone) for way in ways]
    if course is None and damp is None:
        known = all(np.isfinite(percent[ends > since]).any() for ends, percent in days)
        return Progress("", NONE if known else "", None)
    if course is None:
        course = drying_back.begin(damp, until, studio.zone)
    if not any(((ends > course.read_to) & (ends <= until)).any() for ends, _ in days):
        return Progress("", course.sentence, course)
    held = [drying_back.held_to(course, *each, until) for each in days]
    return drying_back.go_on(course, held, damp, until, until)


def _kept(studio: Studio, painting: Painting, until: pd.Timestamp) -> DryingCourse | None:
    before = reviews.previous_review(studio, until)
    record = before["record"].get("drying", {}).get(painting.id) if before else None
    return None if record is None else drying_back.kept(record)


def _damp(
    studio: Studio, painting: Painting, ways: Sequence[Exposure], since: pd.Timestamp
) -> Dampness | None:  # fmt: skip
    """How damp its canvas is, where its last days ask to dry it; None where they do not, or nothing is known."""
    if not any(map(verdict.asks_to_dry, judging.judged(studio, painting, ways, since).findings)):
        return None
    known = (verdict.dampness(way, painting, since, studio.zone, studio.materials()) for way in ways)
    return max((one for one in known if one is not None), key=lambda one: one.rh_percent, default=None)


__all__ = ["dried_back"]
