"""Facts of the trade as check values (common practice, no source): the models can state each, the rules catch its breach."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from recipes.facts import IngredientFacts, MaterialFacts, PartFacts, RecipeFacts, Shelf, SolutionFacts, StepFacts
from recipes.finishes.bench_rules import RULES, BenchRulesStop, in_bench_order, refuse_stops, walk, walking
from recipes.finishes.bench_rules.pane import at_each_step
from recipes.models import Step
from recipes.step_kinds import KINDS, kind_of

MATERIALS = {
    "water": MaterialFacts(key="water", name="water", stock_unit="mL", liquid=True),
    "tin": MaterialFacts(key="tin", name="tin salt", stock_unit="g", reacts_as=frozenset({"tin_salt"})),
    "silver": MaterialFacts(key="silver", name="silver nitrate", stock_unit="g",
                            reacts_as=frozenset({"silver_salt"})),
    "ammonia": MaterialFacts(key="ammonia", name="ammonia", stock_unit="mL", liquid=True,
                             reacts_as=frozenset({"ammonia"})),
    "gel": MaterialFacts(key="gel", name="antiquing concentrate", stock_unit="mL", liquid=True, must_be_diluted=True),
    "sulfide": MaterialFacts(key="sulfide", name="sulfide", stock_unit="g", reacts_as=frozenset({"sulfide"})),
    "acid": MaterialFacts(key="acid", name="acid", stock_unit="mL", liquid=True, reacts_as=frozenset({"acid"})),
    "caustic": MaterialFacts(key="caustic", name="caustic", stock_unit="g", reacts_as=frozenset({"caustic", "caustic_solid"})),
    "fluoride": MaterialFacts(key="fluoride", name="etch", stock_unit="mL", liquid=True,
                              reacts_as=frozenset({"fluoride"})),
    "chlorate": MaterialFacts(key="chlorate", name="chlorate", stock_unit="g", reacts_as=frozenset({"oxidiser"})),
    "nitrite": MaterialFacts(key="nitrite", name="nitrite", stock_unit="g", reacts_as=frozenset({"nitrite"})),
    "sealer": MaterialFacts(key="sealer", name="sealer", stock_unit="mL", liquid=True),
}
DAY = Fraction(1440)


def mix(key: str, *ingredients: tuple[str, str], keeps: Fraction | None = DAY, **more: Any) -> SolutionFacts:
    made = [
        IngredientFacts(number=number, material=of, amount_per_litre=Fraction(amount),
                        unit="g" if MATERIALS[of].stock_unit == "g" else "mL", scales_with_strength=True)
        for number, (of, amount) in enumerate(ingredients, start=1)
    ]
    fill = IngredientFacts(number=len(made) + 1, material="water", make_up=True)
    return SolutionFacts(key=key, name=key, keeps_minutes=keeps, ingredients=(*made, fill), **more)


SOLUTIONS = {finding.key: finding for finding in (
    mix("sensitiser", ("tin", "1.2")), mix("silver", ("silver", "10"), ("ammonia", "12"), keeps=None),
    mix("pour", ("silver", "5"), ("ammonia", "6"), keeps=None, works_at_once=True),
    mix("gel", ("gel", "20")), mix("sulfide", ("sulfide", "2")), mix("acid", ("acid", "20")),
    mix("fluoride", ("fluoride", "20")),
    SolutionFacts(key="neat gel", name="neat gel", keeps_minutes=DAY, ingredients=(
        IngredientFacts(number=1, material="gel", make_up=True),)),
    SolutionFacts(key="sealer", name="sealer", keeps_minutes=DAY, ingredients=(
        IngredientFacts(number=1, material="sealer", make_up=True),)),
)}
SHELF = Shelf(materials=MATERIALS, solutions=SOLUTIONS)


def step(kind: str, solution: str = "", **more: Any) -> StepFacts:
    part = (PartFacts(solution=solution, mixed_for=more.pop("mixed_for", "load")),) if solution else ()
    noted = {"how": "pour", "dwell_minutes": Fraction(1)} if solution else {}
    return StepFacts(number=0, kind=kind, parts=part, **{**noted, **more})


CLEAN, RINSE, DRY, INSPECT = step("clean"), step("rinse", rinse_full=True, rinse_water="distilled"), step("dry"), step("inspect")
COLLECT, MAKE_SAFE = replace(RINSE, rinse_collected=True), step("make safe", minutes_per_load=Fraction(15))
SENSITISE = step("sensitise", "sensitiser", dwell_minutes=Fraction(1, 2), how="wipe")
POUR = step("silver", "pour", mixed_for="pane", dwell_minutes=Fraction(5), motion="rocked")
SEAL = step("seal", "sealer")
SOUND = [CLEAN, RINSE, SENSITISE, RINSE, POUR, COLLECT, MAKE_SAFE, DRY, step("antique", "gel", harshness=2, surface_before="dry",
                                                            drying="hot air"), RINSE, DRY, INSPECT, SEAL]


def found_in(*steps: StepFacts, shelf: Shelf = SHELF) -> dict[str, bool]:
    """Return the names of the rules broken, and whether each stops."""
    numbered = tuple(replace(step, number=number) for number, step in enumerate(steps, start=1))
    return {finding.rule: finding.stops for finding in walk(RecipeFacts(key="r", finish="finish", steps=numbered), shelf)}


#: silver and ammonia meet in every silvering: said, and acknowledged
SILVERING = {"cautioned pairs are known": False}


def test_a_sound_recipe_breaks_no_rule():
    assert found_in(*SOUND) == SILVERING


def test_the_same_facts_are_walked_once_and_changed_ones_anew(monkeypatch):
    """Pages ask of every recipe in use: what was found is kept by all that the walk reads."""
    walked = []
    monkeypatch.setattr(walking, "at_each_step", lambda recipe, shelf: walked.append(shelf) or at_each_step(recipe, shelf))
    recipe = RecipeFacts(finish="Walked once", version_number=1, key="walked/1", steps=(SEAL,))
    walk(recipe, SHELF).clear()
    assert walk(recipe, SHELF) != []
    assert len(walked) == 1
    walk(recipe, replace(SHELF, ammoniacal_limit_minutes=SHELF.ammoniacal_limit_minutes + 1))
    walk(replace(recipe, steps=(DRY,)), SHELF)
    assert len(walked) == 3


def test_every_rule_says_why():
    assert all(rule.reason.endswith(".") for rule in RULES)
    assert len({rule.name for rule in RULES}) == len(RULES)


def test_cleaning_comes_first():
    assert found_in(*SOUND[2:])["cleaning comes first"] is True


def test_a_sensitiser_dwells_thirty_seconds_and_is_rinsed_off_fully():
    assert SENSITISE.dwell_minutes * 60 == 30
    rinsed_a_little = replace(RINSE, rinse_full=False)
    assert found_in(CLEAN, SENSITISE, rinsed_a_little, POUR, COLLECT, MAKE_SAFE, INSPECT, SEAL)["sensitiser is rinsed off"] is True
    assert "sensitiser is rinsed off" not in found_in(CLEAN, SENSITISE, RINSE, POUR, COLLECT, MAKE_SAFE, INSPECT, SEAL)


def test_poured_silver_deposits_for_five_minutes_and_is_rocked_or_left_still():
    """Rocked is attended whatever is ticked; left still it makes ridges, and that can be stated too."""
    assert POUR.dwell_minutes == 5
    assert POUR.attended
    still = replace(POUR, motion="still")
    assert not still.attended
    assert found_in(CLEAN, RINSE, SENSITISE, RINSE, still, COLLECT, MAKE_SAFE, INSPECT, SEAL) == SILVERING


def test_double_strength_sensitiser_can_be_stated():
    double = replace(SENSITISE, parts=(replace(SENSITISE.parts[0], strength=Fraction(2)),))
    assert found_in(CLEAN, RINSE, double, RINSE, POUR, COLLECT, MAKE_SAFE, INSPECT, SEAL) == SILVERING


@pytest.mark.parametrize("next_step", [DRY, step("antique", "gel", harshness=1)], ids=["dried", "antiqued"])
def test_silver_is_fully_rinsed_before_it_dries_or_is_antiqued(next_step):
    broken = found_in(CLEAN, RINSE, SENSITISE, RINSE, POUR, next_step, RINSE, INSPECT, SEAL)
    assert broken["silver is rinsed before drying or antiquing"] is True
    assert "nothing harmful dries on" not in broken, "one fault, one finding: the sentence that says more"


def test_harm_that_is_no_unrinsed_silver_is_still_found_where_it_dries_on():
    """Acid on the pane after the silver was rinsed off; ammoniacal silver in a step of another kind."""
    acid = step("antique", "acid", harshness=1)
    assert found_in(*SOUND[:8], acid, DRY, INSPECT, SEAL)["nothing harmful dries on"] is True
    wiped = step("clean", "silver")
    assert found_in(wiped, DRY, INSPECT, SEAL)["nothing harmful dries on"] is True


@pytest.mark.parametrize("residue", ["acid", "chlorate", "nitrite"])
@pytest.mark.parametrize("kind", ["seal", "back", "dry"])
def test_a_rinse_ticked_on_the_seal_itself_rinses_nothing_under_it(residue, kind):
    """Acid or oxidising residue under a seal stops, whatever the sealing step has ticked (safety.md)."""
    left = step("antique", residue, harshness=1)
    over = replace(SEAL, kind=kind, rinse_full=True)
    shelf = with_more(chlorate=mix("chlorate", ("chlorate", "5")), nitrite=mix("nitrite", ("nitrite", "5")))
    assert found_in(*SOUND[:8], left, over, INSPECT, SEAL, shelf=shelf)["nothing harmful dries on"] is True
    assert "nothing harmful dries on" not in found_in(*SOUND[:8], left, RINSE, over, INSPECT, SEAL, shelf=shelf)


@pytest.mark.parametrize("first", [
    step("rinse", rinse_water="tap"), step("rinse"), step("clean"), step("antique", "gel", rinse_water="distilled"),
], ids=["a little tap water", "a little water", "cleaned", "rinsed while antiquing"])
def test_the_first_water_off_ammoniacal_silver_is_collected_whatever_rinse_it_is(first):
    """A rinse that is not full and runs to the drain would take the first water with it."""
    poured = [CLEAN, RINSE, SENSITISE, RINSE, POUR]
    assert found_in(*poured, first, COLLECT, MAKE_SAFE, DRY, INSPECT, SEAL)["ammoniacal silver is collected"] is True
    kept = replace(first, rinse_collected=True)
    assert "ammoniacal silver is collected" not in found_in(*poured, kept, COLLECT, MAKE_SAFE, DRY, INSPECT, SEAL)


@pytest.mark.parametrize(("limit", "stops"), [(45, True), (60, False), (240, False)])
def test_ammoniacal_silver_dwells_no_longer_than_the_studio_lets_it_stand(limit, stops):
    long = replace(POUR, dwell_minutes=Fraction(60))
    shelf = replace(SHELF, ammoniacal_limit_minutes=limit)
    found = found_in(CLEAN, RINSE, SENSITISE, RINSE, long, COLLECT, MAKE_SAFE, INSPECT, SEAL, shelf=shelf)
    assert ("ammoniacal silver does not stand" in found) == stops
    if not stops:
        assert found == SILVERING


def test_an_antiquing_gel_is_always_diluted():
    """About one 15 mL measure of concentrate to a 750 mL bottle of distilled water: 20 mL per litre."""
    assert Fraction(15, 750) * 1000 == SOLUTIONS["gel"].ingredients[0].amount_per_litre
    neat = step("antique", "neat gel", harshness=2)
    assert found_in(*SOUND[:8], neat, RINSE, DRY, INSPECT, SEAL)["concentrate is diluted"] is True


def test_wet_and_dry_silver_are_told_apart():
    on_dry = step("antique", "gel", harshness=2, surface_before="dry", drying="hot air")
    on_wet = step("antique", "gel", harshness=4, surface_before="wet", pane_lies="flat")
    assert found_in(*SOUND[:7], on_wet, RINSE, DRY, INSPECT, SEAL) == SILVERING
    assert found_in(*SOUND[:7], on_dry, RINSE, DRY, INSPECT, SEAL)["surface is as wanted"] is False


def test_harsher_agents_come_before_gentler_ones():
    harsh, gentle = step("antique", "sulfide", harshness=4), step("antique", "gel", harshness=1)
    assert "harsher antiquing comes first" not in found_in(*SOUND[:8], harsh, RINSE, gentle, RINSE, DRY, INSPECT, SEAL)
    broken = found_in(*SOUND[:8], gentle, RINSE, harsh, RINSE, DRY, INSPECT, SEAL)
    assert broken["harsher antiquing comes first"] is False


def test_a_clear_seal_goes_on_the_back_after_somebody_looked():
    assert found_in(*SOUND[:7], INSPECT)["silver is sealed on the back"] is False
    assert found_in(*SOUND[:7], DRY, SEAL)["inspected before sealing"] is False


def test_what_is_not_noted_cannot_be_repeated():
    assert found_in(CLEAN, RINSE, replace(SENSITISE, dwell_minutes=Fraction(0)), RINSE, POUR, COLLECT, MAKE_SAFE, INSPECT,
                    SEAL)["what decides is noted"] is False


def test_used_at_once_is_not_mixed_for_the_job():
    for_job = replace(POUR, parts=(replace(POUR.parts[0], mixed_for="job"),))
    for_load = replace(POUR, parts=(replace(POUR.parts[0], mixed_for="load"),))
    for wrong in (for_job, for_load):
        assert found_in(CLEAN, RINSE, SENSITISE, RINSE, wrong, COLLECT, MAKE_SAFE, INSPECT, SEAL)["used at once is not kept"] is True


def test_what_loads_share_has_a_working_time():
    """It cannot be what works at once; and of a bath nobody knows how long it may be shared until its author says so."""
    rule = "what is shared has a working time"
    shared = step("silver", "silver", mixed_for="loads", dwell_minutes=Fraction(5), motion="rocked")
    rest = COLLECT, MAKE_SAFE, INSPECT, SEAL
    assert found_in(CLEAN, RINSE, SENSITISE, RINSE, shared, *rest)[rule] is True
    known = {**SOLUTIONS, "silver": replace(SOLUTIONS["silver"], working_minutes=Fraction(60))}
    found = found_in(CLEAN, RINSE, SENSITISE, RINSE, shared, *rest, shelf=replace(SHELF, solutions=known))
    assert found.keys().isdisjoint({rule, "used at once is not kept"})
    pour = replace(POUR, parts=(replace(POUR.parts[0], mixed_for="loads"),))
    assert found_in(CLEAN, RINSE, SENSITISE, RINSE, pour, *rest)["used at once is not kept"] is True


def test_endangering_pairs_need_a_full_rinse_between():
    sulfide, acid = step("antique", "sulfide", harshness=4), step("antique", "acid", harshness=3)
    assert found_in(*SOUND[:8], sulfide, acid, RINSE, INSPECT, SEAL)["endangering pairs are rinsed apart"] is True
    assert "endangering pairs are rinsed apart" not in found_in(*SOUND[:8], sulfide, RINSE, acid, RINSE, INSPECT, SEAL)


def test_fluoride_is_for_the_owner_alone():
    etch = step("antique", "fluoride", harshness=5)
    assert found_in(*SOUND[:8], etch, RINSE, INSPECT, SEAL)["fluoride is for the owner"] is True
    assert "fluoride is for the owner" not in found_in(*SOUND[:8], replace(etch, hands="owner"), RINSE, INSPECT, SEAL)


def test_tap_water_and_unsensitised_glass_are_cautions():
    tap = replace(RINSE, rinse_water="tap")
    assert found_in(CLEAN, RINSE, SENSITISE, tap, POUR, COLLECT, MAKE_SAFE, INSPECT, SEAL) == SILVERING | {
        "distilled water controls the result": False}
    assert found_in(CLEAN, RINSE, POUR, COLLECT, MAKE_SAFE, INSPECT, SEAL) == SILVERING | {
        "silver goes on sensitised glass": False}


@pytest.mark.parametrize("broken", [
    mix("silver", ("silver", "10"), ("ammonia", "12"), keeps=DAY), mix("silver", ("sulfide", "1"), ("acid", "5")),
], ids=["ammoniacal silver told to keep", "sulfide with acid"])
def test_a_solution_that_breaks_its_own_rule_stops_the_recipe(broken):
    shelf = Shelf(materials=MATERIALS, solutions={**SOLUTIONS, "silver": broken})
    spray = step("silver", "silver", how="spray")
    assert found_in(CLEAN, RINSE, SENSITISE, RINSE, spray, COLLECT, MAKE_SAFE, INSPECT, SEAL, shelf=shelf)["solutions are sound"] is True


def test_stops_refuse_and_cautions_are_returned():
    recipe = RecipeFacts(key="r", finish="finish", steps=tuple(replace(s, number=n) for n, s in enumerate(SOUND[2:], 1)))
    with pytest.raises(BenchRulesStop, match="is not cleaned"):
        refuse_stops(recipe, SHELF)


def test_a_kind_that_no_row_tells_of_is_never_passed_over():
    with pytest.raises(KeyError):
        found_in(step("etch"))


def test_every_kind_of_the_table_is_offered_and_starts_with_values_of_its_own_fields():
    choices = dict(Step._meta.get_field("kind").choices)
    assert choices == {value: row.label for value, row in KINDS.items()}
    for row in KINDS.values():
        assert set(row.fresh) | set(row.open_fields) <= {field.name for field in Step._meta.fields}
        assert row.value == kind_of(row.value).value


def at_the_bench(*steps: StepFacts) -> list[tuple[int, str]]:
    """Return the steps as the bench does them: number and kind."""
    numbered = tuple(replace(step, number=number) for number, step in enumerate(steps, start=1))
    done = in_bench_order(RecipeFacts(key="r", finish="finish", steps=numbered), SHELF)
    return [(step.number, step.kind) for step in done.steps]


def test_making_safe_after_the_paint_is_moved_to_the_silvers_rinse():
    assert at_the_bench(CLEAN, POUR, COLLECT, DRY, SEAL, MAKE_SAFE) == [
        (1, "clean"), (2, "silver"), (3, "rinse"), (6, "make safe"), (4, "dry"), (5, "seal")]


def test_making_safe_that_stands_right_stays():
    steps = [CLEAN, POUR, COLLECT, MAKE_SAFE, DRY, SEAL]
    assert [number for number, _ in at_the_bench(*steps)] == [1, 2, 3, 4, 5, 6]


def test_the_last_rinse_of_ammoniacal_silver_counts():
    """Silver twice: each is made safe after its own rinse; the rinse of an antiquing in between moves nothing."""
    twice = [CLEAN, POUR, COLLECT, MAKE_SAFE, step("antique", "gel"), RINSE, POUR, COLLECT, RINSE, DRY, SEAL, MAKE_SAFE]
    assert [number for number, _ in at_the_bench(*twice)] == [1, 2, 3, 4, 5, 6, 7, 8, 12, 9, 10, 11]


def test_a_rinse_that_is_not_full_takes_no_silver_off():
    little = replace(RINSE, rinse_full=False)
    assert [number for number, _ in at_the_bench(POUR, little, COLLECT, DRY, MAKE_SAFE)] == [1, 2, 3, 5, 4]


def test_without_ammoniacal_silver_nothing_is_moved():
    assert [number for number, _ in at_the_bench(CLEAN, SENSITISE, RINSE, SEAL, MAKE_SAFE)] == [1, 2, 3, 4, 5]


PLAIN = [CLEAN, RINSE, SENSITISE, RINSE, step("silver", "stock"), RINSE, DRY, INSPECT, SEAL]


def with_more(**solutions: SolutionFacts) -> Shelf:
    stock = mix("stock", ("silver", "10"))
    return Shelf(materials=MATERIALS, solutions=SOLUTIONS | {"stock": stock} | solutions)


def test_the_rinse_of_silver_without_ammonia_is_collected_too():
    """Silver is silver: a caution, not the stop of what may explode."""
    assert found_in(*PLAIN, shelf=with_more()).get("silver rinse is collected") is False
    collected = [*PLAIN[:5], COLLECT, *PLAIN[6:]]
    assert "silver rinse is collected" not in found_in(*collected, shelf=with_more())
    assert "silver rinse is collected" not in found_in(*SOUND)  # ammoniacal silver has a rule of its own


def test_silver_and_caustic_without_ammonia_are_cautioned():
    brown = mix("stock", ("silver", "10"), ("caustic", "4"))
    said = said_of(*PLAIN, shelf=with_more(stock=brown))
    assert any("silver and caustic and no ammonia: brown silver oxide falls" in sentence for sentence in said)
    apart = [*PLAIN[:4], replace(PLAIN[4], parts=(PartFacts(solution="stock"), PartFacts(solution="lye"))), *PLAIN[5:]]
    assert "silver and caustic have ammonia" in found_in(*apart, shelf=with_more(lye=mix("lye", ("caustic", "4"))))


def test_what_a_solution_warns_of_is_acknowledged_with_the_recipe():
    """A bath that ends on caustic, and whose liquids make no litre, says so where its recipe is put in use."""
    bath = mix("silver", ("silver", "12"), ("ammonia", "14"), ("caustic", "4"), keeps=None)
    said = said_of(*SOUND[:4], step("silver", "silver"), COLLECT, MAKE_SAFE, INSPECT, SEAL, shelf=with_more(silver=bath))
    assert any("ends on caustic with no ammonia after it" in sentence for sentence in said)


@pytest.mark.parametrize("kind", ["sensitise", "silver", "antique", "seal", "back"])
def test_a_step_that_puts_nothing_on_is_cautioned(kind):
    assert found_in(CLEAN, step(kind, how="brush", dwell_minutes=Fraction(1)))["what is put on is named"] is False
    assert "what is put on is named" not in found_in(CLEAN, step(kind, "sealer"))
    assert "what is put on is named" not in found_in(CLEAN, RINSE, DRY, INSPECT)


def test_making_safe_without_minutes_is_cautioned():
    bare = [replace(each, minutes_per_load=Fraction(0)) if each is MAKE_SAFE else each for each in SOUND]
    assert found_in(*bare) == SILVERING | {"work is timed": False}
    wiped = replace(step("clean", "gel"), dwell_minutes=Fraction(0))
    assert "work is timed" in found_in(wiped)
    assert "work is timed" not in found_in(replace(wiped, minutes_per_pane=Fraction(2)))


def said_of(*steps: StepFacts, shelf: Shelf) -> list[str]:
    numbered = tuple(replace(each, number=number) for number, each in enumerate(steps, start=1))
    return [finding.sentence for finding in walk(RecipeFacts(key="r", finish="finish", steps=numbered), shelf)]
