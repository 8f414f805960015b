"""What a storage place may hold, and what must not share one, by class. Pure.

A place is one cabinet, by its name; its type says what it is built for, and it may be cold or dark beside that. Two
cabinets of one type are two places. Source: storage groups of university safety offices, from memory.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import reduce

from studio.stockroom.hazards.classes import REACTS_AS, UNCLASSED, with_implied
from studio.stockroom.hazards.meeting import Met, Thing, meet
from studio.stockroom.hazards.pairs import UNKNOWN, DangerousPair

ACIDS, CAUSTICS, OXIDISERS = "acids", "caustics", "oxidisers"
FLAMMABLES, TOXICS, GENERAL = "flammables", "toxics", "general"

#: types of places, in words
PLACE_TYPES: dict[str, str] = {
    ACIDS: "for acids", CAUSTICS: "for caustics", OXIDISERS: "for oxidisers", FLAMMABLES: "for flammables",
    TOXICS: "for toxics", GENERAL: "general",
}
_ANY = frozenset(PLACE_TYPES)

#: class → types of place it may stand in; what has no row may stand anywhere
MAY_STAND_IN: dict[str, frozenset[str]] = {
    **dict.fromkeys(("acid_strong", "hydrochloric", "sulfuric_strong", "oxidising_acid"), frozenset({ACIDS})),
    **dict.fromkeys(
        ("acid", "organic_acid", "acid_reacting", "iron_chloride", "tin_salt"), frozenset({ACIDS, GENERAL}),
    ),
    **dict.fromkeys(("caustic", "caustic_solid", "ammonia"), frozenset({CAUSTICS})),
    **dict.fromkeys(("oxidiser", "ammonium_nitrate", "nitrite", "permanganate"), frozenset({OXIDISERS})),
    "hypochlorite": frozenset({CAUSTICS, OXIDISERS}),
    **dict.fromkeys(("alcohol", "acetone", "solvent", "flammable", "acetylene"), frozenset({FLAMMABLES})),
    **dict.fromkeys(("fluoride", "hydrazine", "aldehyde"), frozenset({TOXICS})),
    **dict.fromkeys(("sulfide", "cyanide_complex", "gas_with_acid"), frozenset({CAUSTICS, TOXICS, GENERAL})),
    **dict.fromkeys(("silver_salt", "silver_chloride"), frozenset({OXIDISERS, TOXICS, GENERAL})),
    "peroxide": frozenset({OXIDISERS, GENERAL}),
    "oxalate": frozenset({TOXICS, GENERAL}), "iodine": frozenset({TOXICS, GENERAL}),
    **dict.fromkeys(("sugar", "tartrate", "reducer", "thiosulfate", "zinc", "aluminium"), _ANY - {OXIDISERS}),
}
#: class → classes whose own place it overrules: nitric acid stands with acids though it feeds a fire
_OVERRULES: dict[str, frozenset[str]] = {
    "oxidising_acid": frozenset({"oxidiser"}),
    "hypochlorite": frozenset({"oxidiser", "caustic", "gas_with_acid"}),
    "flammable": frozenset({"acid", "organic_acid"}),
    "fluoride": frozenset({"acid", "acid_strong", "acid_reacting"}),
    "hydrazine": frozenset({"acid_reacting"}),
    "oxidiser": frozenset({"acid_reacting"}),
}
WANTS_DARK = frozenset({"silver_salt", "silver_chloride"})

#: (type of place, pair): a cabinet of that type is built to hold both, each on a shelf or tray of its own
BY_SHELVES: frozenset[tuple[str, str]] = frozenset({
    (ACIDS, "strong oxidiser and organic acid"), (ACIDS, "nitric and hydrochloric acid"),
    (OXIDISERS, "permanganate and peroxide"), (OXIDISERS, "silver salt and peroxide"),
})


@dataclass(frozen=True, kw_only=True)
class Place:
    """One cabinet or shelf: its name, its type, and whether it is cold or dark."""

    name: str
    type: str = GENERAL
    is_cold: bool = False
    is_dark: bool = False

    @property
    def in_words(self) -> str:
        """Return what it is: “for oxidisers, dark”."""
        return ", ".join(filter(None, (PLACE_TYPES[self.type], "cold" if self.is_cold else "",
                                       "dark" if self.is_dark else "")))


@dataclass(frozen=True, kw_only=True)
class Stored:
    """Something that is, or would be, stored in a place. type: that of the place. agents: `unclassed` among them.

    is_waste: a waste container; it stands in any type of place, as no cabinet is built for what is mixed.
    """

    name: str
    place: str
    agents: frozenset[str]
    type: str = GENERAL
    is_dark: bool = False
    is_waste: bool = False

    @property
    def is_unclassed(self) -> bool:
        return UNCLASSED in self.agents

    @property
    def in_words(self) -> str:
        """Return what it reacts as: “acid, chloride”; unknown where nobody knows."""
        known = sorted(REACTS_AS[code] for code in self.agents if code in REACTS_AS)
        return ", ".join([*known, *(["unknown"] if self.is_unclassed else [])])


@dataclass(frozen=True, kw_only=True)
class StoredTogether:
    """Two things that must not be stored in one place, why, and whether it stops or cautions.

    by_shelves: the place is built to hold both, each on a shelf of its own.
    """

    place: str
    first: str
    second: str
    pair: DangerousPair
    stops: bool
    by_shelves: bool = field(default=False)

    def touches(self, names: Iterable[str]) -> bool:
        """Say whether one of the two has one of some names."""
        return bool({self.first, self.second} & set(names))

    @property
    def sentence(self) -> str:
        apart = " Keep each on a shelf or tray of its own there." if self.by_shelves else ""
        share = "must not share" if self.stops else "share"
        return f"{self.first} and {self.second} {share} {self.place}: {self.pair.reason}{apart}"


@dataclass(frozen=True, kw_only=True)
class WrongPlace:
    """Something whose place is not of a type that suits its classes, or not dark where it wants the dark."""

    name: str
    place: str
    sentence: str
    stops: bool = False

    def touches(self, names: Iterable[str]) -> bool:
        """Say whether it has one of some names."""
        return self.name in names


def types_for(agents: Iterable[str]) -> frozenset[str]:
    """Return the types of place that something may stand in, by its classes; none where no one type suits them all."""
    classes = with_implied(agents)
    overruled = frozenset(lesser for code in classes for lesser in _OVERRULES.get(code, ()))
    return reduce(frozenset.__and__, (MAY_STAND_IN.get(code, _ANY) for code in classes - overruled), _ANY)


def wrong_place(thing: Stored) -> list[WrongPlace]:
    """Return what is wrong with where something stands, by the type of its place."""
    if not thing.place or thing.is_waste:
        return []
    types, classes = types_for(thing.agents), with_implied(thing.agents)
    words, found = thing.in_words, []
    if thing.is_unclassed:
        found.append(f"How {thing.name} reacts is unknown: keep it apart from everything in {thing.place} until its "
                     "data sheet is read.")
    if thing.type not in types:
        wanted = " or ".join(PLACE_TYPES[kind] for kind in PLACE_TYPES if kind in types)
        belongs = f"it belongs in a place {wanted}" if types else "no type of place suits all of that: ask its supplier"
        here = "a general place" if thing.type == GENERAL else f"a place {PLACE_TYPES[thing.type]}"
        found.append(f"{thing.name} ({words}) stands in {thing.place}, {here}: {belongs}.")
    if classes & WANTS_DARK and not thing.is_dark:
        found.append(f"{thing.name} wants the dark, and {thing.place} is not said to be dark.")
    return [WrongPlace(name=thing.name, place=thing.place, sentence=sentence) for sentence in found]


def stored_together(things: Iterable[Stored]) -> list[StoredTogether]:
    """Return every pair that must not share its place, what stops first."""
    by_place: dict[str, list[Stored]] = defaultdict(list)
    for thing in things:
        if thing.place and thing.agents:
            by_place[thing.place.casefold()].append(thing)
    conflicts = []
    met_of: dict[tuple[frozenset[str], frozenset[str], bool, bool], list[Met]] = {}
    for neighbours in by_place.values():
        ordered = sorted(neighbours, key=lambda thing: thing.name)
        for at, first in enumerate(ordered):
            for second in ordered[at + 1:]:
                alike = first.agents, second.agents, first.is_waste, second.is_waste
                if alike not in met_of:  # many bottles are alike
                    met_of[alike] = _of_two(first, second)
                for met in met_of[alike]:
                    apart = (first.type, met.pair.name) in BY_SHELVES
                    conflicts.append(StoredTogether(
                        place=first.place, first=first.name, second=second.name, pair=met.pair,
                        stops=met.stops and not apart, by_shelves=apart,
                    ))
    return sorted(conflicts, key=lambda two: (not two.stops, two.place, two.first, two.second))


def _of_two(first: Stored, second: Stored) -> list[Met]:
    """Return what comes of two packages if both break or leak.

    Packages are closed: what one holds by itself is its maker's, and a third that stands by meets neither, so that
    ammonia is freed only where one of the two is caustic and the other an ammonium salt. What is unclassed is said
    where it stands, once, not of everything beside it.
    """
    met = meet([Thing(name=first.name, classes=first.agents)], "storage",
               onto=[Thing(name=second.name, classes=second.agents)])
    return [found for found in met if found.pair is not UNKNOWN
            and not (first.is_waste and second.is_waste and _holds(first, found.pair) and _holds(second, found.pair))]


def _holds(waste: Stored, pair: DangerousPair) -> bool:
    """Say whether a waste container holds a pair in itself: two such bring nothing new to each other."""
    return all(side & with_implied(waste.agents) for side in pair.sides)
