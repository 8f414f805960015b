"""What meets, and what comes of it: one function for every place.

*What meets* are things, each a material (or what a pane or a container holds) with its classes: in one solution at any
depth, in the parts of one step, on a pane, in a waste container, in a storage place. `meet` answers for all of them.

**Silvering itself is allowed.** Silver nitrate or ammoniacal silver with caustic, water and a dilute reducer would stop
by the rows that speak of oxidisers, so those rows caution where everything there belongs to silvering *by its identity*
and keeps to the limits of the published formulas: alcohol at most 20 % by volume of the solution that holds it (Barry
15, Brashear 14.8), nitric acid at most 1 % as HNO₃ by mass (Brashear 0.14), formaldehyde at most 2 % by mass of the
bath. Acid and caustic stop in a solution or a step unless each is under 10 % by mass of the solution it stands in; a
share that nobody can tell is not a small one, but of silvering's own caustic beside its reducer's dilute acid. A cold
published reducer holds a little nitric acid and alcohol, and no silver: where it meets silver in a step,
that cautions, fulminate named; all three in one solution stop. With ammoniacal silver, anything else that a row speaks
of stops.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from studio.stockroom.hazards.classes import UNCLASSED, is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.pairs import DANGEROUS_PAIRS, UNKNOWN, DangerousPair, Where

MOST_ALCOHOL_BY_VOLUME = Fraction(20, 100)
MOST_NITRIC_BY_MASS = Fraction(1, 100)
MOST_ALDEHYDE_BY_MASS = Fraction(2, 100)
#: below which an acid or a caustic is dilute, as the pure substance (general chemistry, from memory)
DILUTE_BY_MASS = Fraction(10, 100)

#: classes of materials that are silvering's own by their identity (CAS number or formula)
OF_SILVERING = frozenset({
    "silver_salt", "ammonia", "ammonium", "caustic", "caustic_solid", "water", "sugar", "tartrate", "aldehyde",
    "alcohol", "nitrate", "ammonium_nitrate", "oxidiser", "reducer", "solvent", "flammable", "acid", "organic_acid",
    "acid_strong", "oxidising_acid",
})
#: classes that a material without a known identity may have and still stand beside ammoniacal silver
_ORDINARY = frozenset({
    "oxidiser", "silver_salt", "ammonia", "ammonium", "caustic", "caustic_solid", "water", "sugar", "tartrate",
    "reducer", "nitrate",
})
#: rows that silvering itself overrules: they caution there
_OVERRULED = frozenset({
    "oxidiser and reducer", "oxidiser and alcohol or solvent", "dry nitrate and fuel", "ammonium salt and caustic",
})
#: rows that a cold published reducer with a little nitric acid and alcohol overrules besides
_OLD_REDUCER = frozenset({
    "nitric acid and alcohol, solvent or sugar", "silver salt, alcohol and nitric acid",
})


@dataclass(frozen=True, kw_only=True)
class Thing:
    """One thing that meets others.

    of_silvering: its identity is one of silvering's own materials. by_volume, by_mass: the largest share that it has of
    a solution it stands in (0 to 1, as the pure substance by mass); None where nobody can say.
    """

    name: str
    classes: frozenset[str]
    of_silvering: bool = False
    by_volume: Fraction | None = None
    by_mass: Fraction | None = None

    @cached_property
    def all_classes(self) -> frozenset[str]:
        return with_implied(self.classes)

    def larger_of(self, other: Thing) -> Thing:
        """Return the same thing with the larger share that it has in two places; unknown in one is unknown."""
        return replace(self, by_volume=_largest(self.by_volume, other.by_volume),
                       by_mass=_largest(self.by_mass, other.by_mass))


@dataclass(frozen=True, kw_only=True)
class Met:
    """A pair that comes together, by which things, and whether it stops there."""

    pair: DangerousPair
    things: tuple[str, ...]
    stops: bool

    @property
    def sentence(self) -> str:
        """Return a sentence a person at the bench understands: “Vinegar and bleach meet: …”"""
        *rest, last = self.things
        if self.pair is UNKNOWN:
            return f"{', '.join(self.things)}: {self.pair.reason}"
        return f"{', '.join(rest)} and {last} meet: {self.pair.reason}"


def meet(things: Iterable[Thing], where: Where, *, onto: Iterable[Thing] | None = None) -> list[Met]:
    """Return every pair that comes together in a place, what stops first.

    things: all that is there. onto: where given, what lies there already; then only what comes of the two meeting is
    said, not what either holds by itself.
    """
    coming, lying = _with_freed_ammonia(list(things), list(onto) if onto is not None else None)
    everything = coming + (lying or [])
    if where in ("waste", "storage") or not everything:
        lenient, strict = False, False
    else:
        lenient = _is_silvering(everything)
        strict = where != "residue" and is_ammoniacal_silver(_classes(everything))
    found = []
    for pair in DANGEROUS_PAIRS:
        if where not in pair.stops | pair.cautions:
            continue
        names = _brought_together(pair, coming, lying)
        if names:
            found.append(Met(pair=pair, things=names, stops=_stops(pair, where, names, everything, lenient, strict)))
    found += _unknown(coming, lying, where)
    return sorted(found, key=lambda met: not met.stops)


def _with_freed_ammonia(coming: list[Thing], lying: list[Thing] | None) -> tuple[list[Thing], list[Thing] | None]:
    """Return the things with the ammonia that caustic frees from an ammonium salt."""
    if "caustic" not in _classes(coming + (lying or [])):
        return coming, lying

    def freed(thing: Thing) -> Thing:
        return replace(thing, classes=thing.classes | {"ammonia"}) if "ammonium" in thing.all_classes else thing

    return [freed(thing) for thing in coming], None if lying is None else [freed(thing) for thing in lying]


def _largest(first: Fraction | None, second: Fraction | None) -> Fraction | None:
    return None if first is None or second is None else max(first, second)


def _stops(
    pair: DangerousPair, where: Where, names: tuple[str, ...], everything: list[Thing], lenient: bool, strict: bool,
) -> bool:
    if where in pair.stops_strong and _is_strong(pair, everything, lenient):
        return True
    if lenient:
        classes = _classes(everything)
        fulminate = where == "solution" and {"silver_salt", "alcohol"} <= classes
        old_reducer = "oxidising_acid" in classes and not fulminate
        overruled = _OVERRULED | (_OLD_REDUCER if old_reducer else frozenset())
        return where in pair.stops and pair.name not in overruled
    if strict and any(thing.name in names and _is_foreign(thing) for thing in everything):
        return True
    if strict and "alcohol" in pair.name and not _keeps_to_limits(everything):
        return True
    return where in pair.stops


def _is_strong(pair: DangerousPair, everything: list[Thing], lenient: bool) -> bool:
    """Say whether two things bring a pair together of which one is not known to be dilute.

    lenient: in silvering itself its caustic, of which the formulas say no share, may be any beside a dilute acid.
    """
    return any(
        not _is_dilute(first) or not (lenient or _is_dilute(second))
        for first in everything if pair.strong & first.all_classes
        for second in everything if pair.second & second.all_classes and second is not first
    )


def _is_dilute(thing: Thing) -> bool:
    return thing.by_mass is not None and thing.by_mass < DILUTE_BY_MASS


def _classes(things: Iterable[Thing]) -> frozenset[str]:
    return frozenset(cls for thing in things for cls in thing.all_classes)


def _is_foreign(thing: Thing) -> bool:
    """Say whether a thing does not belong to silvering: more classes never make it belong."""
    return not thing.all_classes <= (OF_SILVERING if thing.of_silvering else _ORDINARY)


def _is_silvering(things: list[Thing]) -> bool:
    classes = _classes(things)
    old_reducer = "oxidising_acid" in classes and classes <= OF_SILVERING - {"aldehyde", "tartrate"}
    if "silver_salt" not in classes and not old_reducer:
        return False
    if any("oxidiser" in thing.all_classes and not thing.of_silvering for thing in things):
        return False  # an oxidiser that nobody can name is not silver nitrate
    return not any(_is_foreign(thing) for thing in things) and _keeps_to_limits(things)


def _keeps_to_limits(things: Iterable[Thing]) -> bool:
    for thing in things:
        classes = thing.all_classes
        if classes & {"alcohol", "solvent", "flammable"} and not _at_most(thing.by_volume, MOST_ALCOHOL_BY_VOLUME):
            return False
        if "oxidising_acid" in classes and not _at_most(thing.by_mass, MOST_NITRIC_BY_MASS):
            return False
        if "aldehyde" in classes and not _at_most(thing.by_mass, MOST_ALDEHYDE_BY_MASS):
            return False
    return True


def _at_most(share: Fraction | None, most: Fraction) -> bool:
    return share is not None and share <= most


def _brought_together(pair: DangerousPair, coming: list[Thing], lying: list[Thing] | None) -> tuple[str, ...]:
    """Return the names of the things that bring a pair together; empty where no two of them do.

    Where something lies there already, one side at least comes and one lies. A thing alone meets nothing: what a bottle
    holds is its maker's.
    """
    everything = coming + (lying or [])
    by_side = [[thing for thing in everything if side & thing.all_classes] for side in pair.sides]
    if not all(by_side):
        return ()
    for first in by_side[0]:
        for second in by_side[1]:
            for last in by_side[2] if len(by_side) > 2 else [second]:
                together = list({id(thing): thing for thing in (first, second, last)}.values())
                if len(together) < 2:
                    continue
                if lying is not None and not (_any_of(together, coming) and _any_of(together, lying)):
                    continue
                return tuple(dict.fromkeys(thing.name for thing in together))
    return ()


def _any_of(some: list[Thing], things: list[Thing]) -> bool:
    return any(thing is other for thing in some for other in things)


def _unknown(coming: list[Thing], lying: list[Thing] | None, where: Where) -> list[Met]:
    """Return that something unclassed is there; alone in its place or with others."""
    names = tuple(thing.name for thing in coming + (lying or []) if UNCLASSED in thing.classes)
    return [Met(pair=UNKNOWN, things=names, stops=where in UNKNOWN.stops)] if names else []
