"""The server before the pages: who is not in yet sends little, waits for a turn and cannot fill the house.

A stranger's request may be small only, and must come whole within seconds; of many that do not, the one that has been
at it longest goes when another comes. A passphrase is looked at when its turn has come (`pace`): until then it waits
outside, and holds up nobody who is inside.
"""

from __future__ import annotations

import copy
import socket
import threading
import time
from typing import Any

from flask import Flask
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.server import TcpWSGIServer
from waitress.trigger import trigger

from dashboards import guard, memory

THREADS = 8
MOST_OPEN = 500  # connections; select() counts to 1,024
STRANGERS = 80  # that are still saying what they want
STRANGER_S = 30.0  # in which they must have said it
STRANGER_BYTES = 4096  # of a body: a passphrase, and room


class Request(HTTPRequestParser):
    """A request on its way in; once its head is there, its body may be as big as its sender is known."""

    def __init__(self, adj: Adjustments, server: PageServer) -> None:
        super().__init__(adj)
        self.server, self.known = server, False

    def parse_header(self, header_plus: bytes) -> None:
        """Read the head, and see whether its cookie is one of ours."""
        super().parse_header(header_plus)
        self.known = guard.is_known(self.server.app, self.headers.get("COOKIE", ""))
        if not self.known:
            self.adj = self.server.small


class PageChannel(HTTPChannel):
    """One connection."""

    def __init__(self, server: PageServer, *rest: Any, **named: Any) -> None:
        self.known, self.since = False, time.monotonic()
        super().__init__(server, *rest, **named)

    def parser_class(self, adj: Adjustments) -> Request:
        """A request that knows its server."""
        return Request(adj, self.server)

    def received(self, data: bytes) -> bool:
        """Take in what came; a whole request begins the time anew."""
        taken = super().received(data)
        if self.request is not None and self.request.headers_finished:
            self.known = self.request.known
        if self.requests:
            self.known, self.since = getattr(self.requests[-1], "known", False), time.monotonic()
        return taken

    @property
    def is_strange(self) -> bool:
        """Whether it is nobody's we know, and has not said yet what it wants."""
        return not (self.known or self.requests or self.will_close)

    def service(self) -> None:
        """Answer; a passphrase only when its turn has come."""
        wait = self._wait()
        if not wait:
            super().service()
            return
        later = threading.Timer(wait, self.server.add_task, [self])
        later.daemon = True
        later.start()

    def _wait(self) -> float:
        """How long the request that is next must be held back [s]."""
        request, door = self.requests[0], self.server.door
        if request.error or (request.command, request.path) != ("POST", guard.ENTER) or not door.passphrase_hash:
            return 0.0
        if request.headers.get(guard.HELD) == door.word:
            return 0.0
        who = guard.who(self.server.app, request.headers.get("COOKIE", ""), self._address(request))
        wait = door.pace.turn(who, time.monotonic(), guard.MOST_WAIT_S)
        if wait > guard.MOST_WAIT_S:
            return 0.0  # and it is told so: it bears no word that it was held back
        request.headers[guard.HELD] = door.word
        return wait

    def _address(self, request: HTTPRequestParser) -> str:
        """Whose it is: the connection's address, or what the proxy that was named says of it."""
        came_from = self.addr[0]
        said = request.headers.get("X_FORWARDED_FOR", "") if came_from == self.server.adj.trusted_proxy else ""
        return said.rpartition(",")[2].strip() or came_from


class Wake(trigger):
    """What wakes the server's loop. Closed it writes nowhere: its pipe's number may be that of the register by then."""

    def __init__(self, sockets: dict[int, Any]) -> None:
        self._one, self._gone = threading.Lock(), False
        super().__init__(sockets)

    def _close(self) -> None:
        with self._one:
            self._gone = True
            super()._close()

    def _physical_pull(self) -> None:
        with self._one:
            if not self._gone:
                super()._physical_pull()


class PageServer(TcpWSGIServer):
    """Serves the pages of one app, set up before it listens: of two who come first at once one may come amid it.

    Parameters
    ----------
    app : the pages' Flask app, with its `Door` in the configuration.
    host, port : what to listen on; port 0 takes a free one.
    proxy : address of the proxy in front, whose words about the visitor are believed and which alone is answered.

    Raises
    ------
    OSError : the port cannot be listened on.
    """

    channel_class, closed = PageChannel, False

    def __init__(self, app: Flask, host: str, port: int, proxy: str = "") -> None:
        memory.share_heaps()
        self.app, self.door = app, guard.door_of(app)
        app.test_client().get(guard.ENTER, base_url="http://127.0.0.1")
        trusted = {"trusted_proxy": proxy, "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"}}
        adj = Adjustments(host=host, port=port, threads=THREADS, channel_timeout=120, cleanup_interval=5,
                          connection_limit=MOST_OPEN, max_request_body_size=guard.MOST_BYTES, ident=None,
                          clear_untrusted_proxy_headers=True, **(trusted if proxy else {}))  # fmt: skip
        self.small = copy.copy(adj)
        self.small.max_request_body_size = STRANGER_BYTES
        super().__init__(app, adj=adj)
        self.trigger.close()
        self.trigger = Wake(self._map)

    def run(self) -> None:
        """Serve until it is closed, from here or by another thread."""
        try:
            super().run()
        except OSError:
            if not self.closed:
                raise

    def close(self) -> None:
        """Stop serving; what is being answered goes on to its end."""
        self.closed = True
        super().close()

    def accept(self) -> tuple[socket.socket, Any] | None:
        """The next connection; where a proxy was named, of that one alone. Room is made for it."""
        came = super().accept()
        if came is None:
            return None
        if self.adj.trusted_proxy and came[1][0] != self.adj.trusted_proxy:
            came[0].close()
            return None
        strange = [channel for channel in self.active_channels.values() if channel.is_strange]
        for channel in sorted(strange, key=lambda one: one.since)[: max(0, len(strange) - STRANGERS + 1)]:
            channel.will_close = True
        return came

    def maintenance(self, now: float) -> None:
        """Close what has been idle, and strangers who have not said what they want."""
        super().maintenance(now)
        for channel in self.active_channels.values():
            if channel.is_strange and time.monotonic() - channel.since > STRANGER_S:
                channel.will_close = True
