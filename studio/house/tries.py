"""How often something may be tried from one address where nobody logs in: counted in memory, written on no disk.

Several web processes of one machine count together (`studio.kit.counted_together`); several machines each by itself.
"""

from __future__ import annotations

import logging
import sqlite3
import threading
from collections import OrderedDict, deque
from datetime import datetime, timedelta

from django.utils import timezone

from studio.kit.counted_together import together

log = logging.getLogger(__name__)
#: so many addresses are counted at once; the one that was quiet longest is forgotten first
MOST_COUNTED = 10_000
#: within so long tries are counted, as of wrong passwords
QUARTER = timedelta(minutes=15)


class Tries:
    """A count of its own for each address. most: how many are let through; within: so long, each falls out after.

    what: its name among the counts of several processes.
    """

    def __init__(self, what: str, most: int, within: timedelta) -> None:
        self.what, self.most, self.within = what, most, within
        self._at: OrderedDict[str, deque[datetime]] = OrderedDict()
        self._guard = threading.Lock()

    def are_over(self, address: str | None) -> bool:
        """Say whether as many were counted as are let through."""
        try:
            if (others := together()) is not None:
                return others.since(timezone.now() - self.within, self.what, address or "") >= self.most
        except sqlite3.Error as lost:
            log.warning("Each web process counts by itself: %s", lost)
        with self._guard:
            return len(self._of(address or "")) >= self.most

    def count(self, address: str | None) -> None:
        try:
            if (others := together()) is not None:
                others.count(timezone.now(), self.what, address or "")
        except sqlite3.Error as lost:
            log.warning("Each web process counts by itself: %s", lost)
        with self._guard:
            mine = self._of(address or "")
            mine.append(timezone.now())
            self._at[address or ""] = mine
            self._at.move_to_end(address or "")
            while len(self._at) > MOST_COUNTED:
                self._at.popitem(last=False)

    def forget(self) -> None:
        with self._guard:
            self._at.clear()

    def _of(self, address: str) -> deque[datetime]:
        mine = self._at.get(address) or deque(maxlen=self.most)
        while mine and mine[0] < timezone.now() - self.within:
            mine.popleft()
        return mine
