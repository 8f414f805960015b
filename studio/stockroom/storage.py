"""Which materials must not stand together, by storage place and agent class. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from studio.stockroom.hazards import EndangeringPair, pairs_met


@dataclass(frozen=True, kw_only=True)
class Stored:
    """Something that stands, or would stand, in a place."""

    name: str
    place: str
    agents: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class StoredTogether:
    """Two that must not stand in one place, why, and whether it stops or cautions."""

    place: str
    first: str
    second: str
    pair: EndangeringPair
    stops: bool

    def touches(self, names: Iterable[str]) -> bool:
        """Say whether one of some names is among the two."""
        return bool({self.first, self.second} & set(names))

    @property
    def sentence(self) -> str:
        return f"{self.first} and {self.second} stand together in {self.place}: {self.pair.reason} ({self.pair.source})"


#: pairs that are deadly together stop; the rest of the table's storage pairs caution, since places are only words
DEADLY = frozenset({"sulfide and acid", "ammonia and hypochlorite", "acid and hypochlorite", "nitric acid and alcohol"})


def stored_together(things: Iterable[Stored]) -> list[StoredTogether]:
    """Return every pair that must not share its place, the deadly ones first."""
    by_place: dict[str, list[Stored]] = defaultdict(list)
    for one in things:
        if one.place and one.agents:
            by_place[one.place.casefold()].append(one)
    found = []
    for mine in by_place.values():
        ordered = sorted(mine, key=lambda one: one.name)
        for at, first in enumerate(ordered):
            for second in ordered[at + 1:]:
                found += [
                    StoredTogether(place=first.place, first=first.name, second=second.name, pair=pair,
                                   stops=pair.name in DEADLY)
                    for pair, _ in pairs_met(first.agents, second.agents, "storage")
                ]
    return sorted(found, key=lambda one: (not one.stops, one.place, one.first, one.second))
