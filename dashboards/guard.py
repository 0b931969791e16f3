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

from flask import Flask, Response, abort, redirect, request, session
from werkzeug.security import check_password_hash, generate_password_hash

from envwatch.palette import LIGHT

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
MOST_BYTES = 96 * 2**20  # of one request; a heap of logger files, as text, with room
TRIES, WINDOW_S = 5, 300.0  # wrong passphrases in so many seconds, from one address
TRIES_ALL = 30  # and from all addresses together
PLAIN_HASH = "scrypt:"


@dataclass
class Door:
    """Who may come in: host names that are ours, and the hash of the passphrase, if one is asked for."""

    hosts: tuple[str, ...] = LOOPBACK
    passphrase_hash: str = ""
    secure: bool = False  # behind TLS: cookies only over it
    tries: dict[str, deque] = field(default_factory=lambda: defaultdict(deque))
    lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_s(self, address: str, now: float) -> float:
        """How long an address must wait before it may try a passphrase again. [s]"""
        with self.lock:
            for key, most in ((address, TRIES), ("", TRIES_ALL)):
                recent = self.tries[key]
                while recent and now - recent[0] > WINDOW_S:
                    recent.popleft()
                if len(recent) >= most:
                    return WINDOW_S - (now - recent[0])
        return 0.0

    def fits(self, passphrase: str, address: str, now: float) -> bool:
        """Whether a passphrase is the one; a wrong one is counted."""
        if check_password_hash(self.passphrase_hash, passphrase):
            return True
        with self.lock:
            self.tries[address].append(now)
            self.tries[""].append(now)
        return False


def hashed(passphrase: str) -> str:
    """A passphrase as it may be kept: salted and slow (scrypt). One that is hashed already stays as it is."""
    return passphrase if passphrase.startswith(PLAIN_HASH) else generate_password_hash(passphrase)


def keep(server: Flask, door: Door, policy: Callable[[], str]) -> None:
    """Put the guard before every request and its headers on every answer."""
    server.secret_key = secrets.token_bytes(32)  # of this run alone: a new start asks again
    server.config.update(
        DOOR=door, MAX_CONTENT_LENGTH=MOST_BYTES, MAX_FORM_MEMORY_SIZE=MOST_BYTES, SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict", SESSION_COOKIE_SECURE=door.secure, SESSION_COOKIE_NAME="envwatch",
    )  # fmt: skip
    server.before_request(lambda: _admit(door))
    server.after_request(lambda answer: _headed(answer, policy()))
    server.add_url_rule("/enter", "enter", lambda: _enter(door), methods=["GET", "POST"])


def _admit(door: Door) -> Response | None:
    if request.host.rsplit(":", 1)[0].lower() not in door.hosts and request.host.lower() not in door.hosts:
        abort(Response("This name is not one of this server's.", 421))
    origin = request.headers.get("Origin")
    if request.method not in ("GET", "HEAD") and origin is not None and urlsplit(origin).netloc != request.host:
        abort(Response("Sent by another site.", 403))
    if request.headers.get("Sec-Fetch-Site", "none") == "cross-site" and request.method not in ("GET", "HEAD"):
        abort(Response("Sent by another site.", 403))
    if door.passphrase_hash and not session.get("in") and request.path != "/enter":
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
        session["in"] = True
        return redirect("/", 303)
    return Response(_form("That is not the passphrase."), 403, mimetype="text/html")


def _form(said: str) -> str:
    note = f'<p role="alert">{said}</p>' if said else ""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>envwatch</title>'
        '<link rel="icon" href="data:,"><meta name="viewport" content="width=device-width, initial-scale=1">'
        "<style>body{font:18px/1.5 Georgia,serif;max-width:24rem;margin:20vh auto;padding:0 1rem;"
        f"color:{LIGHT['ink']};background:{LIGHT['paper']}}}"
        f"input,button{{font:inherit;padding:.4rem .6rem;border:1px solid {LIGHT['edge']};width:100%;"
        f"box-sizing:border-box;margin:.3rem 0}}button{{background:{LIGHT['ink']};color:{LIGHT['paper']}}}"
        "</style></head><body><main>"
        f"<h1>envwatch</h1>{note}<form method='post' action='/enter'><label for='passphrase'>Passphrase</label>"
        "<input id='passphrase' name='passphrase' type='password' autocomplete='current-password' autofocus>"
        "<button>Enter</button></form></main></body></html>"
    )


def _headed(answer: Response, policy: str) -> Response:
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
