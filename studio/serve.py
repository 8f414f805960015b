"""Serve the studio: `python -m studio.serve`, where LISTEN says (127.0.0.1:8000 by default), with waitress.

WEB_PROCESSES says how many processes do so, one by default; what they have in common is in the database, or with
`studio.web_processes`, which watches over them. On SIGTERM each makes the answers to their end that it is making.
With `--worker`, as `make start` does, a worker for long work stands beside them and ends with them.

Behind TLS the proxy's word for where a request came from, and how, is believed if it comes from TRUSTED_PROXY (this
machine by default); from anybody else, and without TLS, those headers are thrown away.
"""

from __future__ import annotations

import os
import signal
import sys
from contextlib import nullcontext
from typing import Any

from waitress import serve

from studio import web_processes
from studio.house.long_work.beside import worker_beside

THREADS = 8
#: addresses and cookies of the program are far shorter
MOST_HEAD_BYTES = 16_384
#: a body that is only just too large is refused by the program, in words
A_LITTLE = 5_000_000


def how(behind_tls: bool) -> dict[str, Any]:
    """Return how waitress serves: bodies little larger than the program reads, no name of its own in answers."""
    from studio.house.bodies import MOST_BYTES  # models are there once the application is

    proxy = {"trusted_proxy": os.environ.get("TRUSTED_PROXY", "127.0.0.1"),
             "trusted_proxy_headers": "x-forwarded-for x-forwarded-proto"} if behind_tls else {}
    return {"threads": THREADS, "max_request_body_size": MOST_BYTES + A_LITTLE, "ident": None,
            "max_request_header_size": MOST_HEAD_BYTES,
            "clear_untrusted_proxy_headers": True, **proxy}


def here(where: dict[str, Any]) -> None:
    """Serve in this process, until SIGTERM or SIGINT. where: waitress's word for it, an address or sockets."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    from django.conf import settings

    from studio.wsgi import application

    serve(application, **where, **how(settings.BEHIND_TLS))


def main() -> int:
    """Serve until told to end; return what this process ends with."""
    address = os.environ.get("LISTEN", "127.0.0.1:8000")
    if sockets := web_processes.own_sockets():
        web_processes.end_with_the_first()
        here({"sockets": sockets})
        return 0
    count = web_processes.how_many()
    with worker_beside() if "--worker" in sys.argv[1:] else nullcontext():
        if count > 1:
            return web_processes.serve(count, address)
        here({"listen": address})
    return 0


if __name__ == "__main__":
    sys.exit(main())
