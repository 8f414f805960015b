"""What a calendar is asked to plan: people, benches, mixes, jobs, loads, and further jobs that ask for a day.

Times are whole minutes from midnight of the first day by the studio's clock; day n is minutes n × 1440 to
n × 1440 + 1440. How long a thing takes is a multiple of five minutes: rounded up by who asks (`rounded_up`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

DAY_MINUTES = 1440
#: Everything is placed on a grid of so many minutes.
GRID_MINUTES = 5

Role = Literal["owner", "helper"]
Sharing = Literal["no", "job", "jobs"]
Leaving = Literal["ready", "collection"]


def rounded_up(minutes: int) -> int:
    """Return minutes of the grid, never fewer than given."""
    return -(-minutes // GRID_MINUTES) * GRID_MINUTES


def day_of(end_minute: int) -> int:
    """Return the day on which something ends that ends at this minute: midnight belongs to the day before."""
    return (end_minute - 1) // DAY_MINUTES


@dataclass(frozen=True, kw_only=True)
class Spell:
    """From one break to the next: somebody is there from the first minute up to the end."""

    start_minute: int
    end_minute: int


@dataclass(frozen=True, kw_only=True)
class PersonAsked:
    """A pair of hands: its spells in order, none touching another, over the whole of the calendar."""

    name: str
    role: Role
    hours: tuple[Spell, ...]


@dataclass(frozen=True, kw_only=True)
class WorkAsked:
    """Minutes of hands without a pause, attended dwell included.

    hands: one pair or two. owner: one of them is the owner's. by: pinned, one of them is of this role; "" of any.
    never_alone: another person has a spell that holds it.
    wait_least_minutes, wait_most_minutes: unattended, to the next work of its stretch; the last has none.
    """

    minutes: int
    hands: int = 1
    owner: bool = False
    by: str = ""
    never_alone: bool = False
    wait_least_minutes: int = 0
    wait_most_minutes: int = 0


@dataclass(frozen=True, kw_only=True)
class MixAsked:
    """A mix: who and how many minutes, how long it keeps from the end of the mixing, the largest batch, its sharing.

    shared: no (one stretch), job (stretches of loads with the same jobs), jobs (all).
    safe_within_minutes: from the start of the mixing to the end of the work that makes it safe, the same day.
    name: as sentences call it.
    """

    key: str
    minutes: int
    owner: bool = False
    keeps_minutes: int
    most_ml: int
    shared: Sharing = "no"
    safe_within_minutes: int | None = None
    name: str = ""

    @property
    def called(self) -> str:
        return self.name or self.key


@dataclass(frozen=True, kw_only=True)
class MixUse:
    """A stretch uses so much of a mix, from the start of work `first_work` on.

    safe_work: the work at whose end what is left is made safe; None where it need not be.
    """

    key: str
    ml: int
    first_work: int
    safe_work: int | None = None


@dataclass(frozen=True, kw_only=True)
class Pin:
    """Where a stretch stays: its first minute and its bench."""

    start_minute: int
    bench: str


@dataclass(frozen=True, kw_only=True)
class StretchAsked:
    """Works in order on one bench within one day, then a wait to the next stretch of the load.

    wait_most_minutes: None where it may wait for ever. earliest_minute, latest_minute: of its first start.
    was_day: its day in the plan before. name: as sentences call it (the finish or the step).
    """

    id: str
    works: tuple[WorkAsked, ...]
    wait_least_minutes: int = 0
    wait_most_minutes: int | None = None
    mixes: tuple[MixUse, ...] = ()
    earliest_minute: int | None = None
    latest_minute: int | None = None
    pinned: Pin | None = None
    was_day: int | None = None
    name: str = ""

    @property
    def called(self) -> str:
        return self.name or self.id


@dataclass(frozen=True, kw_only=True)
class LoadAsked:
    """Stretches in order for one or more jobs: it waits for all of them, and all wait for it."""

    id: str
    jobs: tuple[str, ...]
    stretches: tuple[StretchAsked, ...]


@dataclass(frozen=True, kw_only=True)
class Earliest:
    """The earliest start of a job's three parts, each with its cause in words ("the glass comes")."""

    before_minute: int = 0
    bench_minute: int = 0
    packing_minute: int = 0
    before_cause: str = ""
    bench_cause: str = ""
    packing_cause: str = ""


@dataclass(frozen=True, kw_only=True)
class JobAsked:
    """A job: works before the bench, outside work, its loads (`CalendarAsked.loads`), cure, works after it, leaving.

    due_day: the day told to the customer; None: none was. leaves: ready (at once) or by the next collection.
    before: in order, on no bench, from `earliest.before_minute`; then `outside_minutes`; its stretches and their
    mixings from `earliest.bench_minute`; `cure_minutes` after its last load, whose last least wait comes first;
    after: in order, from `earliest.packing_minute`. name: as sentences call it.
    """

    id: str
    due_day: int | None = None
    weight: int = 1
    earliest: Earliest = Earliest()
    before: tuple[WorkAsked, ...] = ()
    outside_minutes: int = 0
    cure_minutes: int = 0
    after: tuple[WorkAsked, ...] = ()
    leaves: Leaving = "ready"
    name: str = ""

    @property
    def called(self) -> str:
        return self.name or self.id


@dataclass(frozen=True, kw_only=True)
class FurtherJob:
    """A job that is not booked and asks for its first honest day, with its loads."""

    job: JobAsked
    loads: tuple[LoadAsked, ...]


@dataclass(frozen=True, kw_only=True)
class CalendarAsked:
    """All that a plan is made from. jobs: in the order of booking. collections: the minutes at which goods leave.

    days: beyond them nothing is placed. Nothing starts before `now_minute`.
    """

    first_day: date
    now_minute: int
    days: int
    people: tuple[PersonAsked, ...]
    benches: tuple[str, ...]
    mixes: tuple[MixAsked, ...] = ()
    jobs: tuple[JobAsked, ...] = ()
    loads: tuple[LoadAsked, ...] = ()
    collections: tuple[int, ...] = ()
    asks: tuple[FurtherJob, ...] = ()
