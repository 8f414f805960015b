"""TLS for the tablet, the way README gives it: a certificate of the studio's own authority, nginx before the server."""

from __future__ import annotations

import re
import socket
import ssl
import subprocess
import time
from http.client import HTTPConnection
from http.cookiejar import CookieJar
from urllib.error import URLError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, HTTPSHandler, Request, build_opener, urlopen

from tests.serving import HOME, own_database, served


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_a_tablet_that_trusts_the_studio_reads_it_over_tls(tmp_path):
    port, made = _free_port(), tmp_path / "tls"
    with own_database(tmp_path, "daybook_tls", "demo") as environment, served(environment) as address:
        subprocess.run([".ci/tls", str(made), "127.0.0.1", str(port), address.rpartition(":")[2]], cwd=HOME, check=True,
                       capture_output=True)
        proxy = subprocess.Popen(
            ["/usr/sbin/nginx", "-e", "stderr", "-c", str(made / "nginx.conf"), "-g", "daemon off;"])
        try:
            trusting = ssl.create_default_context(cafile=str(made / "authority.pem"))
            assert b"Log in" in _read(f"https://127.0.0.1:{port}/log-in/", trusting).read()
            worker = _read(f"https://127.0.0.1:{port}/bench/worker.js", trusting)
            assert worker.headers["Service-Worker-Allowed"] == "/"
        finally:
            proxy.terminate()
            proxy.wait(15)
    assert (made / "server.key").stat().st_mode & 0o077 == 0


def test_behind_the_proxy_cookies_are_this_hosts_and_plain_http_is_led_to_tls(tmp_path):
    port, made = _free_port(), tmp_path / "tls"
    public = f"https://127.0.0.1:{port}"
    with own_database(tmp_path, "daybook_tls", "demo") as environment, served(environment, public=public) as address:
        subprocess.run([".ci/tls", str(made), "127.0.0.1", str(port), address.rpartition(":")[2]], cwd=HOME, check=True,
                       capture_output=True)
        proxy = subprocess.Popen(
            ["/usr/sbin/nginx", "-e", "stderr", "-c", str(made / "nginx.conf"), "-g", "daemon off;"])
        try:
            trusting = ssl.create_default_context(cafile=str(made / "authority.pem"))
            door = _read(f"{public}/log-in/", trusting)
            assert door.headers["Strict-Transport-Security"].startswith("max-age=31536000; includeSubDomains")
            assert "Server" not in door.headers or "waitress" not in door.headers["Server"]
            browser = build_opener(HTTPSHandler(context=trusting), HTTPCookieProcessor(jar := CookieJar()))
            token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', browser.open(f"{public}/log-in/").read().decode())
            assert token is not None
            sent = {"csrfmiddlewaretoken": token[1], "username": "maud", "password": "quiet-silver-owner"}
            today = browser.open(Request(f"{public}/log-in/", urlencode(sent).encode(), {"Referer": f"{public}/log-in/"}))
            assert b"Log out" in today.read()
            assert {cookie.name for cookie in jar} >= {"__Host-sessionid", "__Host-csrftoken"}
            for cookie in jar:
                assert cookie.secure
                assert cookie.path == "/"
                assert not cookie.domain_specified
                assert cookie.get_nonstandard_attr("SameSite") == "Lax"
            session = next(cookie for cookie in jar if cookie.name == "__Host-sessionid")
            assert session.has_nonstandard_attr("HttpOnly")
        finally:
            proxy.terminate()
            proxy.wait(15)
        link = HTTPConnection("127.0.0.1", int(address.rpartition(":")[2]), timeout=10)
        link.request("GET", "/log-in/", headers={"Host": f"127.0.0.1:{port}"})
        led = link.getresponse()
        assert (led.status, led.headers["Location"]) == (301, f"{public}/log-in/")
        link.close()


def _read(address: str, trusting: ssl.SSLContext):
    for _ in range(50):
        try:
            return urlopen(address, timeout=5, context=trusting)
        except URLError as refused:
            if not isinstance(refused.reason, ConnectionRefusedError):
                raise
            time.sleep(0.1)
    raise RuntimeError("Nothing answers over TLS.")
