"""A mix that loads share, on the ticket: above the first of them, and each later one says where it stands."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from jobs.looking_back.reach import reached_by
from jobs.templatetags.ticket_words import card_meta, of_an_earlier_load, safe_words, worn_at
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import MixCard, WorkPlan, work_plan
from tests import builders
from tests.jobs.work.test_ticket_paper import check_order_of_hand, sides

pytestmark = pytest.mark.django_db


@pytest.fixture
def sharing(owner, rates):
    """A studio whose silver part works for 62 minutes, and is mixed for as many loads as that; each load takes its bench."""
    shop = builders.Workshop(owner)
    bath = builders.solution(
        "Lasting silver part", {"material": shop.silver, "amount": 12, "unit": "g", "scales_with_strength": True},
        {"material": shop.ammonia, "amount": 14, "scales_with_strength": True}, {"material": shop.water},
        keeps_minutes=None, working_minutes=Decimal(62), mixing_minutes=Decimal(10),
    )
    steps = shop.steps()
    steps[2]["parts"][0] = {"solution_version": bath, "mixed_for": "loads"}
    steps[4]["minutes_per_load"] = Decimal(6)
    shop.recipe = builders.put_version_in_use(builders.recipe("Shared silver", steps), owner)
    return shop


def three_loads(shop: builders.Workshop):
    """Three loads: each pane is a load of its own."""
    return shop.run(shop.line("700 x 900 mm", 3, own_panes_to_start=3, oversize_method="on the long table")).ticket


def silver_of(work: WorkPlan) -> list[MixCard]:
    return [card for load in work.loads for card in load.mixes if card.mix.solution == "Lasting silver part"]


def test_a_lot_in_a_shared_mix_is_traced_to_the_panes_of_all_its_loads(sharing, owner):
    """One jug for three loads of one pane each: a recall names them all, each with its third of what was poured."""
    ticket = three_loads(sharing)
    jar = sharing.silver_lot
    planned = reached_by([jar])[jar.pk]
    assert [(found.load, found.planned) for found in planned] == [(f"load {load}", True) for load in (1, 2, 3)]
    (mix,) = [mix for mix in plan_of(ticket).mixes if mix.solution == "Lasting silver part"]
    assert sum(found.amount for found in planned) == mix.ingredients[0].amount
    builders.mixed(ticket.run, owner, mix.key, amounts={"1": "30"}, lots={"1": [[jar.lot_number, "30"]]})
    reached = reached_by([jar])[jar.pk]
    assert [[pane.label for pane in found.panes] for found in reached] == [["1.1"], ["1.2"], ["1.3"]]
    assert [found.standing for found in reached] == ["recorded"] * 3
    assert sum(found.amount for found in reached) == 30
    assert len({pane.amount for found in reached for pane in found.panes}) == 1


def test_the_shared_mix_stands_with_the_first_of_its_loads(sharing):
    """By hand, minutes a load: 2 of cleaning, 10 of mixing once, 5 and 5 of spraying, 6 of making safe.

    From the beginning of mixing loads are made safe after 26, 44 and 62 minutes, so 62 serve all three.
    """
    ticket = three_loads(sharing)
    plan = plan_of(ticket)
    work = work_plan(plan)
    (first, *others), loads = silver_of(work), work.loads
    assert not others
    assert list(first.mix.shared_ml) == [load.load.number for load in loads]
    assert first in loads[0].mixes
    assert all(load.carried == (first,) for load in loads[1:])
    assert "Shared: load 1 " in card_meta(first)
    for load in loads:
        (silver,) = [card for card in load.steps if card.step.kind == "silver"]
        poured = next(each for each in silver.poured if each.mix is first)
        assert poured.letter == first.letter
        assert poured.mixed_with == (None if load is loads[0] else loads[0].load.number)
        assert (poured.left_ml is None) == (load is not loads[-1])
        assert worn_at(silver, load)
        (safe,) = [card for card in load.steps if card.step.kind == "make safe"]
        assert worn_at(safe, load)
    safes = [safe_words(card) for load in loads for card in load.steps if card.step.kind == "make safe"]
    assert "Works for 1 h 2 min from the beginning of mixing" in card_meta(first)
    assert safes == [f"Keep mix {first.letter} for loads 2 to 3; make all else safe.",
                     f"Keep mix {first.letter} for load 3; make all else safe.",
                     f"What is left of mix {first.letter}, mixed with load 1, too."]
    assert of_an_earlier_load(first, loads[-1]).endswith("the last that takes of it.")


def test_the_paper_has_it_above_its_steps_in_every_load(sharing):
    ticket = three_loads(sharing)
    printed = sides(ticket)
    check_order_of_hand(ticket, printed)
    words = " ".join(printed)
    (silver,) = silver_of(work_plan(plan_of(ticket)))
    assert words.count(f"{silver.letter} Lasting silver part was mixed with load 1:") == 2
    assert words.count("mL for this load, the last that takes of it. Made safe within") == 1
    assert f"Keep mix {silver.letter} for load 3; make all else safe." in words


def test_it_is_one_mix_to_record_and_to_deduct(sharing, owner):
    """Given the whole run recorded as written, the silver of one jug is taken once."""
    ticket = three_loads(sharing)
    builders.worked(ticket.run, owner)
    keys = [mix.key for mix in plan_of(ticket).mixes if mix.solution == "Lasting silver part"]
    assert len(keys) == 1
    assert ticket.run.entries.filter(kind="mixed", subject=keys[0]).count() == 1


def test_a_stock_that_becomes_silver_on_the_panes_is_found_in_every_load(sharing):
    (silver,) = silver_of(work_plan(plan_of(three_loads(sharing))))
    assert [load for load in range(1, 5) if silver.mix.serves(load)] == [1, 2, 3]
    assert silver.mix.last_load == 3
    own = replace(silver.mix, shared_ml={})
    assert [load for load in range(1, 5) if own.serves(load)] == [1]
