"""What a benchmark times: a first look, as a program meets an air, or a second one at what it still holds in memory."""

from __future__ import annotations

import functools
import sys
import time
from collections.abc import Callable

MEMORY = type(functools.lru_cache(lambda: None))


def forget() -> None:
    """Empty every memory of earlier calls that envwatch's functions hold in this process, tables and words too.

    What a studio object holds goes with the object: open it again.

    >>> from envwatch import air
    >>> _ = air.dew_point(20.0, 50.0)
    >>> forget()
    >>> air._table.cache_info().currsize
    0
    """
    for name, module in list(sys.modules.items()):
        if name.startswith(("envwatch", "dashboards")):
            classes = [held for held in vars(module).values() if isinstance(held, type)]
            for held in [held for owner in (module, *classes) for held in vars(owner).values()]:
                if isinstance(held, MEMORY):
                    held.cache_clear()


def seconds(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Time of one call. [s]"""
    begun = clock()
    work()
    return clock() - begun


def first_and_second(
    work: Callable[[], object],
    times: int = 3,
    clock: Callable[[], float] = time.perf_counter,
    ready: Callable[[], object] = lambda: None,
) -> tuple[float, float]:
    """Best time of a first look, and of the look right after it; `ready` makes the tables of a process before. [s]"""
    pairs = []
    for _ in range(times):
        forget()
        ready()
        pairs.append((seconds(work, clock), seconds(work, clock)))
    first, second = zip(*pairs, strict=True)
    return min(first), min(second)
