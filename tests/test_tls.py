"""TLS for the tablet, the way README gives it: a certificate of the studio's own authority, nginx before the server."""

from __future__ import annotations

import socket
import ssl
import subprocess
import time
from urllib.error import URLError
from urllib.request import urlopen

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


def _read(address: str, trusting: ssl.SSLContext):
    for _ in range(50):
        try:
            return urlopen(address, timeout=5, context=trusting)
        except URLError as refused:
            if not isinstance(refused.reason, ConnectionRefusedError):
                raise
            time.sleep(0.1)
    raise RuntimeError("Nothing answers over TLS.")
