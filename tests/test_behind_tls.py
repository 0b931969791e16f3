"""The pages behind a proxy with TLS: a real server process, a real certificate, a proxy on the same computer.

The proxy is Python's own http.server under TLS; it passes requests on and says so in X-Forwarded-Proto and -For, as
RFC 7239's forerunners are commonly used. The certificate is made by the openssl program. Names of cookie attributes
are those of RFC 6265bis (draft), section 5.6; `Secure`: sent over TLS alone.
"""

import http.client
import shutil
import socket
import ssl
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlencode

import pytest

from dashboards import create_app, guard
from dashboards.server import PageServer

PASSPHRASE = "four or five plain words"
HOST = "studio.example"  # RFC 2606, section 3
needs_openssl = pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl program")
pytestmark = [needs_openssl, pytest.mark.filterwarnings("ignore::ResourceWarning")]


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tls")
    paths = folder / "key.pem", folder / "cert.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}", "-addext",
         f"subjectAltName=DNS:{HOST}", "-keyout", str(paths[0]), "-out", str(paths[1])],
        check=True, capture_output=True,
    )  # fmt: skip
    return paths


@contextmanager
def serving(studio, word):
    """The port of `envwatch serve --share --name`, in a process of its own."""
    word.write_text(PASSPHRASE, encoding="utf-8")
    port = free_port()
    program = subprocess.Popen(
        [sys.executable, "-m", "envwatch", "serve", "--port", str(port), "--share", "--name", HOST,
         "--passphrase-file", str(word), "--studio", str(studio)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    for _ in range(300):
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                break
        time.sleep(0.1)
    yield port
    program.terminate()
    program.wait(20)


@contextmanager
def before(served, certificate):
    """The port of a proxy with TLS before a server."""

    class PassOn(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def pass_on(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            heads = {name: value for name, value in self.headers.items() if name.lower() != "connection"}
            hops = filter(None, (heads.pop("X-Forwarded-For", ""), self.client_address[0]))
            heads |= {"X-Forwarded-Proto": "https", "X-Forwarded-For": ", ".join(hops)}
            there = http.client.HTTPConnection("127.0.0.1", served, timeout=30)
            there.request(self.command, self.path, body, heads)
            answer = there.getresponse()
            content = answer.read()
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in ("connection", "transfer-encoding", "content-length", "server", "date"):
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)
            there.close()

        do_GET = do_POST = pass_on

        def log_message(self, *_said: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), PassOn)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate[1], certificate[0])
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port
    server.shutdown()
    server.server_close()


@pytest.fixture(scope="module")
def proxy(demo_of_file, tmp_path_factory, certificate):
    """The port of a proxy with TLS before the server."""
    word = tmp_path_factory.mktemp("word") / "passphrase"
    with serving(demo_of_file, word) as served, before(served, certificate) as port:
        yield port


@pytest.fixture
def own_proxy(demo_of_file, tmp_path, certificate):
    """Another, before a server of one's own: wrong passphrases slow it down."""
    with serving(demo_of_file, tmp_path / "passphrase") as served, before(served, certificate) as port:
        yield port


def ask(port: int, certificate, method: str, path: str, body: str = "", **heads: str):
    """One request over TLS, the certificate checked against the host's name."""
    context = ssl.create_default_context(cafile=str(certificate[1]))
    raw = socket.create_connection(("127.0.0.1", port), timeout=30)
    line = http.client.HTTPConnection(HOST)
    line.sock = context.wrap_socket(raw, server_hostname=HOST)
    line.request(method, path, body, {"Host": HOST, "Connection": "close", "Accept": "text/html", **heads})
    answer = line.getresponse()
    told = answer.status, answer.headers, answer.read()
    line.close()
    return told


FORM = {"Content-Type": "application/x-www-form-urlencoded"}


def test_the_cookie_given_through_tls_is_secure_httponly_and_strict(proxy, certificate):
    status, heads, _ = ask(proxy, certificate, "GET", "/")
    assert status == 302 and heads["Location"].endswith("/enter")
    word = urlencode({"passphrase": PASSPHRASE})
    status, heads, _ = ask(proxy, certificate, "POST", "/enter", word, Origin=f"https://{HOST}", **FORM)
    parts = {part.strip() for part in heads["Set-Cookie"].split(";")[1:]}
    assert status == 303 and {"Secure", "HttpOnly", "SameSite=Strict"} <= parts
    cookie = heads["Set-Cookie"].split(";")[0]
    status, heads, body = ask(proxy, certificate, "GET", "/", Cookie=cookie)
    assert status == 200 and b"envwatch" in body
    assert "default-src 'self'" in heads["Content-Security-Policy"]


def test_the_choice_of_units_is_secure_too(proxy, certificate):
    word = urlencode({"passphrase": PASSPHRASE})
    _status, heads, _ = ask(proxy, certificate, "POST", "/enter", word, **FORM)
    cookie = heads["Set-Cookie"].split(";")[0]
    names = ("units.children", "units.aria-label", "clock.children", "clock.aria-label")
    outputs = [dict(zip(("id", "property"), name.split("."), strict=True)) for name in names]
    _status, _heads, body = ask(proxy, certificate, "GET", "/_dash-dependencies", Cookie=cookie)
    import json

    spec = next(one["output"] for one in json.loads(body) if one["output"].startswith("..units.children"))
    again = spec.strip(".").split("...")[-1].split(".")
    sent = {
        "output": spec, "outputs": [*outputs, {"id": again[0], "property": again[1]}],
        "inputs": [{"id": id, "property": "n_clicks", "value": n} for id, n in (("units", 1), ("clock", 0))],
        "state": [{"id": "again", "property": "data", "value": 0}], "changedPropIds": ["units.n_clicks"],
    }  # fmt: skip
    status, heads, _ = ask(proxy, certificate, "POST", "/_dash-update-component", json.dumps(sent), Cookie=cookie,
                           **{"Content-Type": "application/json"})  # fmt: skip
    assert status == 200 and "Secure" in heads["Set-Cookie"] and "F-24" in heads["Set-Cookie"]


@pytest.mark.browser
def test_a_browser_enters_through_tls_and_works(proxy):
    """A browser signs what it sends in its own way (Origin, Sec-Fetch-Site), which no other client does."""
    from playwright.sync_api import sync_playwright

    flags = ["--no-sandbox", "--disable-gpu", f"--host-resolver-rules=MAP {HOST} 127.0.0.1"]
    with sync_playwright() as tools:
        browser = tools.chromium.launch(executable_path=shutil.which("chromium"), args=flags)
        context = browser.new_context(ignore_https_errors=True)  # the certificate is nobody's
        page, faults = context.new_page(), []
        page.on("console", lambda said: faults.append(said.text) if said.type == "error" else None)
        page.goto(f"https://{HOST}:{proxy}/")
        page.fill("#passphrase", PASSPHRASE)
        page.click("button")
        page.wait_for_selector("main h1", timeout=20_000)
        page.click("#units")
        page.wait_for_timeout(1_500)
        shown = page.inner_text("main")
        cookies = context.cookies()
        browser.close()
    assert "This week" in shown and "°F" in shown and "°C" not in shown and not faults
    assert len(cookies) == 2 and all(c["secure"] and c["httpOnly"] and c["sameSite"] == "Strict" for c in cookies)


def test_nothing_is_shown_without_the_passphrase_and_a_wrong_one_is_counted(own_proxy, certificate):
    status, _heads, body = ask(own_proxy, certificate, "GET", "/_dash-layout", Accept="application/json")
    assert status == 401 and b"envwatch" not in body
    wrong = urlencode({"passphrase": "not this one at all"})
    begun = time.monotonic()
    said = [ask(own_proxy, certificate, "POST", "/enter", wrong, **FORM)[0] for _ in range(6)]
    assert said == [403] * 6 and time.monotonic() - begun > 2  # slower and slower, but not shut


def test_only_the_proxy_that_was_named_is_answered(demo_of_file):
    app = create_app(demo_of_file, door=guard.Door((HOST, *guard.LOOPBACK), guard.hashed(PASSPHRASE), secure=True))
    server = PageServer(app.server, "0.0.0.0", 0, proxy="127.0.0.2")
    threading.Thread(target=server.run, daemon=True).start()

    def come(address: str) -> int:
        line = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=5, source_address=(address, 0))
        line.request("GET", "/enter", headers={"X-Forwarded-For": "203.0.113.9", "X-Forwarded-Proto": "https"})
        try:
            return line.getresponse().status
        finally:
            line.close()

    assert come("127.0.0.2") == 200
    with pytest.raises((ConnectionError, http.client.HTTPException)):
        come("127.0.0.3")
    server.close()
    app.server.config["HOUSE"].close()


@pytest.mark.parametrize(("proxy", "counted"), [("", ["127.0.0.1"]), ("127.0.0.1", ["198.51.100.7"])])
def test_behind_a_proxy_its_own_word_on_the_visitor_counts_and_no_other(demo_of_file, proxy, counted):
    """A proxy adds its visitor at the end; what the visitor wrote before that, or without a proxy, is nobody's word."""
    door = guard.Door(passphrase_hash=guard.hashed(PASSPHRASE))
    app = create_app(demo_of_file, door=door)
    server = PageServer(app.server, "127.0.0.1", 0, proxy)
    threading.Thread(target=server.run, daemon=True).start()
    for n in range(3):
        line = http.client.HTTPConnection("127.0.0.1", server.effective_port, timeout=5)
        heads = {"X-Forwarded-For": f"203.0.113.{n}, 198.51.100.7", "Forwarded": f"for=203.0.113.{n}"}
        line.request("POST", "/enter", urlencode({"passphrase": "x"}), FORM | heads)
        assert line.getresponse().status == 403
        line.close()
    assert list(door.pace.visitors) == counted and len(door.pace.visitors[counted[0]].tries) == 3
    server.close()
    app.server.config["HOUSE"].close()


def test_another_name_is_refused_through_the_proxy_too(proxy, certificate):
    status, _heads, _body = ask(proxy, certificate, "GET", "/", Host="evil.example")
    assert status == 421


def test_a_page_from_elsewhere_cannot_post(proxy, certificate):
    heads = FORM | {"Origin": "https://evil.example"}
    status, _heads, _body = ask(proxy, certificate, "POST", "/enter", "passphrase=x", **heads)
    assert status == 403
