"""What stands between the pages and a stranger: host names, cookies, sizes, the passphrase.

On the loopback address nobody is asked for anything, but a page elsewhere that makes this computer's browser call
here is refused: its requests bear another host's name or another origin.
"""

from __future__ import annotations

import hmac
import math
import secrets
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from dash.exceptions import DependencyException
from flask import Flask, Response, abort, current_app, redirect, request, session
from flask.sessions import SecureCookieSessionInterface
from itsdangerous import BadData
from werkzeug.http import parse_cookie
from werkzeug.security import check_password_hash, generate_password_hash

from dashboards.icon import LINK
from dashboards.pace import KNOWN, TryPace, network
from envwatch.present.palette import LIGHT

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_BYTES = 96 * 2**20  # of one request; a heap of logger files, as text, with room
ENTER, HELD = "/enter", "ENVWATCH_HELD"  # the door; what the server puts on a try that waited for its turn
MOST_WAIT_S = 60.0  # for its turn a try is held back so long; if it would be longer, it is told to come again
IDLE_S, LONGEST_S = 12 * 3600.0, 7 * 24 * 3600.0  # after so long unused, and after so long in any case, it asks again
METHODS = ("GET", "HEAD", "POST")
PLAIN_HASH = "scrypt:"


@dataclass
class Door:
    """Who may come in: host names that are ours, and the hash of the passphrase, if one is asked for."""

    hosts: tuple[str, ...] = LOOPBACK
    passphrase_hash: str = ""
    secure: bool = False  # behind TLS: cookies only over it
    pace: TryPace = field(default_factory=TryPace)
    inside: dict[str, tuple[float, float]] = field(default_factory=dict)  # token: came in, was last seen [s]
    lock: threading.Lock = field(default_factory=threading.Lock)
    word: str = field(default_factory=secrets.token_hex)  # by which the server says that a try was held back
    checking: threading.Lock = field(default_factory=threading.Lock)  # one at a time: each takes a core for a while

    def fits(self, passphrase: str, who: str, now: float) -> bool:
        """Whether a passphrase is the one; who tried has had a turn of `pace`, which counts unless it is."""
        with self.checking:
            right = check_password_hash(self.passphrase_hash, passphrase)
        if right:
            self.pace.was_right(who, now)
        return right

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
    server.add_url_rule(ENTER, "enter", lambda: _enter(door), methods=["GET", "POST"])
    server.register_error_handler(DependencyException, lambda _error: Response("There is no such file.", 404))
    server.add_url_rule("/leave", "leave", lambda: _leave(door), methods=["POST"])


def _session_of(server: Flask, cookies: str) -> Mapping[str, Any]:
    """What the session cookie among these holds; nothing where there is none, or none of ours."""
    signer = SecureCookieSessionInterface().get_signing_serializer(server)
    try:
        return signer.loads(parse_cookie(cookies).get(server.config["SESSION_COOKIE_NAME"], "")) if signer else {}
    except BadData:
        return {}


def door_of(server: Flask) -> Door:
    """The door of the pages' app."""
    return server.config["DOOR"]


def is_known(server: Flask, cookies: str) -> bool:
    """Whether these cookies are of somebody who is inside; where no passphrase is asked for, everybody is."""
    door = door_of(server)
    token = str(_session_of(server, cookies).get("in", ""))
    return not door.passphrase_hash or door.is_in(token, time.monotonic())


def who(server: Flask, cookies: str, address: str) -> str:
    """By what a visitor's tries are counted: the browser, where it was in before, else the address."""
    known = _session_of(server, cookies).get("known", "")
    return f"{KNOWN}{known}" if known else network(address)


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
    if door.passphrase_hash and not known and request.path != ENTER:
        if request.method == "GET" and "text/html" in request.headers.get("Accept", ""):
            return redirect(ENTER)
        abort(Response("Enter the passphrase first.", 401))
    return None


def _enter(door: Door) -> Response:
    if request.method == "GET":
        return Response(_form(""), mimetype="text/html")
    visitor, now = who(current_app, request.headers.get("Cookie", ""), request.remote_addr or ""), time.monotonic()
    held = request.environ.get(f"HTTP_{HELD}") == door.word
    wait = 0.0 if held or not door.passphrase_hash else door.pace.turn(visitor, now)
    if wait:
        said = f"Many wrong tries were made. Try again in {math.ceil(wait)} s."
        return Response(_form(said), 429, {"Retry-After": str(math.ceil(wait))}, mimetype="text/html")
    if not door.passphrase_hash or door.fits(request.form.get("passphrase", ""), visitor, now):
        known = session.get("known") or secrets.token_hex()
        session.clear()
        session.update({"in": door.let_in(now), "known": known})
        return redirect("/", 303)
    return Response(_form("That is not the passphrase."), 403, mimetype="text/html")


def _leave(door: Door) -> Response:
    door.let_out(str(session.get("in", "")))
    known = session.get("known")
    session.clear()
    if known:
        session["known"] = known  # this browser was in before: whose wrong tries are counted apart
    return redirect(ENTER if door.passphrase_hash else "/", 303)


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


def sealed(text: str) -> str:
    """What stands for a text on a page that must not show it, to see whether it is still the same."""
    key = current_app.secret_key or b""
    return hmac.new(key if isinstance(key, bytes) else key.encode(), text.encode(), "sha256").hexdigest()[:24]


def owners_shown() -> bool:
    """Whether owners' names were unlocked in this session."""
    return bool(session.get("owners"))


def unlock(door: Door, passphrase: str) -> str:
    """Show the owners' names in this session; what is wrong, or "" where they are shown now."""
    if door.passphrase_hash:
        visitor, now = who(current_app, request.headers.get("Cookie", ""), request.remote_addr or ""), time.monotonic()
        if wait := door.pace.turn(visitor, now):
            return f"Many wrong tries were made. Try again in {math.ceil(wait)} s."
        if not door.fits(passphrase or "", visitor, now):
            return "That is not the passphrase."
    session["owners"] = True
    return ""
