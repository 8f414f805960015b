"""How much work a plan is given: counted, never timed, so that the same input gives the same plan."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How much work is spent: stretches placed in other orders and in looking for a further job's day; the solver's.

    whole, window: its deterministic limit for a plan of up to ten jobs, for a window of one of more; windows: how many,
    of how many jobs; ask_windows: how many of them for each further job.
    """

    order_work: int
    ask_work: int
    whole: float = 0
    window: float = 0
    windows: int = 0
    window_jobs: int = 5
    ask_windows: int = 0


AT_ONCE = Effort(order_work=0, ask_work=400)
TWO_SECONDS = Effort(order_work=8000, ask_work=4000, whole=0.2, window=0.05, windows=3, window_jobs=4,
                     ask_windows=2)
LONG = Effort(order_work=60000, ask_work=20000, whole=4, window=0.5, windows=40, ask_windows=8)
