"""How fast a passphrase may be tried: wrong tries slow the next ones down, by who tries and in sum."""

from __future__ import annotations

import ipaddress
import math
import threading
from collections import OrderedDict, deque
from dataclasses import dataclass, field

HOUR_S = 3600.0  # for so long a wrong try counts
FREE, LONGEST_PAUSE_S = 4, 40.0  # tries of one visitor without a pause; the longest pause after a further one
FREE_ALL = 30  # wrong tries of all together, after which each waits its turn
TURN_S, AGAIN_S = 1.0, 4.0  # then: between two who are new, and between two who were wrong before
MOST_VISITORS = 5000  # that are remembered


@dataclass
class _Visitor:
    tries: deque[float] = field(default_factory=deque)
    next_at: float = -math.inf


@dataclass
class TryPace:
    """Whose turn it is when. A try counts as wrong from when it comes until it proves right: so many at once count.

    Nobody is refused for what others tried: each try has its turn. Who is `known` (was in before) waits for none but
    his own wrong tries.
    """

    visitors: OrderedDict[str, _Visitor] = field(default_factory=OrderedDict)
    all: deque[float] = field(default_factory=deque)
    turns: dict[bool, float] = field(
        default_factory=dict
    )  # when the next may come: of who was wrong before, of who was not
    lock: threading.Lock = field(default_factory=threading.Lock)

    def turn(self, who: str, now: float, most_s: float = 0.0) -> float:
        """How long a try must wait [s]; it is counted, and its turn kept, unless that is longer than `most_s`."""
        with self.lock:
            visitor = self._visitor(who, now)
            at, again, waits = max(now, visitor.next_at), bool(visitor.tries), self._in_turn(who, now)
            if waits:
                at = max(at, self.turns.get(again, now))
            if at - now > most_s:
                return at - now
            if waits:
                self.turns[again] = at + (AGAIN_S if again else TURN_S)
            visitor.tries.append(now)
            self.all.append(now)
            visitor.next_at = at + pause(len(visitor.tries))
            return at - now

    def was_right(self, who: str, now: float) -> None:
        """Forget the tries of who gave the right one."""
        with self.lock:
            for _ in self._visitor(who, now).tries:
                if self.all:
                    self.all.pop()
            self.visitors.pop(who, None)

    def clear(self) -> None:
        """Forget all."""
        with self.lock:
            self.visitors.clear(), self.all.clear(), self.turns.clear()

    def _visitor(self, who: str, now: float) -> _Visitor:
        visitor = self.visitors.setdefault(who, _Visitor())
        self.visitors.move_to_end(who)
        while visitor.tries and now - visitor.tries[0] > HOUR_S:
            visitor.tries.popleft()
        while len(self.visitors) > MOST_VISITORS:
            self.visitors.popitem(last=False)
        return visitor

    def _in_turn(self, who: str, now: float) -> bool:
        while self.all and now - self.all[0] > HOUR_S:
            self.all.popleft()
        return len(self.all) >= FREE_ALL and not who.startswith(KNOWN)


KNOWN = "known "


def pause(tries: int) -> float:
    """How long who has tried so often in an hour, and was wrong, waits before the next try [s].

    >>> [pause(n) for n in (1, 4, 5, 6, 9, 30)]
    [0.0, 0.0, 2.0, 4.0, 32.0, 40.0]
    """
    return 0.0 if tries <= FREE else min(2.0 ** min(tries - FREE, 10), LONGEST_PAUSE_S)


def network(address: str) -> str:
    """What stands for an address: itself, or the /64 that one visitor has of IPv6 at the least.

    >>> network("10.0.0.7"), network("[2001:db8:1:2:3::9]:443"), network("hidden")
    ('10.0.0.7', '2001:db8:1:2::/64', 'hidden')
    """
    bare = address.strip().strip('"')
    bare = bare[1:].partition("]")[0] if bare.startswith("[") else bare
    bare = bare.partition(":")[0] if bare.count(":") == 1 else bare
    try:
        one = ipaddress.ip_address(bare)
    except ValueError:
        return address[:64]
    mapped = getattr(one, "ipv4_mapped", None)
    if one.version == 4 or mapped:
        return str(mapped or one)
    return str(ipaddress.ip_network((one, 64), strict=False))
