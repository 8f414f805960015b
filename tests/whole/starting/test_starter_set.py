"""The starter set passes every rule that the studio's own recipes pass, and says what it is."""

from __future__ import annotations

from decimal import Decimal

import pytest

from recipes.finishes.putting_in_use import NoProcedure, Unpriced
from recipes.models import Finish, RecipeVersion, Solution, SolutionVersion
from recipes.reading import ANY_DAY, recipe_facts, shelf_for
from recipes.solutions.rules import is_never_stored
from recipes.starting_point import STARTING_POINT, for_customers
from studio.house.clock import today
from studio.house.models import House
from studio.stockroom.models import Material
from studio.stockroom.starting.starting_shelf import pick_starting_shelf
from studio.whole.audit import audit
from studio.whole.starting.library import FINISHES, NEEDED, per_litre
from studio.whole.starting.starter_set import (
    MaterialsMissing,
    NotRead,
    add_starter_set,
    drafts_waiting,
    put_set_in_use,
)

pytestmark = pytest.mark.django_db

PROCEDURE = "Procedure 1, on the wall by the sink: what is added to what, and where it stands until it is collected."


@pytest.fixture
def stocked(rates) -> None:
    pick_starting_shelf([keys[0] for keys in NEEDED])
    Material.objects.update(list_price=Decimal("0.02"))


def test_the_set_is_added_and_put_in_use_by_every_rule(stocked, owner):
    House.objects.update(making_safe_procedure=PROCEDURE)
    added = add_starter_set()
    assert [version.finish.name for version in added] == [finish.name for finish in FINISHES]
    assert all(version.is_draft for version in added)
    put_set_in_use(owner, cautions_read=True)
    assert not audit()
    assert RecipeVersion.objects.in_use().count() == 2
    for version in RecipeVersion.objects.all():
        assert STARTING_POINT in version.finish.description
        assert for_customers(version.finish.description).startswith("Plain hand silver, ")
        assert "starting point" not in for_customers(version.finish.description)
        assert STARTING_POINT in version.why
        assert "see Sources" in version.why


def test_ammoniacal_silver_of_the_set_is_never_stored(stocked):
    add_starter_set()
    for version in SolutionVersion.objects.all():
        shelf = shelf_for([version.pk], today())
        if is_never_stored(version.key, shelf):
            assert version.keeps_minutes is None
            assert "never let it dry" in version.cautions
    holding = {version.solution.name for version in SolutionVersion.objects.all()
               if is_never_stored(version.key, shelf_for([version.pk], today()))}
    assert holding == {"Silver part, sprayed, starter", "Silver part, poured, starter", "Silvering pour, starter"}


def test_nothing_of_the_set_is_in_use_without_procedure_price_and_cautions_read(stocked, owner):
    House.objects.update(making_safe_procedure="")
    add_starter_set()
    with pytest.raises(NotRead):
        put_set_in_use(owner, cautions_read=False)
    with pytest.raises(NoProcedure):
        put_set_in_use(owner, cautions_read=True)
    House.objects.update(making_safe_procedure=PROCEDURE)
    Material.objects.filter(name="Rochelle salt").update(list_price=None)
    assert {"Rochelle salt"} == {name for draft in drafts_waiting() for name in draft.unpriced}
    with pytest.raises(Unpriced, match="Rochelle salt"):
        put_set_in_use(owner, cautions_read=True)
    assert not RecipeVersion.objects.in_use().exists(), "one without a price keeps both out"


def test_what_is_missing_is_named_and_nothing_is_written(stocked):
    Material.objects.filter(name__startswith="Silver nitrate").delete()
    with pytest.raises(MaterialsMissing, match="Silver nitrate"):
        add_starter_set()
    assert not Solution.objects.exists()


def test_added_twice_it_is_there_once_and_a_studios_own_is_left(stocked):
    add_starter_set()
    Finish.objects.filter(name=FINISHES[0].name).update(description="Ours now.")
    assert add_starter_set() == []
    assert Finish.objects.count() == 2
    assert Finish.objects.get(name=FINISHES[0].name).description == "Ours now."


def test_every_step_before_drying_rinses_the_silver_and_makes_it_safe(stocked):
    add_starter_set()
    recipes, _ = recipe_facts(list(RecipeVersion.objects.values_list("pk", flat=True)), ANY_DAY)
    for recipe in recipes.values():
        kinds = [step.kind for step in recipe.steps]
        silver = kinds.index("silver")
        assert recipe.steps[silver + 1].rinse_full
        assert recipe.steps[silver + 1].rinse_collected
        assert kinds[silver + 2] == "make safe"


@pytest.mark.parametrize(("grains", "grams"), [(19, "5.20"), (16, "4.38"), (12, "3.29")])
def test_henleys_grains_in_eight_us_ounces(grains, grams):
    """One grain is 64.79891 mg and 8 US fl oz are 236.588 mL (NIST SP 811): 19 grains are 5.204 g/L."""
    assert per_litre(grains) == Decimal(grams)


def test_the_paint_is_named_in_the_last_step_once_it_is_classed(stocked, owner):
    pick_starting_shelf(["backing_paint"])
    Material.objects.filter(name="Mirror backing paint").update(none_apply=True, list_price=Decimal("0.02"))
    add_starter_set()
    for version in RecipeVersion.objects.all():
        last = version.steps.order_by("-number")[0]
        assert [part.solution_version.solution.name for part in last.parts.all()] == ["Backing paint, neat"]
