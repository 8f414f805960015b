"""A zone of a face is an area of its own: chemistry and minutes follow what is treated. Values worked by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.estimating.basis import Basis, EdgeFacts, GlassFacts, LineFacts
from jobs.estimating.estimate import estimate_basis
from jobs.estimating.silver import silvered_m2
from jobs.estimating.take_off import TakeOff, take_off, treated_area_m2, wetted_area_m2
from jobs.templatetags.ticket_words import step_set
from jobs.work.ticket_plan import plan_ticket
from recipes.facts import StepFacts
from recipes.finishes.volumes import SampleLoad
from studio.kit.rounding import PI
from tests.jobs.estimating.test_worked_cases import _by_hand

POURED = StepFacts(number=1, kind="antique", how="pour")


def pane(shape: str, width: int, height: int, area: str | None = None) -> TakeOff:
    line = LineFacts(number=1, shape=shape, width_mm=Fraction(width), height_mm=Fraction(height), quantity=1,
                     recipe="r", glass="g", edge="e", area_m2=Fraction(area) if area else None)
    return take_off(line, EdgeFacts(name="e"), GlassFacts(key="g", name="g"))


def rim(width: int, **more) -> StepFacts:
    return replace(POURED, zone="rim", rim_width_mm=Fraction(width), **more)


@pytest.mark.parametrize(("size", "width", "mm2"), [
    # 500 × 300 less 400 × 200
    (pane("rectangle", 500, 300), 50, 70_000),
    # a circle of 400 less one of 300: π (400² − 300²) / 4
    (pane("circle", 400, 400), 50, PI * 17_500),
    # an ellipse of 600 × 400 less 500 × 300: π (240 000 − 150 000) / 4
    (pane("ellipse", 600, 400), 50, PI * 22_500),
    # 150 on either side of 300: nothing is left inside
    (pane("rectangle", 500, 300), 150, 150_000), (pane("circle", 400, 400), 900, PI * 40_000),
    # an arch: the rim of its rectangle, 70 000, is less than the pane; then more, and no more than the pane
    (pane("other", 500, 300, "0.12"), 50, 70_000), (pane("other", 500, 300, "0.06"), 50, 60_000),
    (pane("other", 500, 300, "0.12"), 150, 120_000),
])
def test_a_rim_is_the_shape_less_the_shape_shrunk(size, width, mm2):
    step = rim(width)
    assert treated_area_m2(size, step) == wetted_area_m2(size, step) == mm2 / Fraction(1_000_000)


def test_the_overspray_of_a_rim_is_at_its_outer_edge():
    """500 × 300 sprayed 40 beyond: 580 × 380 less the 400 × 200 that is masked; treated are 70 000 mm²."""
    step = rim(50, how="spray", overspray_mm=Fraction(40))
    size = pane("rectangle", 500, 300)
    assert wetted_area_m2(size, step) == Fraction("0.1404")
    assert treated_area_m2(size, step) == Fraction("0.07")
    sample = SampleLoad(panes=2, width_mm=Fraction(500), height_mm=Fraction(300))
    assert sample.wetted_m2(step) == Fraction("0.1404")
    assert wetted_area_m2(pane("other", 500, 300, "0.12"), step) == Fraction("0.1404")


def test_corners_and_masks_are_their_share_of_the_face():
    step = replace(POURED, zone="part", zone_share=Fraction(15, 100))
    assert treated_area_m2(pane("rectangle", 500, 300), step) == Fraction("0.0225")
    assert wetted_area_m2(pane("other", 500, 300, "0.1"), step) == Fraction("0.015")
    assert SampleLoad(panes=1, width_mm=Fraction(500), height_mm=Fraction(300)).wetted_m2(step) == Fraction("0.0225")


def zoned(**more) -> Basis:
    """The worked case by hand, five panes of 305 × 305 mm, its wiping step with a zone."""
    basis = _by_hand()
    wipe, pour = basis.recipes["r"].steps
    return replace(basis, recipes={"r": replace(basis.recipes["r"], steps=(replace(wipe, **more), pour))})


def test_chemistry_and_minutes_follow_the_zone():
    """A rim of 50 on 305: 305² − 205² = 51 000 mm² a pane. 1.1 · 300 · 5 · 0.051 + 20 lost = 104.15, so 110 mL.

    Five panes: 12 + 20 minutes as before, and 10 a m² of 0.255 in place of 0.465125.
    """
    before, rimmed = estimate_basis(zoned()), estimate_basis(zoned(zone="rim", rim_width_mm=Fraction(50)))
    assert rimmed.applied[0].wetted_m2 == Fraction("0.255")
    assert rimmed.applied[0].volume_ml == Fraction("104.15")
    assert next(mix for mix in rimmed.mixes if mix.solution.key == "sensitiser").made_ml == 110
    per_m2 = before.basis.recipes["r"].steps[0].minutes_per_m2
    assert before.minutes - rimmed.minutes == per_m2 * (Fraction("0.465125") - Fraction("0.255"))
    assert rimmed.timetable.labour_minutes == rimmed.minutes
    assert rimmed.price.cost < before.price.cost
    wipe, pour = plan_ticket(rimmed, {}, date(2026, 1, 1)).recipes[0].steps
    assert step_set(wipe).startswith("Only a rim, 50 mm wide.")
    assert "Only" not in step_set(pour)
    each = wipe.volume_per_pane_ml["1"]
    assert set(each.values()) == {Fraction("1.1") * 300 * Fraction("0.051")}


def test_the_film_is_on_what_is_silvered():
    """Of the silver steps the largest zone counts; the recipe's sensitiser does not."""
    size = pane("rectangle", 500, 300)
    recipe = zoned().recipes["r"]
    silver = rim(50, kind="silver")
    assert silvered_m2(replace(recipe, steps=(POURED, silver)), size) == Fraction("0.07")
    assert silvered_m2(replace(recipe, steps=(silver, replace(POURED, kind="silver"))), size) == size.area_m2
    assert silvered_m2(replace(recipe, steps=(POURED,)), size) == size.area_m2


def test_a_rim_of_another_shape_is_said_to_be_its_rectangles():
    basis = zoned(zone="rim", rim_width_mm=Fraction(50))
    odd = replace(basis, lines=(replace(basis.lines[0], shape="other", area_m2=Fraction("0.08")),))
    assert [w.sentence for w in estimate_basis(odd).warnings if w.kind == "rim of another shape"] == [
        "Line 1: step 1 treats a rim. Of this shape it is taken as the rim of the bounding rectangle."]
    assert not any(w.kind == "rim of another shape" for w in estimate_basis(basis).warnings)


@given(st.sampled_from(["rectangle", "circle", "ellipse"]), st.integers(60, 900), st.integers(60, 900),
       st.integers(1, 500), st.integers(1, 500), st.integers(0, 60))
def test_a_wider_rim_is_more_and_never_more_than_the_face(shape, width, height, first, second, overspray):
    size = pane(shape, width, width if shape == "circle" else height)
    narrow, wide = sorted((first, second))
    for area in (treated_area_m2, wetted_area_m2):
        whole, thin, thick = (area(size, replace(step, how="spray", overspray_mm=Fraction(overspray)))
                              for step in (POURED, rim(narrow), rim(wide)))
        assert 0 < thin <= thick <= whole
    assert wetted_area_m2(size, rim(narrow)) == treated_area_m2(size, rim(narrow))
