"""What stands between the pages and a stranger: host names, cookies, sizes, the passphrase.

On the loopback address nobody is asked for anything, but a page elsewhere that makes this computer's browser call
here is refused: its requests bear another host's name or another origin.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from dash.exceptions import DependencyException
from flask import Flask, Response, abort, redirect, request, session
from werkzeug.security import check_password_hash, generate_password_hash

from dashboards.icon import LINK
from envwatch.present.palette import LIGHT

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_BYTES = 96 * 2**20  # of one request; a heap of logger files, as text, with room
TRIES, WINDOW_S = 5, 300.0  # wrong passphrases in so many seconds, from one address
TRIES_ALL, WINDOW_ALL_S = 100, 3600.0  # and from all addresses together
IDLE_S, LONGEST_S = 12 * 3600.0, 7 * 24 * 3600.0  # after so long unused, and after so long in any case, it asks again
METHODS = ("GET", "HEAD", "POST")
PLAIN_HASH = "scrypt:"


@dataclass
class Door:
    """Who may come in: host names that are ours, and the hash of the passphrase, if one is asked for."""

    hosts: tuple[str, ...] = LOOPBACK
    passphrase_hash: str = ""
    secure: bool = False  # behind TLS: cookies only over it
    tries: dict[str, deque] = field(default_factory=lambda: defaultdict(deque))
    inside: dict[str, tuple[float, float]] = field(default_factory=dict)  # token: came in, was last seen [s]
    lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self, address: str, now: float) -> float:
        """How long an address must wait before it may try a passphrase again. [s]"""
        with self.lock:
            for key, most, window in ((address, TRIES, WINDOW_S), ("", TRIES_ALL, WINDOW_ALL_S)):
                recent = self.tries.get(key, deque())
                while recent and now - recent[0] > window:
                    recent.popleft()
                if len(recent) >= most:
                    return window - (now - recent[0])
        return 0.0

    def fits(self, passphrase: str, address: str, now: float) -> bool:
        """Whether a passphrase is the one; a wrong one is counted."""
        if check_password_hash(self.passphrase_hash, passphrase):
            return True
        with self.lock:
            self.tries[address].append(now)
            self.tries[""].append(now)
        return False

    def let_in(self, now: float) -> str:
        """A token for who gave the passphrase: new each time, so that none can be planted beforehand."""
        token = secrets.token_urlsafe(32)
        with self.lock:
            self.inside = {t: seen for t, seen in self.inside.items() if self._holds(seen, now)}
            self.inside[token] = (now, now)
        return token

    def is_in(self, token: str, now: float) -> bool:
        """Whether a token still holds; being seen keeps it alive."""
        with self.lock:
            seen = self.inside.get(token)
            if seen is None or not self._holds(seen, now):
                self.inside.pop(token, None)
                return False
            self.inside[token] = (seen[0], now)
            return True

    def let_out(self, token: str) -> None:
        """End what a token opened; a copy of its cookie opens nothing any more."""
        with self.lock:
            self.inside.pop(token, None)

    @staticmethod
    def _holds(seen: tuple[float, float], now: float) -> bool:
        return now - seen[0] <= LONGEST_S and now - seen[1] <= IDLE_S


def hashed(passphrase: str) -> str:
    """A passphrase as it may be kept: salted and slow (scrypt). One that is hashed already stays as it is."""
    return passphrase if passphrase.startswith(PLAIN_HASH) else generate_password_hash(passphrase)


def keep(server: Flask, door: Door, policy: Callable[[], str]) -> None:
    """Put the guard before every request and its headers on every answer."""
    server.secret_key = secrets.token_bytes(32)  # of this run alone: a new start asks again
    server.config.update(
        DOOR=door, MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_BYTES, SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict", SESSION_COOKIE_SECURE=door.secure,
        SESSION_COOKIE_NAME="__Host-envwatch" if door.secure else "envwatch",
    )  # fmt: skip
    server.before_request(lambda: _admit(door))
    server.after_request(lambda answer: _headed(answer, policy(), door.secure))
    server.add_url_rule("/enter", "enter", lambda: _enter(door), methods=["GET", "POST"])
    server.register_error_handler(DependencyException, lambda _error: Response("There is no such file.", 404))
    server.add_url_rule("/leave", "leave", lambda: _leave(door), methods=["POST"])


def _admit(door: Door) -> Response | None:
    if request.host.rsplit(":", 1)[0].lower() not in door.hosts and request.host.lower() not in door.hosts:
        abort(Response("This name is not one of this server's.", 421))
    if request.method not in METHODS:
        abort(Response("No such method.", 405, {"Allow": ", ".join(METHODS)}))
    origin = request.headers.get("Origin")
    if request.method not in ("GET", "HEAD") and origin is not None and urlsplit(origin).netloc != request.host:
        abort(Response("Sent by another site.", 403))
    if request.headers.get("Sec-Fetch-Site", "none") == "cross-site" and request.method not in ("GET", "HEAD"):
        abort(Response("Sent by another site.", 403))
    known = door.passphrase_hash and door.is_in(str(session.get("in", "")), time.monotonic())
    if door.passphrase_hash and not known and request.path != "/enter":
        if request.method == "GET" and "text/html" in request.headers.get("Accept", ""):
            return redirect("/enter")
        abort(Response("Enter the passphrase first.", 401))
    return None


def _enter(door: Door) -> Response:
    if request.method == "GET":
        return Response(_form(""), mimetype="text/html")
    address, now = request.remote_addr or "", time.monotonic()
    wait = door.wait_s(address, now)
    if wait:
        said = f"Too many wrong tries. Try again in {int(wait // 60) + 1} min."
        return Response(_form(said), 429, {"Retry-After": str(int(wait) + 1)}, mimetype="text/html")
    if not door.passphrase_hash or door.fits(request.form.get("passphrase", ""), address, now):
        session.clear()
        session["in"] = door.let_in(now)
        return redirect("/", 303)
    return Response(_form("That is not the passphrase."), 403, mimetype="text/html")


def _leave(door: Door) -> Response:
    door.let_out(str(session.get("in", "")))
    session.clear()
    return redirect("/enter" if door.passphrase_hash else "/", 303)


def _form(said: str) -> str:
    note = f'<p role="alert">{said}</p>' if said else ""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>envwatch</title>'
        f'{LINK}<meta name="viewport" content="width=device-width, initial-scale=1">'
        "<style>body{font:18px/1.5 Georgia,serif;max-width:24rem;margin:20vh auto;padding:0 1rem;"
        f"color:{LIGHT['ink']};background:{LIGHT['paper']}}}"
        f"input,button{{font:inherit;padding:.4rem .6rem;border:1px solid {LIGHT['edge']};width:100%;"
        f"box-sizing:border-box;margin:.3rem 0}}button{{background:{LIGHT['ink']};color:{LIGHT['paper']}}}"
        "</style></head><body><main>"
        f"<h1>envwatch</h1>{note}<form method='post' action='/enter'><label for='passphrase'>Passphrase</label>"
        "<input id='passphrase' name='passphrase' type='password' autocomplete='current-password' autofocus>"
        "<button>Enter</button></form></main></body></html>"
    )


def _headed(answer: Response, policy: str, secure: bool) -> Response:
    if secure:
        answer.headers["Strict-Transport-Security"] = "max-age=31536000"
    answer.headers["Content-Security-Policy"] = policy
    answer.headers["X-Content-Type-Options"] = "nosniff"
    answer.headers["Referrer-Policy"] = "same-origin"  # with no-referrer a browser signs a form as from nowhere
    answer.headers["X-Frame-Options"] = "DENY"
    if answer.mimetype in ("text/html", "application/json"):
        answer.headers["Cache-Control"] = "no-store"
    return answer


def owners_shown() -> bool:
    """Whether owners' names were unlocked in this session."""
    return bool(session.get("owners"))


def unlock(door: Door, passphrase: str) -> str:
    """Show the owners' names in this session; what is wrong, or "" where they are shown now."""
    if door.passphrase_hash:
        address, now = request.remote_addr or "", time.monotonic()
        if door.wait_s(address, now):
            return "Too many wrong tries. Wait five minutes."
        if not door.fits(passphrase or "", address, now):
            return "That is not the passphrase."
    session["owners"] = True
    return ""
