"""Judging each build-up once for all paintings that stood in the same air at the same times.

What a hazard sees of a painting is its build-up, what was done to it and what was observed; who owns it, what it is
called and what it is worth makes no difference, and two paintings that are alike in all the rest share one verdict.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import pandas as pd

from envwatch import materials, verdict
from envwatch.archive import Studio
from envwatch.figures.review import BARE_DAY_COUNTS_DAYS, HISTORY_DAYS
from envwatch.period import Period
from envwatch.records import CareStatus, Exposure, Painting, Verdict

ROWS = 200  # what a kept verdict costs in memory, in readings


def begin(painting: Painting, span: Period) -> pd.Timestamp:
    """From when on a painting's air is looked at, so that its layers carry their history into the period."""
    first = min((stay.start for stay in painting.stays), default=span.start)
    return max(span.start - pd.Timedelta(days=float(HISTORY_DAYS)), min(first, span.start))


def exposures(studio: Studio, painting: Painting, span: Period) -> tuple[Exposure, ...]:
    """A painting's air over a period and its history; a bare day of a move long before it is given to the place left.

    Such a day, one of four hundred, moves no window that the period sees: only what the canvas has known, by a hair.
    """
    since = span.start - pd.Timedelta(days=float(BARE_DAY_COUNTS_DAYS))
    return studio.exposures(painting, begin(painting, span), span.end, since)


def build_up(painting: Painting) -> Painting:
    """The painting without what no hazard looks at: paintings with the same build-up are judged alike in like air.

    >>> one, other = Painting("a", "Moor", owner="A. Owner"), Painting("b", "Harbour", value_band="B")
    >>> build_up(one) == build_up(other), build_up(one) == build_up(replace(other, glazed=True))
    (True, False)
    """
    treatments = tuple(replace(t, id="", batch="", note="", limits_told="") for t in painting.treatments)
    return replace(
        painting, id="", title="", maker="", owner="", value_band="", stays=(), care=CareStatus.IN_STORE,
        care_until=None, treatments=treatments,
    )  # fmt: skip


def judged(studio: Studio, painting: Painting, exposures: Sequence[Exposure], start: pd.Timestamp) -> Verdict:
    """`verdict.judge_either` with the studio's materials, worked out once for all paintings that are alike."""
    in_force = studio.materials()
    air = tuple((e.stints, e.start, e.end, tuple(e.points)) for e in exposures)
    key = ("verdict", air, build_up(painting), start, id(in_force))

    def make() -> Verdict:
        with materials.using(in_force):
            return verdict.judge_either(exposures, painting, start)

    made = studio.state().worked_out.get(key, make, lambda _made: ROWS)
    if made.painting_id == painting.id:
        return made
    findings = tuple(replace(finding, painting_id=painting.id) for finding in made.findings)
    return replace(made, findings=findings, painting_id=painting.id)


def verdicts(studio: Studio, span: Period, processes: int = 1) -> dict[str, Verdict]:
    """Every painting's verdict over a period, by its id; those that stand in one place are judged one after the other.

    Parameters
    ----------
    processes : how many Pythons share the work. Each opens the folder by itself; none writes to it.
    """
    order = sorted(studio.paintings().values(), key=_whereabouts)
    if processes < 2:
        return _verdicts(studio, order, span)
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    ids = [painting.id for painting in order]
    shares = [ids[n * len(ids) // processes : (n + 1) * len(ids) // processes] for n in range(processes)]
    with ProcessPoolExecutor(processes, get_context("spawn")) as pool:
        parts = pool.map(_share, [studio] * processes, shares, [span] * processes)
        return {id: found for part in parts for id, found in part.items()}


def _whereabouts(painting: Painting) -> tuple[str, int, str]:
    last = painting.stays[-1] if painting.stays else None
    return (last.place_id, last.start.value, painting.id) if last is not None else ("", 0, painting.id)


def _share(studio: Studio, ids: Sequence[str], span: Period) -> dict[str, Verdict]:
    """What one process does."""
    with studio:
        return _verdicts(studio, [studio.paintings()[id] for id in ids], span)


def _verdicts(studio: Studio, paintings: Iterable[Painting], span: Period) -> dict[str, Verdict]:
    return {
        painting.id: judged(studio, painting, exposures(studio, painting, span), span.start) for painting in paintings
    }
