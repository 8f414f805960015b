"""The pairs that must not meet, and where."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Where = Literal["solution", "between steps", "waste", "storage"]


@dataclass(frozen=True, kw_only=True)
class DangerousPair:
    """Two groups of agents that must not meet: where that holds, and whether it stops or cautions there."""

    name: str
    first: frozenset[str]
    second: frozenset[str]
    reason: str
    source: str
    stops: frozenset[Where]
    cautions: frozenset[Where] = frozenset()

    def met_by(self, agents: Iterable[str], others: Iterable[str]) -> bool:
        """Say whether two sets of agents bring this pair together."""
        agents, others = frozenset(agents), frozenset(others)
        return bool((self.first & agents and self.second & others) or (self.first & others and self.second & agents))


_ACIDS = frozenset({"acid", "oxidising_acid"})
_EVERYWHERE: frozenset[Where] = frozenset({"solution", "between steps", "waste", "storage"})

DANGEROUS_PAIRS: tuple[DangerousPair, ...] = (
    DangerousPair(
        name="sulfide and acid", first=frozenset({"sulfide"}), second=_ACIDS, stops=_EVERYWHERE,
        reason="Acid frees hydrogen sulfide, a poisonous gas, from a sulfide.",
        source="Common chemistry; storage guides of university safety offices.",
    ),
    DangerousPair(
        name="ammonia and hypochlorite", first=frozenset({"ammonia"}), second=frozenset({"hypochlorite"}),
        stops=_EVERYWHERE, reason="Ammonia and bleach form chloramines, which are poisonous.",
        source="Common chemistry; bleach suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="acid and hypochlorite", first=_ACIDS, second=frozenset({"hypochlorite"}), stops=_EVERYWHERE,
        reason="Acid frees chlorine, a poisonous gas, from bleach.",
        source="Common chemistry; bleach suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="silver salt and ammonia", first=frozenset({"silver_salt"}), second=frozenset({"ammonia"}),
        stops=frozenset({"storage"}), cautions=frozenset({"waste", "between steps"}),
        reason="On standing or drying they form explosive silver nitride: never stored, made safe in the same shift.",
        source="Klinger, Scheele and Steele, Chemical & Engineering News 74 (2), 8 January 1996.",
    ),
    DangerousPair(
        name="nitric acid and alcohol", first=frozenset({"oxidising_acid"}), second=frozenset({"solvent"}),
        stops=_EVERYWHERE,
        reason="Nitric acid reacts violently with alcohol; with a silver salt they make explosive silver fulminate.",
        source="Haight, letter in the Journal of Chemical Education; suppliers' safety data sheets.",
    ),
    DangerousPair(
        name="oxidiser and solvent", first=frozenset({"oxidiser", "silver_salt"}), second=frozenset({"solvent"}),
        stops=frozenset({"waste", "storage"}), cautions=frozenset({"solution", "between steps"}),
        reason="An oxidiser feeds a solvent's fire; a dilute published reducer is the one place they meet.",
        source="Storage groups of university safety offices (Georgia Tech, Georgetown, Kentucky).",
    ),
    DangerousPair(
        name="acid and caustic", first=_ACIDS, second=frozenset({"caustic"}),
        stops=frozenset({"waste", "storage"}), cautions=frozenset({"solution", "between steps"}),
        reason="Acid and caustic meet with heat and spatter.",
        source="Storage groups of university safety offices (Georgia Tech, Georgetown, Kentucky).",
    ),
)


def pairs_met(agents: Iterable[str], others: Iterable[str], where: Where) -> list[tuple[DangerousPair, bool]]:
    """Return the pairs that two sets of agents bring together in a place, each with whether it stops there."""
    agents, others = frozenset(agents), frozenset(others)
    return [
        (pair, where in pair.stops)
        for pair in DANGEROUS_PAIRS
        if where in pair.stops | pair.cautions and pair.met_by(agents, others)
    ]
