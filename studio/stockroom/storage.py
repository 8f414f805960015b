"""Which materials must not be stored in one place, by what they react as. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from studio.stockroom.hazards.pairs import DangerousPair, pairs_met


@dataclass(frozen=True, kw_only=True)
class Stored:
    """Something that is, or would be, stored in a place."""

    name: str
    place: str
    agents: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class StoredTogether:
    """Two things that must not be stored in one place, why, and whether it stops or cautions."""

    place: str
    first: str
    second: str
    pair: DangerousPair
    stops: bool

    def touches(self, names: Iterable[str]) -> bool:
        """Say whether one of the two has one of some names."""
        return bool({self.first, self.second} & set(names))

    @property
    def sentence(self) -> str:
        both, pair = f"{self.first} and {self.second}", self.pair
        return f"{both} are stored together in {self.place}: {pair.reason} ({pair.source})"


#: pairs that are deadly together stop; the rest of the table's storage pairs caution, since a place is only a name
DEADLY = frozenset({
    "acid and sulfide", "ammonia and bleach", "acid and bleach", "nitric acid and alcohol, solvent or sugar",
})


def stored_together(things: Iterable[Stored]) -> list[StoredTogether]:
    """Return every pair that must not share its place, the deadly ones first."""
    by_place: dict[str, list[Stored]] = defaultdict(list)
    for thing in things:
        if thing.place and thing.agents:
            by_place[thing.place.casefold()].append(thing)
    conflicts = []
    for neighbours in by_place.values():
        ordered = sorted(neighbours, key=lambda thing: thing.name)
        for at, first in enumerate(ordered):
            for second in ordered[at + 1:]:
                conflicts += [
                    StoredTogether(place=first.place, first=first.name, second=second.name, pair=pair,
                                   stops=pair.name in DEADLY)
                    for pair, _ in pairs_met(first.agents, second.agents, "storage")
                ]
    return sorted(conflicts, key=lambda two: (not two.stops, two.place, two.first, two.second))
