"""Whether the clock of the server went back: dates, lapses and expiries are told by it."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.utils import timezone

#: a file whose time is the latest that this studio saw
SEEN = "latest-time-seen"
#: what a server that sets its clock by others may correct at once, in seconds
ALLOWED = 300
#: how often the latest time is noted, in seconds
EVERY = 60


def gone_back() -> str:
    """Note the time; return in words that it was later once, "" where it goes on. Raises OSError of the disk."""
    kept = Path(settings.DATA) / SEEN
    now = timezone.now().timestamp()
    try:
        latest = kept.stat().st_mtime
    except FileNotFoundError:
        latest = 0.0
        kept.touch(mode=0o600)
    if now > latest + EVERY or latest == 0:
        os.utime(kept, (now, now))
    if now >= latest - ALLOWED:
        return ""
    return (f"The clock of the server went back: it says {_words(now)}, and said {_words(latest)} before. Dates and "
            "expiry are told by it. Whoever looks after this server sets it right; if it is right now, they remove the "
            f"file {SEEN} from the data folder.")


def _words(moment: float) -> str:
    return f"{datetime.fromtimestamp(moment, UTC):%d %b %Y %H:%M} UTC"
