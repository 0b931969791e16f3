"""The memory of the page server: what it may keep, and what is freed given back to the system.

Pages are worked out by several threads in turn. The C library keeps what each of them has freed for that thread alone,
so that a server which has answered for an hour would hold several times what it uses. Where that library is glibc it is
told to share and to give back; elsewhere nothing is done, and the system's own ways hold.
"""

from __future__ import annotations

import contextlib
import ctypes
import threading
import time

POOLS = 2  # heaps of freed memory, for all threads together
MALLOC_ARENA_MAX = -8  # glibc's malloc.h
GIVE_BACK_S = 10.0


class Freed:
    """Gives freed memory back to the system, at most every few seconds. `now`: a clock that only goes on [s]."""

    def __init__(self) -> None:
        self._last, self._lock = -GIVE_BACK_S, threading.Lock()

    def give_back(self, *_answer: object, now: float | None = None) -> bool:
        """Whether it was done now."""
        at = time.monotonic() if now is None else now
        if at - self._last < GIVE_BACK_S or not self._lock.acquire(blocking=False):
            return False
        try:
            self._last = at
            return _call("malloc_trim", 0)
        finally:
            self._lock.release()


def share_heaps() -> bool:
    """Let all threads share a few heaps; to be called before they begin. Whether the C library can."""
    return _call("mallopt", MALLOC_ARENA_MAX, POOLS)


def _call(name: str, *values: int) -> bool:
    with contextlib.suppress(AttributeError, OSError, TypeError):  # another system, or another C library
        return bool(getattr(ctypes.CDLL(None), name)(*values))
    return False
