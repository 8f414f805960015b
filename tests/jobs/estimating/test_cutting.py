"""Cutting plans: sound by an independent verifier, never worse than the first answer, never below the bound."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from jobs.estimating.basis import EdgeFacts, GlassFacts, House, KeptOffcut, LineFacts
from jobs.estimating.cutting.patterns import PatternSearch
from jobs.estimating.cutting.plans import SheetTooSmall, plan_cutting
from jobs.estimating.cutting.sheets import Rules, Stock, Want
from jobs.estimating.loads import Pane
from jobs.estimating.take_off import TakeOff, take_off
from tests.jobs.estimating.plan_verifier import verify

HOUSE = House(trim_mm=Fraction(10), clearance_mm=Fraction(3), smallest_offcut_mm=Fraction(200))
GLASS = GlassFacts(key="g", name="glass", sheet_width_mm=Fraction(2250), sheet_height_mm=Fraction(1605),
                   sheet_cost=Fraction(50), same_glass="float")
SMALLER = replace(GLASS, key="s", name="smaller", sheet_width_mm=Fraction(1605), sheet_height_mm=Fraction(1125),
                  sheet_cost=Fraction(27))


def size_of(number: int, width: Fraction | int, height: Fraction | int) -> TakeOff:
    line = LineFacts(number=number, shape="rectangle", width_mm=Fraction(width), height_mm=Fraction(height), quantity=1,
                     recipe="r", glass="g", edge="e")
    return take_off(line, EdgeFacts(name="e"), GLASS)


def panes_of(*lines: tuple[int, int, int]) -> list[Pane]:
    """Return panes of lines, each width, height and how many."""
    return [Pane(size=size_of(n, w, h), copy=c) for n, (w, h, count) in enumerate(lines, start=1)
            for c in range(1, count + 1)]


sizes = st.integers(60, 1100)
orders = st.lists(st.tuples(sizes, sizes, st.integers(1, 5)), min_size=1, max_size=6)


@settings(max_examples=40, deadline=None)
@given(orders, st.booleans(), st.sampled_from([0, 15, 40]), st.sampled_from([0, 3]), st.booleans())
def test_plans_are_sound_and_between_bound_and_first_answer(lines, directed, strip, clearance, mixed):
    panes = panes_of(*lines)
    house = replace(HOUSE, smallest_strip_mm=Fraction(strip), clearance_mm=Fraction(clearance))
    numbers = frozenset(range(1, len(lines) + 1)) if directed else frozenset()
    try:
        plan = plan_cutting(panes, GLASS, house, numbers, others=[SMALLER] if mixed else [])
    except SheetTooSmall:
        # only a pane that nearly fills the sheet can leave too narrow a strip, or lie no way in it
        assert strip or max(max(w, h) for w, h, _ in lines) > 1585
        return
    verify(plan, panes, house, numbers)
    assert plan.cost <= plan.first_cost
    assert sum(sheet.area_m2 for sheet in plan.sheets) >= plan.fewest_m2
    if plan.fewest_sheets is not None:
        assert len(plan.sheets) >= plan.fewest_sheets
        assert mixed or len(plan.sheets) <= plan.first_sheets


@settings(max_examples=25, deadline=None)
@given(orders, st.integers(20, 60), st.integers(1, 40))
def test_a_dearer_sheet_never_makes_the_glass_cheaper(lines, cost, dearer):
    panes = panes_of(*lines)
    before = plan_cutting(panes, GLASS, HOUSE, others=[replace(SMALLER, sheet_cost=Fraction(cost))])
    after = plan_cutting(panes, GLASS, HOUSE, others=[replace(SMALLER, sheet_cost=Fraction(cost + dearer))])
    assert after.cost >= before.cost


INCH = Fraction(254, 10)
ODD = (97, 89, 83, 79, 73, 71, 67, 61, 59, 53)


@settings(max_examples=12, deadline=None)
@given(st.lists(st.tuples(st.integers(5, 20), st.integers(5, 20), st.sampled_from(ODD), st.integers(1, 2)), min_size=6,
                max_size=9), st.sampled_from(["patterns", "quick patterns"]))
@example([(10, 12, odd, 2) for odd in ODD[:8]], "patterns")
@example([(10, 12, odd, 2) for odd in ODD], "quick patterns")
def test_sides_in_odd_fractions_of_an_inch_are_cut(lines, method):
    """12 1/97 by 10 1/89 inches and others like that: no whole unit is too small for all of them together."""
    panes = [Pane(size=size_of(n, INCH * (wide + Fraction(1, odd)), INCH * (high + Fraction(1, odd))), copy=c)
             for n, (wide, high, odd, many) in enumerate(lines, start=1) for c in range(1, many + 1)]
    verify(plan_cutting(panes, GLASS, HOUSE, method=method), panes, HOUSE)


# Beasley's first instance (J. Opl Res. Soc. 36 (1985) 297-306; OR-Library "gcut1"): a sheet of 250 x 250.
GCUT1 = [(167, 184), (114, 118), (167, 152), (83, 140), (70, 86), (143, 166), (120, 160), (66, 148), (87, 141),
         (69, 165)]


def test_the_best_pattern_is_the_published_one():
    """Unconstrained guillotine cutting of gcut1 by area: 56,460 of 62,500 (Beasley 1985; the value from memory)."""
    search = PatternSearch([Want(w, h, 99, False) for w, h in GCUT1], Stock("", 250, 250, Fraction(1)), 0, Rules(0, 0))
    value, layout = search.best([w * h for w, h in GCUT1])
    assert value == 56_460
    assert sum(placed_entry.width * placed_entry.height for placed_entry in layout.placed) == 56_460


def instance(sheet: tuple[int, int], pieces: list[tuple[int, int, int]], *, turning: bool = False):
    glass = replace(GLASS, sheet_width_mm=Fraction(sheet[0]), sheet_height_mm=Fraction(sheet[1]), same_glass="")
    panes = panes_of(*pieces)
    directed = frozenset() if turning else frozenset(range(1, len(pieces) + 1))
    house = House()
    plan = plan_cutting(panes, glass, house, directed)
    verify(plan, panes, house, directed)
    return plan


def test_published_instances():
    """One of each of gcut1 takes 5 sheets (Martello and Vigo, Management Science 44 (1998); from memory).

    No sheet can hold more than the published optima with limited copies: gcut1 48,368 and CHL5 390 by area
    (Furini, Malaguti and Thomopulos, INFORMS J. Computing 28 (2016); Cung, Hifi and Le Cun 2000).
    """
    plan = instance((250, 250), [(w, h, 1) for w, h in GCUT1])
    assert len(plan.sheets) == 5
    assert max(sheet.cut_m2 for sheet in plan.sheets) * 1_000_000 <= 48_368
    chl5 = [(14, 2, 1), (1, 5, 1), (20, 4, 2), (12, 3, 3), (11, 8, 2), (11, 6, 2), (7, 9, 1), (17, 5, 1), (7, 14, 2),
            (1, 7, 3)]
    plan = instance((20, 20), chl5)
    assert max(sheet.cut_m2 for sheet in plan.sheets) * 1_000_000 <= 390
    assert len(plan.sheets) >= plan.fewest_sheets


def test_patterns_beat_strips_where_strips_waste():
    """Two of 1100 x 1000 beside four of 550 x 790 fill what strips right across cannot."""
    panes = panes_of((734, 917, 1), (390, 1026, 3), (1088, 541, 2), (480, 610, 6))
    strips = plan_cutting(panes, GLASS, HOUSE, method="strips")
    plan = plan_cutting(panes, GLASS, HOUSE)
    verify(plan, panes, HOUSE)
    assert len(plan.sheets) <= len(strips.sheets)
    assert strips.first_sheets == len(strips.sheets)


def test_a_kept_offcut_saves_a_sheet():
    """One pane too many for a sheet goes on what was kept; it costs what it was credited at."""
    panes = panes_of((1100, 790, 5))
    without = plan_cutting(panes, GLASS, HOUSE)
    kept = replace(GLASS, offcuts=(KeptOffcut(number=7, width_mm=Fraction(1150), height_mm=Fraction(800)),))
    plan = plan_cutting(panes, kept, HOUSE)
    verify(plan, panes, HOUSE)
    assert (len(without.sheets), plan.whole_sheets) == (2, 1)
    assert [sheet.kept_offcut for sheet in plan.sheets if sheet.kept_offcut] == [7]
    credited = replace(HOUSE, offcut_credit_share=Fraction(1, 2))
    assert plan_cutting(panes, kept, credited).cost == 50 + 50 * Fraction(1150 * 800, 2250 * 1605) / 2


def test_a_kept_offcut_is_trimmed_where_the_studio_says_so():
    """600 × 500 holds 600 × 240 twice; 4 mm off each edge, it holds neither that nor 596 in its length."""
    kept = replace(GLASS, offcuts=(KeptOffcut(number=3, width_mm=Fraction(600), height_mm=Fraction(500)),))
    trimmed = replace(HOUSE, offcut_trim_mm=Fraction(4))
    assert plan_cutting(panes_of((600, 240, 2)), kept, HOUSE, kept_only=True)
    with pytest.raises(SheetTooSmall, match="does not fit on the kept offcuts"):
        plan_cutting(panes_of((596, 240, 1)), kept, trimmed, kept_only=True)
    panes = panes_of((592, 240, 2))
    plan = plan_cutting(panes, kept, trimmed, kept_only=True)
    verify(plan, panes, trimmed)
    assert (plan.sheets[0].trim_mm, plan.sheets[0].pieces[0].left_mm) == (4, 4)


def test_from_kept_offcuts_alone():
    kept = replace(GLASS, offcuts=tuple(
        KeptOffcut(number=n, width_mm=Fraction(600), height_mm=Fraction(500)) for n in (3, 4)))
    panes = panes_of((290, 480, 3))
    plan = plan_cutting(panes, kept, HOUSE, kept_only=True)
    verify(plan, panes, HOUSE)
    assert plan.whole_sheets == 0
    with pytest.raises(SheetTooSmall, match="does not fit on the kept offcuts"):
        plan_cutting(panes_of((290, 480, 9)), kept, HOUSE, kept_only=True)


def test_the_cheapest_set_of_stock_sizes():
    """A pane that fits the smaller size is cut from it; seven that need both take the cheapest set."""
    plan = plan_cutting(panes_of((1000, 1000, 1)), GLASS, HOUSE, others=[SMALLER])
    assert [sheet.glass for sheet in plan.sheets] == ["s"]
    assert plan.cost == 27
    many = panes_of((1000, 700, 7))
    alone = plan_cutting(many, GLASS, HOUSE)
    mixed = plan_cutting(many, GLASS, HOUSE, others=[SMALLER])
    verify(mixed, many, HOUSE)
    assert mixed.cost <= alone.cost


def test_no_strip_narrower_than_breaks_off():
    """1,580 of 1,585 usable would leave 5 mm: with 15 mm the narrowest, it cannot be cut that way round."""
    house = replace(HOUSE, smallest_strip_mm=Fraction(15))
    tight = panes_of((1000, 1580, 1))
    assert plan_cutting(tight, GLASS, HOUSE, frozenset({1}))
    with pytest.raises(SheetTooSmall):
        plan_cutting(tight, GLASS, house, frozenset({1}))
    turned = plan_cutting(tight, GLASS, house)
    assert turned.sheets[0].pieces[0].turned
    verify(turned, tight, house)


def test_the_same_order_gets_the_same_plan():
    panes = panes_of((734, 917, 3), (390, 1026, 4), (1088, 541, 2))
    assert plan_cutting(panes, GLASS, HOUSE) == plan_cutting(list(panes), GLASS, HOUSE)
