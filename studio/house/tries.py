"""How often something may be tried from one address where nobody logs in: counted here in memory, written nowhere."""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from datetime import datetime, timedelta

from django.utils import timezone

#: so many addresses are counted at once; the one that was quiet longest is forgotten first
MOST_COUNTED = 10_000
#: within so long tries are counted, as of wrong passwords
QUARTER = timedelta(minutes=15)


class Tries:
    """A count of its own for each address. most: how many are let through; within: so long, each falls out after."""

    def __init__(self, most: int, within: timedelta) -> None:
        self.most, self.within = most, within
        self._at: OrderedDict[str, deque[datetime]] = OrderedDict()
        self._guard = threading.Lock()

    def are_over(self, address: str | None) -> bool:
        """Say whether as many were counted as are let through."""
        with self._guard:
            return len(self._of(address or "")) >= self.most

    def count(self, address: str | None) -> None:
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
