"""What the web processes of a machine count together: an SQLite file in its memory, which goes with them. No Django."""

from __future__ import annotations

import os
import sqlite3
import threading
from datetime import datetime

#: the environment's word for where that is; not set where one process serves alone
COUNTED_IN = "DAYBOOK_COUNTED_IN"
#: so many are kept; the oldest are forgotten first
MOST = 200_000


class Together:
    """Counts of several processes. Raises sqlite3.Error."""

    def __init__(self, path: str) -> None:
        self._guard = threading.Lock()
        self._file = sqlite3.connect(path, timeout=2, isolation_level=None, check_same_thread=False)
        # a process that is killed leaves it whole; a machine that stops takes it along
        self._file.executescript("""
            PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;
            CREATE TABLE IF NOT EXISTS counted (number INTEGER PRIMARY KEY, what TEXT, whom TEXT, at REAL);
            CREATE INDEX IF NOT EXISTS of_whom ON counted (what, whom, at);
        """)

    def count(self, at: datetime, what: str, whom: str) -> None:
        with self._guard:
            self._file.execute("INSERT INTO counted (what, whom, at) VALUES (?, ?, ?)", (what, whom, at.timestamp()))
            self._file.execute("DELETE FROM counted WHERE number <= (SELECT max(number) - ? FROM counted)", (MOST,))

    def since(self, moment: datetime, what: str, whom: str) -> int:
        """Return how many were counted since a moment."""
        with self._guard:
            (found,) = self._file.execute("SELECT count(*) FROM counted WHERE what = ? AND whom = ? AND at >= ?",
                                          (what, whom, moment.timestamp())).fetchone()
        return int(found)

    def close(self) -> None:
        self._file.close()


_opened: dict[str, Together] = {}
_opening = threading.Lock()


def together() -> Together | None:
    """Return what this process counts in with others; None where it serves alone. Raises sqlite3.Error."""
    path = os.environ.get(COUNTED_IN, "")
    if not path:
        return None
    with _opening:
        if path not in _opened:
            _opened[path] = Together(path)
        return _opened[path]
