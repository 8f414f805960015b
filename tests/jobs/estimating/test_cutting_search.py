"""The search for the cheapest cutting plan, by an independent checker and by brute force."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.estimating.cutting.packing import packed_layouts
from jobs.estimating.cutting.plans import SheetTooSmall, TooFewSheets, nest, plan_cutting
from jobs.estimating.cutting.search import least_cost, search
from jobs.estimating.cutting.sheets import Rules, Stock, Want
from jobs.estimating.cutting.strips import strip_layouts
from tests.cutting.checker import faults, parts
from tests.cutting.instances import KINDS, instance
from tests.cutting_plans import answered
from tests.jobs.estimating.plan_verifier import verify
from tests.jobs.estimating.test_cutting import GLASS, HOUSE, SMALLER, panes_of


@pytest.mark.parametrize("kind", KINDS)
def test_orders_of_every_kind_get_a_plan_that_can_be_cut(kind):
    """Every pane once, within trim and stock, parted edge to edge; where a plan was planted, none dearer is given."""
    for seed in (3, 4):
        case = instance(kind, seed)
        answer = answered(case)
        assert "refused" not in answer
        assert faults(case, answer) == []
        if case["planted"]:
            assert answer["cost"] <= case["planted"]


def test_the_checker_sees_what_is_wrong():
    """A plan with a pane moved, turned, left out or doubled is none; five panes around a hole cannot be parted."""
    case = instance("few", 3)
    right = answered(case)
    assert faults(case, right) == []

    def with_first(**changed: object) -> dict:
        other = json.loads(json.dumps(right))
        other["sheets"][0]["placements"][0].update(changed)
        return other

    first = right["sheets"][0]["placements"][0]
    assert faults(case, with_first(x_mm=-1))
    assert faults(case, with_first(width_mm=first["width_mm"] + 1))
    assert faults(case, with_first(rotated=not first["rotated"])) or first["width_mm"] == first["height_mm"]
    assert faults(case, with_first(x_mm=first["x_mm"] + 7)) or len(right["sheets"][0]["placements"]) == 1
    assert faults(case, {**right, "cost": 1})
    assert faults(case, {**right, "sheets": right["sheets"] + right["sheets"][:1]})
    around = [(0, 0, 2, 1), (2, 0, 3, 2), (1, 2, 3, 3), (0, 1, 1, 3)]
    assert not parts([tuple(Fraction(side) for side in box) for box in around], Fraction(0))
    assert parts([tuple(Fraction(side) for side in box) for box in around[:3]], Fraction(0))


sizes = st.integers(1, 40)
wanted = st.lists(st.tuples(sizes, sizes, st.integers(1, 4), st.booleans()), min_size=1, max_size=6)
stocks_of = st.lists(
    st.tuples(st.integers(20, 60), st.integers(20, 60), st.integers(1, 90), st.sampled_from([None, None, 1, 3])),
    min_size=1, max_size=3,
)


def question(wants, stocks, gap, strip=0):
    kinds = Counter()
    for width, height, number, turns in wants:
        kinds[width, height, turns] += number
    return (
        tuple(Want(w, h, n, turns) for (w, h, turns), n in sorted(kinds.items(), key=lambda kind: (-kind[0][0] * kind[0][1], kind[0]))),
        tuple(Stock(str(at), w, h, Fraction(cost), most) for at, (w, h, cost, most) in enumerate(stocks)),
        Rules(gap, strip, 5),
    )


def sound(found, wants, stocks, rules):
    """Check a plan in whole numbers with the checker of its own."""
    counts = Counter()
    used = Counter(layout.stock for layout, _ in found.layouts)
    for layout, _ in found.layouts:
        stock = stocks[layout.stock]
        for piece in layout.placed:
            want = wants[piece.want]
            counts[piece.want] += 1
            assert (piece.width, piece.height) == ((want.height, want.width) if piece.turned else (want.width, want.height))
            assert want.turns or not piece.turned
            assert piece.left >= 0
            assert piece.bottom >= 0
            assert piece.right <= stock.width
            assert piece.top <= stock.height
        boxes = [(Fraction(p.left), Fraction(p.bottom), Fraction(p.right), Fraction(p.top)) for p in layout.placed]
        assert parts(boxes, Fraction(rules.clearance))
    assert all(counts[at] == want.number for at, want in enumerate(wants))
    assert all(stock.at_most is None or used[at] <= stock.at_most for at, stock in enumerate(stocks))
    return sum(stocks[layout.stock].cost for layout, _ in found.layouts)


@settings(max_examples=30, deadline=None)
@given(wanted, stocks_of, st.sampled_from([0, 0, 1, 3]), st.sampled_from([0, 0, 4]))
def test_random_orders(wants, stocks, gap, strip):
    """Sound, never below the bound, never dearer than strips or the packing library's rules on one size."""
    wants, stocks, rules = question(wants, stocks, gap, strip)
    found = search(wants, stocks, rules)
    heuristics = [
        plan for at, stock in enumerate(stocks)
        for plan in (*strip_layouts(wants, stocks, at, rules), *packed_layouts(wants, stock, at, rules))
        if Counter(piece.want for layout in plan for piece in layout.placed) == Counter({at: want.number for at, want in enumerate(wants)})
        and (stock.at_most is None or len(plan) <= stock.at_most)
    ] if not strip else []
    if found is None:
        assert not heuristics
        return
    cost = sound(found, wants, stocks, rules)
    assert cost >= least_cost(wants, stocks, rules)
    for plan in heuristics:
        assert cost <= sum(stocks[layout.stock].cost for layout in plan)


def brute_force(wants, stocks, gap):
    """Return the least cost of any plan of edge-to-edge cuts: every set of panes, every way to cut it."""
    panes = [want for want in wants for _ in range(want.number)]

    @cache
    def shapes(mask: int) -> frozenset[tuple[int, int]]:
        """Return the least rectangles, clearance included, out of which the panes of a set can be cut."""
        members = [at for at in range(len(panes)) if mask >> at & 1]
        if len(members) == 1:
            return frozenset((w + gap, h + gap) for w, h, _ in panes[members[0]].ways)
        found = set()
        part = (mask - 1) & mask
        while part:
            if part > mask ^ part:
                for w, h in shapes(part):
                    for v, g in shapes(mask ^ part):
                        found |= {(w + v, max(h, g)), (max(w, v), h + g)}
            part = (part - 1) & mask
        return frozenset(one for one in found if not any(
            other != one and other[0] <= one[0] and other[1] <= one[1] for other in found))

    @cache
    def least(mask: int, used: tuple[int, ...]) -> Fraction | None:
        if not mask:
            return Fraction(0)
        first, best = mask & -mask, None
        part = mask
        while part:
            if part & first:
                for at, stock in enumerate(stocks):
                    if stock.at_most is not None and used[at] >= stock.at_most:
                        continue
                    if any(w <= stock.width + gap and h <= stock.height + gap for w, h in shapes(part)):
                        rest = least(mask ^ part, (*used[:at], used[at] + 1, *used[at + 1:]) if stock.at_most is not None else used)
                        if rest is not None and (best is None or rest + stock.cost < best):
                            best = rest + stock.cost
            part = (part - 1) & mask
        return best

    return least((1 << len(panes)) - 1, tuple(0 for _ in stocks))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.integers(8, 40), st.integers(8, 40), st.integers(1, 2), st.booleans()), min_size=1, max_size=4),
    st.lists(st.tuples(st.integers(40, 60), st.integers(40, 60), st.integers(5, 50), st.sampled_from([None, 1, 2])),
             min_size=1, max_size=2),
    st.sampled_from([0, 2]),
)
def test_tiny_orders_against_every_plan_there_is(wants, stocks, gap):
    """Up to six panes: the cheapest plan of all, and refused only where there is none."""
    wants, stocks, rules = question(wants, stocks, gap)
    if sum(want.number for want in wants) > 6:
        return
    least = brute_force(wants, stocks, gap)
    found = search(wants, stocks, rules)
    assert (found is None) == (least is None)
    if found is not None:
        assert sound(found, wants, stocks, rules) == least


def test_the_order_of_the_lines_is_no_part_of_the_question():
    lines = [(734, 917, 3), (390, 1026, 4), (1088, 541, 2), (480, 610, 5)]
    plan, other = (plan_cutting(panes_of(*some), GLASS, HOUSE, others=[SMALLER]) for some in (lines, lines[::-1]))
    assert [[(p.left_mm, p.bottom_mm, p.width_mm) for p in sheet.pieces] for sheet in plan.sheets] == [
        [(p.left_mm, p.bottom_mm, p.width_mm) for p in sheet.pieces] for sheet in other.sheets]


def test_the_same_plan_in_every_process(tmp_path):
    """Two processes whose hashes differ answer alike, but for the seconds."""
    cases = tmp_path / "cases.json"
    cases.write_text(json.dumps({"instances": [instance("kept", 4), instance("mixed", 0), instance("few", 3)]}))
    told = []
    for seed in ("1", "2"):
        run = subprocess.run([sys.executable, "-m", "tests.cutting_plans", str(cases)], capture_output=True, check=True,
                             env={**os.environ, "PYTHONHASHSEED": seed})
        told.append([{**plan, "seconds": 0} for plan in json.loads(run.stdout)["plans"]])
    assert told[0] == told[1]
    nest.cache_clear()
    assert [{**answered(case), "seconds": 0} for case in (instance("kept", 4), instance("mixed", 0), instance("few", 3))] == told[0]


def test_refusals_name_every_stock_size_and_what_is_short():
    large = panes_of((1000, 1000, 1), (2400, 700, 1))
    with pytest.raises(SheetTooSmall) as size:
        plan_cutting(large, GLASS, HOUSE, others=[SMALLER])
    assert str(size.value) == (
        "Line 2 is too large for a sheet of glass, 2250 × 1605 or 1605 × 1125 mm less a trim of 10 mm: the size is short, "
        "not the stock. Choose another glass or buy it cut.")
    few = [replace(GLASS, sheets_at_most=1), replace(SMALLER, sheets_at_most=2)]
    with pytest.raises(TooFewSheets) as stock:
        plan_cutting(panes_of((1100, 1000, 7)), few[0], HOUSE, others=few[1:])
    assert str(stock.value) == (
        "The sheets of glass that there are do not hold all panes: 1 of 2250 × 1605 mm, 2 of 1605 × 1125 mm. The stock "
        "is short, not the size: get more sheets, or buy panes cut.")
    assert stock.value.field == "glass"
    with pytest.raises(TooFewSheets, match="do not hold Line 1: 0 of 2250 × 1605 mm, any number of 1605 × 1125 mm"):
        plan_cutting(panes_of((1700, 1000, 1)), replace(GLASS, sheets_at_most=0), HOUSE, others=[SMALLER])


def test_no_more_sheets_than_there_are():
    """Four sheets of the cheaper size would do; there are two, and the rest comes from the other."""
    panes = panes_of((1000, 1000, 6))
    cheap = replace(SMALLER, sheet_cost=Fraction(5))
    free = plan_cutting(panes, GLASS, HOUSE, others=[cheap])
    assert Counter(sheet.glass for sheet in free.sheets) == {"s": 6}
    plan = plan_cutting(panes, GLASS, HOUSE, others=[replace(cheap, sheets_at_most=2)])
    verify(plan, panes, HOUSE)
    assert Counter(sheet.glass for sheet in plan.sheets) == {"s": 2, "g": 2}


def test_a_sheet_smaller_than_its_trim_is_no_sheet():
    scrap = replace(SMALLER, sheet_width_mm=Fraction(20), sheet_height_mm=Fraction(1605), sheet_cost=Fraction(1))
    assert [sheet.glass for sheet in plan_cutting(panes_of((600, 600, 1)), GLASS, HOUSE, others=[scrap]).sheets] == ["g"]


def test_of_plans_that_cost_alike_the_larger_offcut_then_fewer_cuts():
    """Two panes beside each other leave 2,230 × 1,082 in one piece; six that fill a sheet take five cuts."""
    plan = plan_cutting(panes_of((1000, 500, 2)), GLASS, HOUSE)
    assert max(offcut.area_m2 for offcut in plan.sheets[0].offcuts) == Fraction(2230 * 1082, 1_000_000)
    exact = replace(HOUSE, trim_mm=Fraction(0), clearance_mm=Fraction(0))
    six = plan_cutting(panes_of((750, 800, 6)), replace(GLASS, sheet_height_mm=Fraction(1600)), exact)
    assert len(six.sheets) == 1
    assert len(six.sheets[0].cuts) == 5
