"""What meets, and what comes of it: published silvering formulas pass, each with a foreign thing added stops.

Formulas: Wilkinson, Photo-Engraving (Common's); Draper, On the Construction of a Silvered Glass Telescope; Barry,
Silvering Telescope Mirrors; NBS Circular 389 and Ingalls, Amateur Telescope Making (Brashear's, figures from memory);
Henley's Twentieth Century Formulas; Amateur Work, A Cheap Nine Inch Reflector (formaldehyde); Workshop Receipts (curved
glass, with much alcohol, which must stop).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.stockroom.hazards.classes import IMPLIES, REACTS_AS, is_ammoniacal_silver, with_implied
from studio.stockroom.hazards.meeting import Thing, meet
from studio.stockroom.hazards.pairs import AT_WORK, DANGEROUS_PAIRS, EVERYWHERE


def thing(name: str, *classes: str, own: bool = True, volume: str | None = None, mass: str | None = None) -> Thing:
    return Thing(name=name, classes=frozenset(classes), of_silvering=own,
                 by_volume=Fraction(volume) if volume else None, by_mass=Fraction(mass) if mass else None)


SILVER = thing("silver nitrate", "silver_salt", "oxidiser", "nitrate")
AMMONIA = thing("ammonia water", "ammonia")
AMMONIUM_NITRATE = thing("ammonium nitrate", "ammonium_nitrate", "ammonium", "nitrate", "oxidiser")
CAUSTIC = thing("potassium hydroxide", "caustic", "caustic_solid")
SUGAR, ROCHELLE = thing("dextrose", "sugar"), thing("Rochelle salt", "tartrate", "reducer")
WATER = thing("water", "water")


def alcohol(share: str) -> Thing:
    return thing("alcohol", "alcohol", "flammable", "solvent", volume=share)


def nitric(share: str) -> Thing:
    return thing("nitric acid", "oxidising_acid", "acid", "acid_strong", "oxidiser", mass=share)


def formaldehyde(share: str) -> Thing:
    return thing("formaldehyde", "aldehyde", "reducer", mass=share)


FORMULAS = {
    "Common": (SILVER, AMMONIA, CAUSTIC, SUGAR, WATER),
    "Draper": (SILVER, AMMONIA, ROCHELLE, WATER),
    "Barry": (SILVER, AMMONIUM_NITRATE, CAUSTIC, SUGAR, alcohol("0.15"), WATER),
    "Brashear": (SILVER, AMMONIA, CAUSTIC, SUGAR, alcohol("0.148"), nitric("0.0014"), WATER),
    "Henley": (SILVER, AMMONIA, ROCHELLE, WATER),
    "Formaldehyde": (SILVER, AMMONIA, formaldehyde("0.0062"), WATER),
    "Rochelle, two stocks": (SILVER, AMMONIA, ROCHELLE, WATER),
}
#: one thing that has no place in silvering, by a class of its own
FOREIGN = {cls: thing(f"some {words}", cls, own=False) for cls, words in REACTS_AS.items() if cls in {
    "hypochlorite", "permanganate", "peroxide", "acetone", "hydrazine", "sulfide", "chloride", "thiosulfate",
    "iodine", "cyanide_complex", "acetylene", "hydrochloric", "acid", "solvent", "oxalate",
}}


def stops(things, where="solution"):
    return [met.pair.name for met in meet(things, where) if met.stops]


#: Brashear's reducer holds nitric acid and alcohol: it meets the silver in a step, never in one solution
AS_ONE_SOLUTION = [name for name in FORMULAS if name != "Brashear"]


@pytest.mark.parametrize(("name", "where"), [*((name, "step") for name in FORMULAS), *((name, "solution") for name in AS_ONE_SOLUTION)])
def test_every_published_formula_passes_with_cautions(name, where):
    assert stops(FORMULAS[name], where) == []
    assert list(meet(FORMULAS[name], where)), "silvering itself is cautioned"
    assert is_ammoniacal_silver(cls for each in FORMULAS[name] for cls in each.classes)


@pytest.mark.parametrize("where", ["solution", "step"])
@pytest.mark.parametrize("foreign", FOREIGN)
@pytest.mark.parametrize("name", FORMULAS)
def test_one_foreign_thing_stops_every_formula(name, foreign, where):
    assert stops((*FORMULAS[name], FOREIGN[foreign]), where)


def test_much_alcohol_with_ammoniacal_silver_stops():
    """Workshop Receipts, curved glass: half its volume alcohol. Barry's 15 % passes, 20 % is the last that does."""
    assert "ammoniacal silver and alcohol or solvent" in stops((SILVER, AMMONIA, alcohol("0.5"), WATER))
    assert stops((SILVER, AMMONIA, alcohol("0.2"), WATER)) == []
    assert stops((SILVER, AMMONIA, alcohol("0.2001"), WATER))
    assert stops((SILVER, AMMONIA, replace(alcohol("0.1"), by_volume=None), WATER)), "an unknown share is not a small one"


@pytest.mark.parametrize(("made", "over"), [(nitric("0.01"), nitric("0.0101")), (formaldehyde("0.02"), formaldehyde("0.0201"))])
def test_the_reducers_own_acid_and_aldehyde_have_limits(made, over):
    rest = (SILVER, AMMONIA, SUGAR, WATER)
    assert stops((*rest, made)) == []
    assert stops((*rest, over))


def test_silver_nitric_acid_and_alcohol_in_one_solution_stop():
    """What makes fulminate is not mixed in one vessel, however little of each; the cold reducer without silver is."""
    reducer = [thing for thing in FORMULAS["Brashear"] if not thing.all_classes & {"silver_salt", "ammonia", "caustic"}]
    assert stops(reducer) == []
    assert "silver salt, alcohol and nitric acid" in stops((*reducer, SILVER))
    assert "silver salt, alcohol and nitric acid" in stops((SILVER, nitric("0.001"), alcohol("0.01"), WATER))
    assert stops((*reducer, SILVER), "step") == []


def test_the_old_reducer_names_fulminate():
    said = [met.sentence for met in meet(FORMULAS["Brashear"], "step")]
    assert any("fulminate" in sentence for sentence in said)
    alone = (SUGAR, alcohol("0.148"), nitric("0.0014"), WATER)
    assert stops(alone) == []
    assert stops((SUGAR, alcohol("0.148"), nitric("0.02"), WATER))


def test_ammonium_salt_and_caustic_are_ammonia():
    """Barry's formula: ammoniacal silver without an ammonia bottle, from the third addition."""
    assert is_ammoniacal_silver({"silver_salt", "ammonium", "caustic"})
    assert not is_ammoniacal_silver({"silver_salt", "ammonium"})
    assert is_ammoniacal_silver({"silver_salt", "ammonium_nitrate", "hypochlorite"}), "bleach is caustic too"
    assert is_ammoniacal_silver({"silver_chloride", "ammonia"})


def test_iron_chloride_is_an_acid_to_bleach_and_to_sulfide():
    iron, bleach = thing("etch", "iron_chloride", own=False), thing("bleach", "hypochlorite", own=False)
    liver = thing("liver of sulfur", "sulfide", own=False)
    for place in EVERYWHERE:
        assert "acid and bleach" in stops((iron, bleach), place)
        assert "acid and sulfide" in stops((iron, liver), place)


def test_strong_acid_with_strong_caustic_stops_in_a_solution_and_a_step():
    """Each under 10 % cautions, strong with strong stops (the reference's pairs); a share nobody can tell is not small."""
    def acid(share: str | None) -> Thing:
        return thing("sulfuric acid", "acid", "acid_strong", own=False, mass=share)

    def lye(share: str | None) -> Thing:
        return thing("caustic soda", "caustic", own=False, mass=share)

    for place in ("solution", "step"):
        for strong, other in ((acid("0.96"), lye("0.5")), (acid("0.96"), lye("0.05")), (acid("0.05"), lye("0.1")),
                              (acid(None), lye("0.05")), (acid("0.05"), lye(None))):
            assert stops((strong, other), place) == ["acid and caustic"]
        assert stops((acid("0.099"), lye("0.099")), place) == []
        assert [met.pair.name for met in meet((acid("0.05"), lye("0.05")), place)] == ["acid and caustic"]
    assert stops((acid("0.96"), lye("0.5")), "residue") == [], "a rinse away, it is the caution it was"


def test_a_bottle_meets_nothing_by_itself():
    """Ammonium bifluoride is fluoride, ammonium and acid in one: alone in its bottle it is its maker's."""
    bifluoride = thing("ammonium bifluoride", "fluoride", "ammonium", "acid_reacting", own=False)
    assert meet((bifluoride,), "storage") == []
    assert "acid and fluoride" in stops((bifluoride, thing("vinegar", "organic_acid", own=False)), "storage")


def test_what_lies_on_the_pane_is_told_apart_from_what_comes():
    """A tray that held bleach and is rinsed a little: acid that comes onto it stops; what lay there does by itself not."""
    bleach, acid = thing("bleach", "hypochlorite", own=False), thing("vinegar", "organic_acid", own=False)
    assert [met.pair.name for met in meet((acid,), "residue", onto=(bleach,)) if met.stops] == ["acid and bleach"]
    assert meet((WATER,), "residue", onto=(bleach, acid)) == []


def test_unknown_is_not_safe():
    grandfather = thing("grandfather's developer", "unclassed", own=False)
    assert [(met.pair.name, met.stops) for met in meet((grandfather, WATER), "solution")] == [("an unclassed material", True)]
    assert [met.stops for met in meet((grandfather, WATER), "step")] == [False]


def test_every_row_has_its_reason_its_source_and_a_place():
    names = [pair.name for pair in DANGEROUS_PAIRS]
    assert len(set(names)) == len(names)
    for pair in DANGEROUS_PAIRS:
        assert pair.reason.endswith(".")
        assert pair.source.endswith(".")
        assert pair.stops | pair.cautions
        assert not pair.stops & pair.cautions
        assert frozenset().union(*pair.sides) <= set(REACTS_AS)
    assert frozenset().union(*IMPLIES.values()) | set(IMPLIES) <= set(REACTS_AS)


_things = st.lists(st.builds(
    Thing, name=st.sampled_from("abcdef"), classes=st.frozensets(st.sampled_from(sorted(REACTS_AS)), max_size=4),
    of_silvering=st.booleans(), by_volume=st.none() | st.fractions(0, 1), by_mass=st.none() | st.fractions(0, 1),
), min_size=1, max_size=5, unique_by=lambda made: made.name)


@given(_things, st.sampled_from(sorted(REACTS_AS)), st.integers(0, 4), st.sampled_from(sorted(EVERYWHERE)))
def test_saying_more_never_permits_more(things, added, at, where):
    """A class added to anything leaves every stop, and every caution, or raises it to a stop."""
    more = list(things)
    which = at % len(more)
    more[which] = replace(more[which], classes=more[which].classes | {added})
    before = {(met.pair.name, met.stops) for met in meet(things, where)}
    after = {(met.pair.name, met.stops) for met in meet(more, where)}
    for name, stopped in before:
        assert (name, True) in after or (not stopped and (name, False) in after)


@given(st.frozensets(st.sampled_from(sorted(REACTS_AS))))
def test_what_is_implied_is_implied_once_and_for_all(classes):
    assert classes <= with_implied(classes) == with_implied(with_implied(classes))


def test_places_of_work_are_places():
    assert AT_WORK < EVERYWHERE
