"""The mark of the last good backup, in the data folder: when it was made, and which file it is."""

from __future__ import annotations

import json
from datetime import datetime

from django.conf import settings

from studio.whole.backups.places import write_whole

_MARK = "last-backup.json"


def mark_good(made_at: datetime, name: str) -> None:
    write_whole(settings.DATA / _MARK, json.dumps({"made_at": made_at.isoformat(), "file": name}).encode())


def last_good() -> datetime | None:
    """Return when the last good backup was made; None where none was, or its mark cannot be read."""
    try:
        made = datetime.fromisoformat(json.loads((settings.DATA / _MARK).read_text(encoding="utf-8"))["made_at"])
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return made if made.tzinfo else None
