"""What a bench rule is, and what it finds. Pure: no Django."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from recipes.finishes.bench_rules.pane import AtStep


@dataclass(frozen=True, kw_only=True)
class Finding:
    """A rule broken at a step. A stop keeps the version out of use; a caution is acknowledged by name."""

    rule: str
    step: int
    sentence: str
    reason: str
    stops: bool


Check = Callable[[AtStep], str]


@dataclass(frozen=True, kw_only=True)
class BenchRule:
    name: str
    reason: str
    stops: bool
    check: Check


def adding_to(rules: list[BenchRule], *, stops: bool) -> Callable[[str], Callable[[Check], Check]]:
    """Return a decorator that takes a rule's reason and adds the rule, named as its function is."""
    def because(reason: str) -> Callable[[Check], Check]:
        def add(check: Check) -> Check:
            name = check.__name__.replace("_", " ")
            rules.append(BenchRule(name=name, reason=reason, stops=stops, check=check))
            return check

        return add

    return because
