"""What has changed since a quote names what its estimate used, and nothing else."""

from __future__ import annotations

from dataclasses import fields, replace
from fractions import Fraction

import pytest

from jobs.estimating.basis import Basis, EdgeFacts, House
from jobs.estimating.estimate import estimate_basis
from jobs.quotes.costs_changed import NAMES_ALONE, costs_changed
from recipes.facts import SizeBand
from tests.jobs.estimating.test_worked_cases import _by_hand

#: of the case's panes, 0.093 m² each
SMALL = SizeBand(over_m2=Fraction(0), up_to_m2=Fraction(1, 4), good=27, started=30)
LARGE = SizeBand(over_m2=Fraction(1, 4), up_to_m2=None, good=40, started=40)


def with_runs(good: int, started: int, *bands: SizeBand) -> Basis:
    basis = _by_hand()
    return replace(basis, recipes={"r": replace(basis.recipes["r"], good=good, started=started, bands=bands)})


def changed(before: Basis, after: Basis) -> list[tuple[str, str, str]]:
    return [(change.what, change.before, change.after) for change in costs_changed(estimate_basis(before), estimate_basis(after)).changes]


def test_the_yield_of_the_band_is_named():
    """Given a band that tells enough, when its runs alone get worse, then its yield is named."""
    worse = replace(SMALL, good=21)
    assert changed(with_runs(67, 70, SMALL, LARGE), with_runs(67, 70, worse, LARGE)) == [
        ("yield of finish", "90 %, of panes up to 0.25 m²", "75 %, of panes up to 0.25 m²")]


def test_a_yield_that_no_line_was_planned_by_is_not_named():
    """Given a band that tells enough, when only larger panes get worse, then nothing changed."""
    assert changed(with_runs(67, 70, SMALL, LARGE), with_runs(47, 70, SMALL, replace(LARGE, good=20))) == []


def test_a_band_that_begins_to_tell_is_named():
    few = replace(SMALL, good=10, started=19)
    enough = replace(SMALL, good=10, started=20)
    assert changed(with_runs(89, 100, few), with_runs(89, 100, enough)) == [
        ("yield of finish", "89.1 %, of all sizes", "63.3 %, of panes up to 0.25 m²")]


def test_grinding_is_named_apart_from_minutes():
    basis = replace(_by_hand(), edges={"e": EdgeFacts(name="e", minutes_per_m=Fraction(8), grinds_off_mm=Fraction(1))})
    ground = replace(basis, edges={"e": EdgeFacts(name="e", minutes_per_m=Fraction(8), grinds_off_mm=Fraction(3, 2))})
    assert changed(basis, ground) == [("a e edge grinds off", "1 mm", "1.5 mm")]
    slower = replace(basis, edges={"e": EdgeFacts(name="e", minutes_per_m=Fraction(9), grinds_off_mm=Fraction(1))})
    assert changed(basis, slower) == [("a e edge", "8 min a metre", "9 min a metre")]


@pytest.mark.parametrize(("rates", "named"), [
    ({"hands": 2}, ("pairs of hands", "1", "2")), ({"benches": 2}, ("benches", "1", "2")),
    ({"cure_hours": Fraction(24)}, ("cure, hours", "0", "24")),
    ({"bench_day_minutes": Fraction(360)}, ("bench day, minutes", "420", "360")),
])
def test_hands_benches_cure_and_bench_day_are_named(rates, named):
    basis = _by_hand()
    assert changed(basis, replace(basis, house=replace(basis.house, **rates))) == [named]


def test_what_a_solution_takes_to_mix_is_named():
    basis = _by_hand()
    solutions = dict(basis.shelf.solutions)
    solutions["pour"] = replace(solutions["pour"], mixing_minutes=Fraction(5, 2))
    slower = replace(basis, shelf=replace(basis.shelf, solutions=solutions))
    assert changed(basis, slower) == [("mixing a batch of pour", "as the studio's rates say", "2.5 min")]
    assert changed(slower, basis) == [("mixing a batch of pour", "2.5 min", "as the studio's rates say")]
    moved = costs_changed(estimate_basis(basis), estimate_basis(slower)).costs
    assert {cost.kind: cost.difference for cost in moved} == {"labour": 5, "overhead": Fraction(5, 2)}


@pytest.mark.parametrize("name", sorted({field.name for field in fields(House)} - NAMES_ALONE))
def test_every_rate_that_the_estimate_uses_is_named(name):
    basis = _by_hand()
    old = getattr(basis.house, name)
    new = "rework" if name == "plan" else (0, 1, 2) if name == "working_days" else \
        old + (1 if isinstance(old, int) else Fraction(1, 1000))
    assert len(changed(basis, replace(basis, house=replace(basis.house, **{name: new})))) == 1
