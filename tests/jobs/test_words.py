"""Sentences on pages and papers that depend on what was found: each says what is so and nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from django.template import Context, Template

from jobs.estimating.basis import BoughtInFacts
from jobs.estimating.spoilage import PanesPlanned
from jobs.templatetags.bench_words import from_lots, mixed_for_at_the_bench, mixed_how
from jobs.templatetags.order_words import extras_in_words, glass_in_words, one_line, shape_in_words
from jobs.templatetags.price_words import bought_in_words, spoilage_in_words, yield_in_words
from jobs.templatetags.ticket_words import card_meta
from jobs.work.bench import MixState
from jobs.work.pane_list import pane_list
from jobs.work.ticket_plan import TicketMix, TicketPane, TicketPlan
from jobs.work.work_plan import MixCard
from recipes.facts import SizeBand
from studio.stockroom.models import Lot, Material, StockMovement
from studio.stockroom.picking import Pick
from studio.stockroom.undoing import in_words

MIX = TicketMix(
    key="m1b1", solution="Silver part", version=2, strength=Fraction(1), volume_ml=Fraction(450), batch=1, batches=1,
    mixed_for="load", recipe="harbour/2", step=3, load=None, pane="", inside="", keeps=True, works_at_once=False,
    ammoniacal=True, reject_if="", cautions="", agents=[], ingredients=[],
)
PANE = TicketPane(
    label="1.1", line=1, finish="Harbour", recipe="harbour/2", shape="rectangle", width_mm=Fraction(600),
    height_mm=Fraction(900), area_m2=Fraction(54, 100), glass="Clear float, 4 mm", route="sheet", edge="seamed",
    backing="", kg=Fraction(5), match_group="", spare=False, note="",
)
LINE = {
    "shape": "rectangle", "thickness_mm": "4", "glass": "clear glass, float", "route": "sheet", "edge": "seamed",
    "backing": "", "pane_kg": "5.4", "match_group": "", "note": "",
}
PLANNED = PanesPlanned(
    plan="spares", yield_share=Fraction(9, 10), panes_to_start=3, chance_met=Fraction(97, 100), good=0, started=0,
    own_yield=False,
)


def pick(lot: str, of: str) -> Pick:
    return Pick(lot_id=1, lot_number=lot, amount=Decimal(of))


def test_the_ticket_says_of_a_mix_only_what_is_so_of_it():
    assert card_meta(MixCard(letter="A", makings=(MIX,), step=3)) == "For step 3. Version 2. Wear nitrile gloves, goggles."
    at_once = replace(MIX, load=1, inside="m2", keeps=False, reject_if="cloudy")
    assert card_meta(MixCard(letter="B", makings=(at_once,), step=3, goes_into=("C",))) == (
        "For mix C. Version 2. Use at once. Reject if cloudy. Wear nitrile gloves, goggles."
    )
    poured = replace(MIX, load=1, pane="1.2", works_at_once=True, keeps=False)
    assert card_meta(MixCard(letter="D", makings=(poured,), step=3)) == (
        "For step 3, pane by pane. Version 2. Works at once: combine it when the pane is ready. "
        "Wear nitrile gloves, goggles."
    )


def test_the_bench_says_what_a_mix_is_for_and_what_was_noted_of_it():
    assert mixed_for_at_the_bench(MIX) == "The whole job"
    assert mixed_for_at_the_bench(replace(MIX, load=2, pane="1.1", batch=1, batches=2, keeps=False)) == (
        "Load 2, pane 1.1, batch 1 of 2; use at once"
    )
    assert mixed_how(MixState(mix=MIX)) == "not recorded yet"
    assert mixed_how(MixState(mix=MIX, made=True, by="Teo")) == "mixed as written, Teo"
    assert mixed_how(MixState(mix=MIX, made=False, by="Teo")) == "not mixed, Teo"
    assert mixed_how(MixState(mix=MIX, made=False, lot=7, lot_number="S-7", by="Teo")) == (
        "taken from lot S-7, Teo"
    )


def test_how_much_of_a_lot_is_said_only_where_there_are_several():
    assert from_lots([]) == ""
    assert from_lots([pick("A1", "3")], "g") == "A1"
    assert from_lots([pick("A1", "3"), pick("A2", "1.5")], "g") == "A1 (3 g), A2 (1.5 g)"
    assert from_lots([pick("A1", "3"), pick("A2", "1.5")]) == "A1 (3), A2 (1.5)"


def ticket_of(*panes: TicketPane) -> TicketPlan:
    return TicketPlan(made_on=date(2026, 1, 1), panes=list(panes), glass=[], recipes=[], mixes=[], warnings=[])


def test_the_ticket_says_once_what_all_panes_have_and_beside_each_what_is_its_own():
    same = pane_list(ticket_of(PANE, replace(PANE, label="1.2")))
    assert same.said_once == "All: Clear float, 4 mm, cut here; seamed; Harbour."
    assert [own for _, _, own in same.rows] == ["", ""]
    assert not same.of_its_own
    other = replace(PANE, label="1.2", route="own", backing="board", match_group="hall", place="2",
                    note="mind the corner")
    mixed = pane_list(ticket_of(PANE, other))
    assert mixed.said_once == "All: seamed; Harbour."
    assert [own for _, _, own in mixed.rows] == [
        "Clear float, 4 mm, cut here",
        "Clear float, 4 mm, customer's own; backing board added; matches hall; place 2; mind the corner",
    ]
    assert mixed.of_its_own


def test_the_quote_says_what_was_ordered_of_a_line():
    assert glass_in_words([], LINE, ["5.4"]) == "4 mm clear glass, float; seamed edge. About 5.4 kg each."
    assert "; edges as cut." in glass_in_words([], LINE | {"edge": "as cut"}, ["5.4"])
    assert extras_in_words(LINE, "metric") == ""
    ordered = LINE | {
        "shape": "other", "route": "own", "backing": "backing board added", "match_group": "hall", "place": "2",
        "holes": 1, "opening": True, "joint_mm": "3", "note": "two lifts",
    }
    assert glass_in_words([5, 1, 2, 3], ordered, ["5.7", "2.81"]) == (
        "Lines 1–3, 5: 4 mm clear glass, float, your own glass; seamed edge; backing board added. "
        "About 5.7 and 2.8 kg each."
    )
    assert glass_in_words([2], LINE, ["5.7", "12", "2.8"]) == (
        "Line 2: 4 mm clear glass, float; seamed edge. About 2.8 to 12 kg each."
    )
    assert extras_in_words(ordered, "metric") == (
        "made to match its neighbours, place 2; with 1 hole or socket; "
        "for an opening, 3 mm free at every edge; two lifts"
    )
    assert one_line(" The Net Loft\r\n\nKelder Quay, \nPort Asher") == "The Net Loft, Kelder Quay, Port Asher"
    assert [shape_in_words(LINE), shape_in_words(ordered)] == ["", ", shaped, within that rectangle"]


def test_the_price_says_where_a_yield_comes_from():
    assert yield_in_words(replace(PLANNED, own_yield=True)) == "Yield set by the owner."
    assert yield_in_words(replace(PLANNED, good=17, started=20)) == "Yield from runs: (good 17 + 9) / (started 20 + 10)."
    band = SizeBand(over_m2=Fraction(1, 4), up_to_m2=Fraction(1), good=17, started=20)
    assert yield_in_words(replace(PLANNED, good=17, started=20, band=band)) == (
        "Only panes over 0.25 m² and up to 1 m² count. Yield from runs: (good 17 + 9) / (started 20 + 10)."
    )
    assert spoilage_in_words(PLANNED) == "Chance of enough good panes: 97 %."
    assert spoilage_in_words(replace(PLANNED, plan="rework")) == "Rework plan: spoilt panes are silvered again."


def test_the_price_says_what_waits_for_a_bought_in_thing():
    frame = BoughtInFacts(name="Frame", cost=Fraction(40))
    assert bought_in_words(frame, "GBP") == "Frame: £40.00"
    assert bought_in_words(replace(frame, line=2, markup_share=Fraction(1, 4), days=1), "GBP") == (
        "Frame, line 2: £40.00, sold at £50.00 with its own mark-up of 25 %; takes 1 day, needed before packing"
    )
    assert bought_in_words(replace(frame, days=3, due_on=date(2026, 5, 4)), "GBP") == (
        "Frame: £40.00; due 4 May 2026, needed before packing"
    )


def test_what_was_typed_in_a_sentence_is_shown_and_never_read_as_html():
    page = Template("{% load price_words %}{% bought_in_words thing 'GBP' %}")
    shown = page.render(Context({"thing": BoughtInFacts(name="<b>Frame</b>", cost=Fraction(1))}))
    assert shown == "&lt;b&gt;Frame&lt;/b&gt;: £1.00"


@pytest.mark.parametrize(("amount", "unit", "said"), [
    ("-1", "sheet", "1 sheet comes back into"), ("-2", "sheet", "2 sheets come back into"),
    ("1", "sheet", "1 sheet leaves"), ("912", "mL", "912 mL leave"),
])
def test_what_an_undoing_moves_is_said_with_its_plural(amount, unit, said):
    moved = StockMovement(quantity=Decimal(amount), lot=Lot(lot_number="S1", material=Material(name="Silver", stock_unit=unit)))
    assert in_words(moved) == f"{said} {moved.lot}."
