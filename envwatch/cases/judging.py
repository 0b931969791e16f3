"""Judging each build-up once for all paintings that stood in the same air at the same times.

What a hazard sees of a painting is its build-up, what was done to it and what was observed; who owns it, what it is
called and what it is worth makes no difference, and two paintings that are alike in all the rest share one verdict.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import repeat
from typing import TypeVar

import numpy as np
import pandas as pd

from envwatch import verdict
from envwatch.archive import Studio
from envwatch.archive.climates.exposure import record_begin
from envwatch.climate.exposure import Exposure
from envwatch.core.findings import Verdict
from envwatch.core.painting import CareStatus, Painting
from envwatch.core.period import Period
from envwatch.figures.materials import digest
from envwatch.figures.review import BARE_DAY_COUNTS_DAYS

ROWS = 200  # what a kept verdict costs in memory, in readings
SHARED_FROM, MOST, SHARE = 500, 8, 100  # paintings from which processes share the work, how many, and paintings a turn
Made = TypeVar("Made")


def exposures(
    studio: Studio, painting: Painting, span: Period, reviewed: pd.Timestamp | None = None,
    read_until: pd.Timestamp | None = None,
) -> tuple[Exposure, ...]:  # fmt: skip
    """A painting's air over a period and its history; a bare day of a move long before it is given to the place left.

    Such a day moves no window that the period sees: only the mould index and what the canvas has known, by a hair.
    `reviewed`: until when its air had been read when the week before was reviewed. `read_until`: readings from then on
    are left out.
    """
    since = span.start - pd.Timedelta(days=float(BARE_DAY_COUNTS_DAYS))
    ways = studio.exposures(
        painting, record_begin(studio, painting, span.start), span.end, since, span.is_week, reviewed
    )
    return ways if read_until is None else tuple(_read_to(way, read_until) for way in ways)


def _read_to(way: Exposure, until: pd.Timestamp) -> Exposure:
    points = {point: air.rows(np.asarray(air.time < until), air.start, air.end) for point, air in way.points.items()}
    return replace(way, points=points)


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

    def make() -> Verdict:
        return verdict.judge_either(exposures, painting, start, studio.materials())

    made = alike(studio, "verdict", painting, exposures, start, make)
    if made.painting_id == painting.id:
        return made
    findings = tuple(replace(finding, painting_id=painting.id) for finding in made.findings)
    return replace(made, findings=findings, painting_id=painting.id)


def alike(
    studio: Studio, what: str, painting: Painting, exposures: Sequence[Exposure], start: pd.Timestamp,
    make: Callable[[], Made],
) -> Made:  # fmt: skip
    """What is made of a build-up in its air by the studio's materials, once for all paintings that are alike.

    By these alone: what is corrected, moved, answered or overruled is made anew, and what it leaves alone is not.
    """

    air = tuple(exposure.digest for exposure in exposures)
    key = (what, air, build_up(painting), start, digest(studio.materials()))
    return studio.memory.get(key, make, lambda _made: ROWS)


def verdicts(studio: Studio, span: Period, processes: int | None = None) -> dict[str, Verdict]:
    """Every painting's verdict over a period, by its id. `processes`: as in `each`."""
    return each(studio, list(studio.paintings().values()), span, _verdict, processes=processes)


def _verdict(studio: Studio, painting: Painting, span: Period) -> Verdict:
    return judged(studio, painting, exposures(studio, painting, span), span.start)


def each(
    studio: Studio,
    paintings: Sequence[Painting],
    span: Period,
    work: Callable[[Studio, Painting, Period], Made],
    progress: Callable[[int, int, str], None] | None = None,
    processes: int | None = None,
) -> dict[str, Made]:
    """What `work` makes of each painting, by its id; those that stand in one place come one after the other.

    Parameters
    ----------
    work : a function of a module, which writes nothing.
    progress : called with (done, of, what).
    processes : how many Pythons share the work, each of which opens the folder by itself; by default one, and for a
        large collection as many as the machine has processors, up to `MOST`.
    """
    order = sorted(paintings, key=_whereabouts)
    if processes is None:
        processes = min(os.cpu_count() or 1, MOST) if len(order) >= SHARED_FROM else 1
    made = _side_by_side(studio, order, span, work, progress, processes) if processes > 1 else {}
    for painting in order:
        if painting.id not in made:
            if progress:
                progress(len(made), len(order), painting.title)
            made[painting.id] = work(studio, painting, span)
    return made


def _side_by_side(
    studio: Studio,
    order: Sequence[Painting],
    span: Period,
    work: Callable[[Studio, Painting, Period], Made],
    progress: Callable[[int, int, str], None] | None,
    processes: int,
) -> dict[str, Made]:
    """What several processes make; as much as they did where the system lets none be started, or ends one."""
    from concurrent.futures import ProcessPoolExecutor
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    made: dict[str, Made] = {}
    ids = [painting.id for painting in order]
    shares = [ids[at : at + SHARE] for at in range(0, len(ids), SHARE)]
    with suppress(BrokenProcessPool), ProcessPoolExecutor(processes, get_context("spawn"), _open, (studio,)) as pool:
        for part in pool.map(_share, repeat(work), shares, repeat(span)):
            made |= part
            if progress:
                progress(len(made), len(ids), "paintings")
    return made


def _whereabouts(painting: Painting) -> tuple[str, int, str]:
    last = painting.stays[-1] if painting.stays else None
    return (last.place_id, last.start.value, painting.id) if last is not None else ("", 0, painting.id)


_opened: list[Studio] = []  # in a process that shares the work: the folder, for as long as the process lives


def _open(studio: Studio) -> None:
    _opened.append(studio)


def _share(work: Callable[[Studio, Painting, Period], Made], ids: Sequence[str], span: Period) -> dict[str, Made]:
    """What one process does at a time."""
    studio = _opened[0]
    return {id: work(studio, studio.paintings()[id], span) for id in ids}
