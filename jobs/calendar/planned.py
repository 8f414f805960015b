"""What a calendar answers: a place for every work, stretch and mixing, refusals by name, and how good it all is.

Times as in `asked`: whole minutes from midnight of the first day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class PlacedWork:
    """Who begins it when; those hands stay with it to its end."""

    start_minute: int
    people: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class PlacedJob:
    """A job's works before and after the bench, in order, and when it is ready (collected, if it leaves so)."""

    before: tuple[PlacedWork, ...]
    after: tuple[PlacedWork, ...]
    finish_minute: int


@dataclass(frozen=True, kw_only=True)
class PlacedStretch:
    """A stretch on its bench, its works in order."""

    bench: str
    works: tuple[PlacedWork, ...]

    @property
    def start_minute(self) -> int:
        return self.works[0].start_minute


@dataclass(frozen=True, kw_only=True)
class Mixing:
    """One batch: which mix, begun when and by whom, and the stretches that use it."""

    key: str
    start_minute: int
    people: tuple[str, ...]
    stretches: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """A job that can't be done, and why: a sentence."""

    job: str
    why: str


@dataclass(frozen=True, kw_only=True, order=True)
class Value:
    """How good a plan is: what counts first stands first, and less is better.

    late: Σ weight × days after due. finish_days: Σ of the days on which jobs are ready. moved: stretches on another
    day than in the plan before.
    """

    refused: int
    late: int
    finish_days: int
    mixings: int
    moved: int


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A place for everything: jobs and stretches by id, mixings by start; jobs refused with their loads."""

    jobs: Mapping[str, PlacedJob] = field(default_factory=dict)
    stretches: Mapping[str, PlacedStretch] = field(default_factory=dict)
    mixings: tuple[Mixing, ...] = ()
    refused: tuple[Refusal, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FirstDay:
    """A further job's first honest day, and the plan in which it is ready then; None with the reason.

    plan: of all jobs booked and this one; no job with a day told is later in it than in the plan it was asked of.
    """

    job: str
    day: int | None
    plan: Plan | None = None
    why: str = ""


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The plan, its value, and a day for each further job that asked."""

    plan: Plan
    value: Value
    asks: tuple[FirstDay, ...] = ()
