"""Serve the studio: `python -m studio.serve`, where LISTEN says (127.0.0.1:8000 by default), with waitress.

With `--worker`, as `make start` does, a worker for long work stands beside it and ends with it.

Behind TLS the proxy's word for where a request came from, and how, is believed if it comes from TRUSTED_PROXY (this
machine by default); from anybody else, and without TLS, those headers are thrown away.
"""

from __future__ import annotations

import os
import sys
from contextlib import nullcontext
from typing import Any

from waitress import serve

from studio.wsgi import application

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


if __name__ == "__main__":
    from django.conf import settings

    from studio.house.long_work.beside import worker_beside

    with worker_beside() if "--worker" in sys.argv[1:] else nullcontext():
        serve(application, listen=os.environ.get("LISTEN", "127.0.0.1:8000"), **how(settings.BEHIND_TLS))
