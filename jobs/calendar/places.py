"""Where a stretch stands, in slots from midnight of the first day: bench, works and whose hands, mixings."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.calendar.ground import StretchShape, UseShape

Hands = tuple[int, ...]
#: for each work of a stretch on a day: whose hands, and the slots at which they may begin it
Masks = list[list[tuple[Hands, int]]]


@dataclass(frozen=True, slots=True)
class MixPlace:
    """A use of a mix and its mixing: one that is there (`joins`, its place among its kind), or a new one."""

    use: UseShape
    joins: int | None
    start: int
    person: int


@dataclass(frozen=True, slots=True)
class StretchPlace:
    """A stretch in slots from midnight of the first day."""

    shape: StretchShape
    bench: int
    works: tuple[tuple[int, Hands], ...]
    mixes: tuple[MixPlace, ...]
    start: int
    end: int
