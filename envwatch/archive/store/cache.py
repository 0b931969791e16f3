"""Things worked out once and kept in memory, the longest unused leaving first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any


class LruCache:
    """What was worked out, by key, up to a total cost.

    >>> kept = LruCache(10)
    >>> [kept.get(n, lambda n=n: n, lambda value: 4) for n in (1, 2, 1, 3)], list(kept)
    ([1, 2, 1, 3], [1, 3])
    """

    def __init__(self, most: int) -> None:
        self.most, self.cost = most, 0
        self._held: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._lock = threading.Lock()

    def __iter__(self):
        return iter(tuple(self._held))

    def get(self, key: Hashable, make: Callable[[], Any], cost: Callable[[Any], int] = lambda _value: 0) -> Any:
        """The value under a key, made if it is not there. Two threads may make the same one; the first is kept."""
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return self._held[key][0]
        value = make()
        with self._lock:
            if key in self._held:
                return self._held[key][0]
            self._held[key] = value, cost(value)
            self.cost += self._held[key][1]
            while self.cost > self.most and len(self._held) > 1:
                self.cost -= self._held.popitem(last=False)[1][1]
        return value


@dataclass(frozen=True)
class Scoped:
    """A memory that several share, seen by one of them: its keys stand behind a scope, which says what they rest on."""

    memory: LruCache
    scope: Hashable

    def get(self, key: Hashable, make: Callable[[], Any], cost: Callable[[Any], int] = lambda _value: 0) -> Any:
        """As `LruCache.get`."""
        return self.memory.get((self.scope, key), make, cost)
