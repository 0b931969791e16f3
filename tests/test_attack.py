"""The pages as a stranger meets them: over real sockets, with requests that no browser of a friend would send.

What is asked of them are items of OWASP ASVS 4.0.3, level 1, as far as they apply; the table is in PROMISES.md.
"""

import contextlib
import csv
import http.client
import io
import json
import re
import shutil
import socket
import threading
import time
import zipfile
from urllib.parse import urlencode

import openpyxl
import pandas as pd
import pypdf
import pytest
from flask import Flask

from dashboards import create_app, guard, pace
from dashboards.pages import files
from dashboards.server import STRANGERS, PageServer
from envwatch import logs
from envwatch.archive import Studio
from envwatch.cases import review
from envwatch.core.errors import EnvwatchError
from envwatch.present import paper
from tests.long.hostile import live

NOW = pd.Timestamp("2026-11-02T11:00Z")
PASSPHRASE = "Vier  graue Reiher\u0308 stehen im flachen Wasser und warten, bis es Abend wird 鷺"  # over 64, two spaces
SCRIPT = "<img src=x onerror=window.hit=1><script>window.hit=2</script>{{7*7}}'\"><svg/onload=window.hit=3>"
JSON = {"Content-Type": "application/json"}
FORM = {"Content-Type": "application/x-www-form-urlencoded"}


@pytest.fixture(scope="module")
def served(demo_folder, tmp_path_factory):
    """(port, door, folder, server) of pages that are shared, served as `envwatch serve` serves them."""
    folder = shutil.copytree(demo_folder, tmp_path_factory.mktemp("attacked") / "studio")
    door = guard.Door(hosts=(*guard.LOOPBACK, "studio.test"), passphrase_hash=guard.hashed(PASSPHRASE))
    app = create_app(folder, now=lambda: NOW, door=door)
    server = PageServer(app.server, "127.0.0.1", 0)
    threading.Thread(target=server.run, daemon=True).start()
    yield server.effective_port, door, folder, server
    server.close()
    app.server.config["HOUSE"].close()


@pytest.fixture
def ask(served):
    """One request; status, headers, body."""

    def asked(method: str, path: str, body: bytes | str = b"", cookie: str = "", **heads: str):
        line = http.client.HTTPConnection("127.0.0.1", served[0], timeout=60)
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        body = body.encode() if isinstance(body, str) else body
        given = {"Host": f"127.0.0.1:{served[0]}", "Cookie": cookie, "Content-Length": str(len(body)), **heads}
        for name, value in given.items():
            if value:
                line.putheader(name.replace("_", "-"), value)
        line.endheaders(body)
        answer = line.getresponse()
        told = answer.status, answer.headers, answer.read()
        line.close()
        return told

    return asked


@pytest.fixture
def enter(ask, served):
    """Go in; the cookie."""

    def entered(cookie: str = "") -> str:
        served[1].pace.clear()
        status, heads, _ = ask("POST", "/enter", urlencode({"passphrase": PASSPHRASE}), cookie, **FORM)
        assert status == 303
        return heads["Set-Cookie"].split(";")[0]

    return entered


def raw(port: int, content: bytes, wait_s: float = 10.0) -> bytes:
    """What comes back for these very bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=wait_s) as line:
        line.sendall(content)
        out = b""
        try:
            while piece := line.recv(65536):
                out += piece
                if b"\r\n\r\n" in out and len(out) > 1_000_000:
                    break
        except TimeoutError:
            pass
        return out


# ------------------------------------------------------------------------------------------------- what is reachable

TARGETS = ("register.sqlite", "studio.toml", "writer.lock", "originals/", "readings/", "sheets/", "dashboards/app.py",
           "assets/../app.py", ".git/config", "etc/passwd")  # fmt: skip
WAYS = ("/", "/../", "/assets/../", "/assets/../../", "/assets/%2e%2e/", "/assets/..%2f..%2f", "/assets/....//",
        "/assets/..%5c..%5c", "/%2e%2e%2f%2e%2e%2f", "/_dash-component-suites/dash/../../", "//", "/assets//",
        "/painting/../../", "/_favicon.ico/../", "/sheet.pdf/../", "/\\..\\..\\")  # fmt: skip
SECRETS = (b"SQLite format 3", b"root:x:0:0", b"def create_app", b"[core]", b"PAR1", b"altitude_m =")


@pytest.mark.parametrize("inside", [False, True])
def test_no_path_leads_to_a_file_of_the_studio_or_the_machine(served, ask, enter, inside):
    cookie = enter() if inside else ""
    for way in WAYS:
        for target in TARGETS:
            status, _heads, body = ask("GET", way + target, cookie=cookie)
            assert status < 500 and not any(secret in body for secret in SECRETS), (way, target, body[:80])


def test_asked_for_by_name_a_file_or_folder_outside_is_not_read(ask, enter):
    cookie = enter()
    for query in ("/dossier.pdf?painting=../../etc/passwd", "/dossier.zip?painting=%2e%2e", "/sheet.pdf?week=../../x",
                  "/around.pdf?painting=%00", "/drying.pdf?place=..%2f",
                  "/hanging-owner.pdf?token=../studio.toml"):  # fmt: skip
        status, _heads, body = ask("GET", query, cookie=cookie)
        assert status < 500 and not any(secret in body for secret in SECRETS) and b"Traceback" not in body, query


def test_everything_but_the_door_is_shut_before_the_passphrase(ask):
    for path in ("/_dash-layout", "/_dash-dependencies", "/sheet.pdf", "/dossier.zip?painting=26-02",
                 "/assets/envwatch.css", "/hanging-owner.pdf", "/around.ics", "/drying.pdf", "/_favicon.ico",
                 "/nothing"):  # fmt: skip
        assert ask("GET", path)[0] == 401, path
    assert ask("POST", "/_dash-update-component", "{}", **JSON)[0] == 401


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "CONNECT"])
def test_other_methods_are_refused_and_no_other_site_is_invited(ask, enter, method):
    status, heads, _ = ask(method, "/_dash-layout", cookie=enter(), Origin="https://evil.example")
    assert status == 405 and not [name for name in heads if name.lower().startswith("access-control")]


# ------------------------------------------------------------------------------------------ another site, another name


@pytest.mark.parametrize(
    "origin",
    ["https://evil.example", "null", "http://127.0.0.1:1", "https://127.0.0.1", "http://localhost.evil.example"],
)
def test_a_page_of_another_site_cannot_write(served, ask, enter, origin):
    cookie = enter()
    for heads in ({"Origin": origin}, {"Origin": origin, "Sec_Fetch_Site": "same-origin"}):
        assert ask("POST", "/_dash-update-component", "{}", cookie, **JSON, **heads)[0] == 403
        assert ask("POST", "/leave", "", cookie, **heads)[0] == 403
    assert ask("POST", "/_dash-update-component", "{}", cookie, Sec_Fetch_Site="cross-site", **JSON)[0] == 403
    assert ask("GET", "/_dash-layout", cookie=cookie)[0] == 200  # and who is in is still in


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:8050", "evil.example:127.0.0.1", "[::2]",
             "studio.test.evil.example", "127.0.0.1@evil.example", "2130706433", "0", "127.1"],
)  # fmt: skip
def test_a_name_that_was_bound_to_this_computer_by_a_stranger_is_refused(ask, host):
    status, heads, body = ask("GET", "/", Host=host, Accept="text/html")
    assert status == 421 and "Location" not in heads and b"envwatch" not in body


def test_names_that_are_ours_are_let_through_and_a_forwarded_name_is_not_believed(ask):
    for host in ("127.0.0.1:8050", "LOCALHOST", "[::1]:8050", "studio.test"):
        status, heads, _ = ask("GET", "/", Host=host, Accept="text/html", X_Forwarded_Host="evil.example")
        assert status == 302 and heads["Location"] == "/enter"


def test_two_lengths_for_one_body_are_refused(served):
    heads = (
        b"POST /enter HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"
    )
    answer = raw(served[0], heads + b"GET /_dash-layout HTTP/1.1\r\nHost: evil.example\r\n\r\n", 1)
    assert b" 200 " not in answer.split(b"\r\n")[0] and b'"props"' not in answer
    folded = raw(served[0], b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: evil.example\r\n\r\n", 1)
    assert b"evil.example" not in folded and not folded.startswith(b"HTTP/1.1 200")


# ----------------------------------------------------------------------------------------------- too much of anything


def test_a_body_over_the_limit_is_refused_before_it_is_read(served):
    heads = f"POST /_dash-update-component HTTP/1.1\r\nHost: localhost\r\nContent-Length: {10**12}\r\n\r\n"
    begun = time.monotonic()
    assert raw(served[0], heads.encode() + b"x" * 100).startswith(b"HTTP/1.1 413")
    assert time.monotonic() - begun < 5


def test_lengthy_lines_and_heads_are_refused(served):
    for content in (b"GET /" + b"a" * 300_000 + b" HTTP/1.1\r\n\r\n",
                    b"GET / HTTP/1.1\r\nHost: localhost\r\n" + b"X-A: b\r\n" * 60_000 + b"\r\n"):  # fmt: skip
        try:
            answer = raw(served[0], content)
        except ConnectionError:  # closed on it while it was still sending
            continue
        assert re.match(rb"HTTP/1\.[01] 4\d\d", answer), answer[:60]


def test_a_hundred_who_say_what_they_want_byte_by_byte_keep_nobody_out(served, ask, enter, monkeypatch):
    """Half in the middle of a head, half of a body, each sending on: more than the server has room for."""
    monkeypatch.setattr(served[3].adj, "connection_limit", 2 * STRANGERS)
    cookie, lines, over = enter(), [], threading.Event()
    heads = b"POST /enter HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n"
    for n in range(3 * STRANGERS):
        line = socket.create_connection(("127.0.0.1", served[0]))
        line.sendall(heads + (b"\r\npass" if n % 2 else b"X-A: "))
        lines.append(line)

    def trickle() -> None:
        while not over.wait(0.2):
            for line in lines:
                with contextlib.suppress(OSError):
                    line.sendall(b"a")

    threading.Thread(target=trickle, daemon=True).start()
    try:
        for _ in range(3):
            begun = time.monotonic()
            assert ask("GET", "/_dash-layout", cookie=cookie)[0] == 200
            assert ask("POST", "/enter", urlencode({"passphrase": PASSPHRASE}), **FORM)[0] == 303
            assert time.monotonic() - begun < 5
            time.sleep(0.5)
    finally:
        over.set()
        for line in lines:
            line.close()


def test_a_stranger_who_does_not_come_to_the_point_is_let_go(served, monkeypatch):
    monkeypatch.setattr("dashboards.server.STRANGER_S", 2.0)
    with socket.create_connection(("127.0.0.1", served[0])) as line:
        line.settimeout(0.5)
        begun = time.monotonic()
        with contextlib.suppress(OSError):
            while time.monotonic() - begun < 20:
                line.sendall(b"a")
                with contextlib.suppress(TimeoutError):
                    if line.recv(10) == b"":
                        break
        assert time.monotonic() - begun < 12  # looked for each five seconds


@pytest.mark.parametrize("chunked", [False, True])
def test_a_strangers_request_may_be_small_only_and_a_friends_big(served, enter, chunked):
    for cookie, size, wanted in ("", 3000, b"403"), ("", 5000, b"413"), (enter(), 5_000_000, b"405"):
        served[1].pace.clear()
        path = "/enter" if not cookie else "/nothing"
        body = b"passphrase=" + b"x" * (size - 11)
        length = f"Content-Length: {size}" if not chunked else "Transfer-Encoding: chunked"
        head = f"POST {path} HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\nConnection: close\r\n{length}\r\n"
        sent = b"%x\r\n%b\r\n0\r\n\r\n" % (size, body) if chunked else body
        kind = b"Content-Type: application/x-www-form-urlencoded\r\n\r\n"
        with contextlib.suppress(ConnectionError):
            assert raw(served[0], head.encode() + kind + sent)[9:12] == wanted, (size, wanted)


def test_uploads_too_many_too_big_or_broken_are_refused_and_nothing_is_kept(served, tmp_path):
    before = sorted(path.name for path in (served[2] / "originals").iterdir())
    heaps = ["data:,QUJD"] * 301, ["x" * (files.MOST_BYTES // 3 + 10)] * 4, ["data:;base64,%%%"], ["data:;base64,é"]
    for n, contents in enumerate(heaps):
        (tmp_path / str(n)).mkdir()
        with pytest.raises(EnvwatchError):
            files.put_down(contents, [f"{k}.csv" for k in range(len(contents))], tmp_path / str(n))
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]
    assert sorted(path.name for path in (served[2] / "originals").iterdir()) == before


# --------------------------------------------------------------------------------------------- passphrase and session


def test_a_long_passphrase_with_spaces_and_any_letters_is_taken_whole(ask, enter, served):
    assert enter()
    for wrong in (PASSPHRASE[:64], PASSPHRASE + "x", PASSPHRASE.lower(), PASSPHRASE.replace("  ", " "), ""):
        served[1].pace.clear()
        assert ask("POST", "/enter", urlencode({"passphrase": wrong}), **FORM)[0] == 403
    served[1].pace.clear()


def right_after(port: int, wrong: int, at_once: bool, address: str = "127.0.0.1", cookie: str = "") -> tuple:
    """So many wrong tries, then the right one: the statuses of the wrong, of the right, and how long that took."""
    said: list[int] = []

    def give(passphrase: str) -> int:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=6 if at_once else 60, source_address=(address, 0))
        try:
            line.request("POST", "/enter", urlencode({"passphrase": passphrase}), FORM | {"Cookie": cookie})
            return line.getresponse().status
        except TimeoutError:  # its turn is far off
            return 0
        finally:
            line.close()

    work = [threading.Thread(target=lambda: said.append(give("wrong"))) for _ in range(wrong)]
    for thread in work:
        thread.start()
        thread.join(0 if at_once else 60)
    time.sleep(0.5 if at_once else 0)
    begun = time.monotonic()
    return said, give(PASSPHRASE), time.monotonic() - begun


def test_wrong_tries_one_after_another_slow_down_and_the_right_one_comes_through(served):
    served[1].pace.clear()
    begun = time.monotonic()
    said, right, took = right_after(served[0], pace.FREE + 2, at_once=False)
    assert said == [403] * (pace.FREE + 2) and right == 303
    assert time.monotonic() - begun > pace.pause(pace.FREE + 1) + pace.pause(pace.FREE + 2)
    assert pace.pause(pace.FREE + 2) - 1 < took < pace.pause(pace.FREE + 2) + 5


def test_wrong_tries_at_once_count_each_and_keep_out_nobody_from_elsewhere(served, ask, enter):
    cookie = enter()
    served[1].pace.clear()
    others = threading.Thread(target=right_after, args=(served[0], 40, True))
    others.start()
    time.sleep(1)
    begun = time.monotonic()
    assert ask("GET", "/_dash-layout", cookie=cookie)[0] == 200  # they wait outside, and hold up nobody inside
    assert right_after(served[0], 0, False, "127.0.0.2")[1] == 303  # another address
    assert right_after(served[0], 0, False, "127.0.0.1", cookie)[1] == 303  # a browser that was in before
    assert time.monotonic() - begun < 10
    visitor = served[1].pace.visitors["127.0.0.1"]
    assert len(visitor.tries) == pace.FREE + 1 + 4  # of forty so many have or had a turn within a minute, not more
    others.join()
    served[1].pace.clear()


def _tried(seconds: int, addresses: int, every_s: float, patient_s: float = guard.MOST_WAIT_S) -> pace.TryPace:
    """Wrong tries from so many addresses in turn, one each so many seconds, for so long."""
    made = pace.TryPace()
    for n in range(int(seconds / every_s)):
        made.turn(f"10.0.{n % addresses // 256}.{n % addresses % 256}", n * every_s, patient_s)
    return made


@pytest.mark.parametrize(("addresses", "every_s", "most_waited_s"), [
    (1, 0.1, 1.0), (20, 0.1, 2.0), (1000, 5.0, 2.0), (1000, 1.0, 4.0)])  # fmt: skip
def test_who_knows_the_right_one_has_a_turn_within_seconds_from_a_new_address(addresses, every_s, most_waited_s):
    made = _tried(1800, addresses, every_s)
    assert made.turn("192.0.2.1", 1800, guard.MOST_WAIT_S) <= most_waited_s
    assert made.turn(f"{pace.KNOWN}browser", 1800, guard.MOST_WAIT_S) == 0


def test_so_many_wrong_tries_an_hour_have_their_turn_and_no_more():
    """The promise: 100 from one address (ASVS 2.2.1), 4,500 in sum, from however many."""
    assert 80 < len(_tried(3600, 1, 0.5).all) <= 100
    assert 3000 < len(_tried(3600, 4000, 0.1).all) <= 4500 + guard.MOST_WAIT_S
    with_pauses = _tried(3600, 3, 0.2)
    assert len(with_pauses.all) <= 300
    assert with_pauses.turn("10.0.0.1", 3 * 3600) == 0  # forgotten after an hour


def test_who_remembers_many_visitors_remembers_them_up_to_a_ceiling():
    assert len(_tried(20_000, 65_000, 1.0).visitors) <= pace.MOST_VISITORS


def test_a_session_planted_beforehand_opens_nothing(ask, enter):
    planted = "envwatch=eyJpbiI6InBsYW50ZWQifQ.aaaaaa.bbbbbbbbbbbbbbbbbbbbbbbbbbb"
    assert ask("GET", "/_dash-layout", cookie=planted)[0] == 401
    first, second = enter(planted), enter(planted)
    assert first != planted and first != second and len(first) > 60
    assert ask("GET", "/_dash-layout", cookie=planted)[0] == 401
    again = enter(first)  # entering anew gives a new token even to who is in
    assert again not in (first, second)


def test_a_cookie_of_another_start_or_changed_by_hand_opens_nothing(ask, enter):
    cookie = enter()
    name, _, value = cookie.partition("=")
    for other in (
        value.replace(value[9], "-", 1),
        value[:-9] + "A" * 9,
        value[::-1],
        "",
        "." * 40,
        value.split(".")[0],
    ):
        assert ask("GET", "/_dash-layout", cookie=f"{name}={other}")[0] == 401


def test_leaving_ends_the_session_also_for_a_copy_of_its_cookie(ask, enter):
    cookie, other = enter(), enter()
    status, heads, _ = ask("POST", "/leave", "", cookie)
    assert status == 303 and heads["Location"] == "/enter"
    assert ask("GET", "/_dash-layout", cookie=cookie)[0] == 401
    assert ask("GET", "/_dash-layout", cookie=other)[0] == 200


def test_a_session_ends_unused_and_after_a_week_in_any_case():
    door = guard.Door(passphrase_hash="x")
    token = door.let_in(0.0)
    assert door.is_in(token, guard.IDLE_S - 1) and not door.is_in(token, 3 * guard.IDLE_S)
    token = door.let_in(0.0)
    steps = [guard.IDLE_S / 2 * n for n in range(1, 40)]
    held = [door.is_in(token, at) for at in steps]
    assert held == [at <= guard.LONGEST_S for at in steps]
    assert guard.LONGEST_S <= 30 * 24 * 3600  # ASVS 3.3.2, level 1


def test_a_cookie_behind_tls_is_bound_to_the_host_and_the_browser_told_to_stay_with_tls(demo_folder):
    door = guard.Door(passphrase_hash=guard.hashed(PASSPHRASE), secure=True)
    app = create_app(demo_folder, now=lambda: NOW, door=door)
    answer = app.server.test_client().post("/enter", data={"passphrase": PASSPHRASE}, base_url="https://localhost")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-envwatch=") and "Domain" not in cookie
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Strict"} <= {part.strip() for part in cookie.split(";")}
    assert int(re.search(r"max-age=(\d+)", answer.headers["Strict-Transport-Security"])[1]) >= 15_724_800
    app.server.config["HOUSE"].close()


# ----------------------------------------------------------------------------------------------- what an answer says


def test_every_answer_bears_the_guards_headers_and_no_versions(ask, enter):
    cookie = enter()
    for method, path, with_ in (("GET", "/", cookie), ("GET", "/enter", ""), ("GET", "/nothing/here", cookie),
                                ("GET", "/_dash-layout", cookie), ("GET", "/assets/envwatch.css", cookie),
                                ("GET", "/sheet.pdf", cookie), ("POST", "/_dash-update-component", cookie),
                                ("GET", "/_dash-layout", "")):  # fmt: skip
        status, heads, body = ask(
            method, path, "{" if method == "POST" else "", with_, **(JSON if method == "POST" else {})
        )
        assert heads["X-Content-Type-Options"] == "nosniff" and heads["Referrer-Policy"] == "same-origin", path
        assert "frame-ancestors 'none'" in heads["Content-Security-Policy"] and heads["X-Frame-Options"] == "DENY"
        assert "unsafe-eval" not in heads["Content-Security-Policy"] and "Server" not in heads
        kind = heads["Content-Type"]
        assert "charset=utf-8" in kind or kind in ("application/json", "application/pdf"), (path, kind)
        if kind.startswith(("text/html", "application/json")):
            assert heads["Cache-Control"] == "no-store", path
        for word in (b"Traceback", b"site-packages", b"Werkzeug", b"waitress", b"Python/"):
            assert word not in body, (path, status, word)


@pytest.mark.parametrize("body", ["", "{", "[]", "null", '{"output":"x"}', '{"output":"__proto__.x","inputs":[]}',
                                  '{"output":"page.children","outputs":{"id":"page","property":"children"},"inputs":"x"}',
                                  "[" * 20_000])  # fmt: skip
def test_a_broken_call_is_answered_without_a_word_about_the_inside(ask, enter, body):
    status, _heads, answer = ask("POST", "/_dash-update-component", body, enter(), **JSON)
    assert status >= 400 and b"Traceback" not in answer and b"/dash/" not in answer


def test_a_session_is_named_in_no_address_and_the_passphrase_in_no_answer(ask, enter):
    cookie = enter()
    value = cookie.partition("=")[2]
    for path in ("/", "/_dash-layout", "/_dash-dependencies", "/enter"):
        _status, heads, body = ask("GET", path, cookie=cookie)
        assert value.encode() not in body and value not in str(heads.get("Location", ""))
        assert PASSPHRASE.encode() not in body
    assert ask("GET", "/enter?" + urlencode({"passphrase": PASSPHRASE}))[1].get("Set-Cookie") is None


# --------------------------------------------------------------------------------------------- words that are scripts


@pytest.fixture
def hostile_studio(demo_copy, tmp_path):
    """A demo studio with scripts for names of a painting, its owner, a place, a logger and a file."""
    log = tmp_path / ("=1+1<img src=x onerror=window.hit=4>" + ".csv")
    rows = "".join(f"2026-10-26T{h:02}:00:00Z,19.{h % 10},51.{h % 10}\n" for h in range(24))
    log.write_text(f"Logger: {SCRIPT[:40]}\nTime,Temperature (°C),Relative humidity (%)\n{rows}", encoding="utf-8")
    with Studio.open(demo_copy) as studio:
        studio.enter("place", {"id": "hostile", "name": SCRIPT, "kind": "store", "note": SCRIPT})
        studio.enter("painting", {"id": "x-1", "title": SCRIPT, "maker": SCRIPT, "owner": SCRIPT, "support": SCRIPT})
        studio.move("x-1", "hostile", "2026-01-01")
        studio.observe("x-1", "2026-10-01", SCRIPT, where=SCRIPT, note=SCRIPT)
        studio.treat("x-1", "lining", "2026-03-01", material="eva_film", note=SCRIPT)
        outcome = studio.add([log]).outcomes[0]
        studio.set_hanging(outcome.logger_id, "hostile", "2026-01-01")
    return demo_copy


def test_a_closed_server_writes_into_no_file_that_has_its_number_now(tmp_path):
    app = Flask("pages")
    app.config["DOOR"] = guard.Door(hosts=guard.LOOPBACK)
    server = PageServer(app, "127.0.0.1", 0)
    ends = server.trigger._fds  # of the pipe that wakes its loop
    server.close()
    held = [(tmp_path / str(n)).open("wb+", buffering=0) for n in range(max(ends) + 1)]
    assert {file.fileno() for file in held} & set(ends), "a file has the number of one end now"
    server.pull_trigger()  # as a thread does whose answer was under way
    assert not any(file.read() or file.tell() for file in held)
    for file in held:
        file.close()


@pytest.mark.browser
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_no_name_is_run_as_a_script_in_a_page(hostile_studio):
    from playwright.sync_api import sync_playwright

    app = create_app(hostile_studio, now=lambda: NOW)
    server = PageServer(app.server, "127.0.0.1", 0)
    threading.Thread(target=server.run, daemon=True).start()
    address, shown = f"http://127.0.0.1:{server.effective_port}", 0
    with sync_playwright() as tools:
        browser = tools.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page()
        for path in ("/", "/paintings", "/painting/x-1", "/files", "/places?place=hostile&days=30",
                     f"/painting/{SCRIPT}", f"/places?place={SCRIPT}", "/hang?ask=where&painting=x-1",
                     "/around?painting=x-1"):  # fmt: skip
            page.goto(address + path.replace("#", "%23"))
            page.wait_for_selector("main :is(h1, [role=alert])", timeout=20_000)
            page.wait_for_timeout(600)
            assert page.evaluate("window.hit") is None, path
            assert page.locator("main img[src=x], main script, main svg[onload]").count() == 0, path
            shown += page.inner_text("main").count("onerror=window.hit")
        browser.close()
    server.close()
    app.server.config["HOUSE"].close()
    assert shown >= 4  # shown as the words they are


def test_no_name_is_set_as_markup_on_a_sheet_or_run_by_a_spreadsheet(hostile_studio, tmp_path):
    with Studio.open(hostile_studio) as studio:
        pdf = paper.weekly(review.make(studio, NOW))
        studio.export_register(tmp_path / "out", private=True)
    words = " ".join(" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    bare = words.replace(" ", "").replace("\u200b", "")
    assert "onerror=window.hit" in bare and "{{7*7}}" in bare
    assert b"/JavaScript" not in pdf and b"/Launch" not in pdf
    for file in (tmp_path / "out").iterdir():
        with file.open(encoding="utf-8", newline="") as text:
            assert not any(live(cell) for row in csv.reader(text) for cell in row), file.name


# ----------------------------------------------------------------------------------------------------- XML in workbooks

ENTITY = '<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>'
LAUGHS = (
    "<!DOCTYPE x [<!ENTITY a0 'ha'>" + "".join(f"<!ENTITY a{n} '{f'&a{n - 1};' * 10}'>" for n in range(1, 10)) + "]>"
)


@pytest.mark.parametrize(("doctype", "entity"), [(ENTITY, "&e;"), (LAUGHS, "&a9;")])
@pytest.mark.parametrize("part", ["xl/sharedStrings.xml", "xl/worksheets/sheet1.xml", "xl/workbook.xml"])
def test_a_workbook_cannot_make_the_reader_open_files_or_swell(tmp_path, doctype, entity, part):
    book = openpyxl.Workbook()
    book.active.append(["Time", "Temperature (°C)", "RH (%)", "Note"])
    for h in range(24):
        book.active.append([f"2026-03-01 {h:02}:00:00", 20.0 + h / 10, 50.0, "marker"])
    whole = io.BytesIO()
    book.save(whole)
    path = tmp_path / "log.xlsx"
    with zipfile.ZipFile(whole) as source, zipfile.ZipFile(path, "w") as target:
        for name in source.namelist():
            content = source.read(name).decode()
            if name == part:
                head, xml, rest = content.partition("?>") if content.startswith("<?xml") else ("", "", content)
                for known in ("marker", "Note", 'name="Sheet"'):
                    rest = rest.replace(known, known[:-1] + entity + known[-1:], 1)
                content = head + xml + doctype + rest
            target.writestr(name, content)
    begun = time.process_time()
    try:
        log = logs.read(path, logs.Answers(zone="UTC"), now=NOW)
    except EnvwatchError as refused:
        said = str(refused)
    else:
        said = json.dumps([log.label, *log.notes, *log.layout.columns, *map(str, log.events)])
    assert "root:" not in said and "haha" not in said
    assert time.process_time() - begun < 10
