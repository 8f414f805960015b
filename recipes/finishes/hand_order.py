"""In which order the hands take mixes and steps: a mix just before its step, but never while wet glass waits for it.

Steps follow each other at once as long as the glass between them is wet (a *stretch*); after a step that dries the
pane, or only looks at it, a load may wait. What is mixed for a step is mixed right before it, or, where a dwell or a
step that leaves something working on the glass stands between in the same stretch, before that. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Protocol

from recipes.step_kinds import kind_of


class Worked(Protocol):
    """What the order of the hand asks of a step."""

    @property
    def kind(self) -> str: ...
    @property
    def drying(self) -> str: ...
    @property
    def attended(self) -> bool: ...
    @property
    def dwell_minutes(self) -> Fraction: ...


def may_wait_after(step: Worked) -> bool:
    """Say whether a load may wait after a step: when the step dries it, or only looks at it."""
    return bool(step.drying) or kind_of(step.kind).may_wait


def mixed_before(steps: Sequence[Worked]) -> tuple[int, ...]:
    """Return, for each step by its place, the place of the step before which its mix is mixed.

    Making safe belongs to the stretch before it, and lets the load wait where that step did.
    """
    found = []
    ahead: int | None = None
    waits = False
    for at, step in enumerate(steps):
        found.append(at if ahead is None else ahead)
        waits = may_wait_after(step) or (waits and kind_of(step.kind).makes_safe)
        stands_by_itself = not step.attended and step.dwell_minutes > 0
        if ahead is None and (stands_by_itself or waits or kind_of(step.kind).applying):
            ahead = at
        safe_next = at + 1 < len(steps) and kind_of(steps[at + 1].kind).makes_safe
        if waits and not safe_next:
            ahead = None
    return tuple(found)


def letter(number: int) -> str:
    """Return the name of the number-th mix of a ticket or trial, from 0: A to Z, then AA, AB and on."""
    name = ""
    number += 1
    while number:
        number, at = divmod(number - 1, 26)
        name = chr(ord("A") + at) + name
    return name
