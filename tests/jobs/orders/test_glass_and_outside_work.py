"""Openings, holes, toughening, outside work with its dates, masses, match groups, yield by size, site records."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from jobs.draft import DraftBoughtIn
from jobs.estimating.basis import Basis, BoughtInFacts, EdgeFacts, GlassFacts, HoleFacts, House, LineFacts
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.hole_words import read_holes
from jobs.estimating.holes import from_behind
from jobs.estimating.loads import PaneTooLarge
from jobs.estimating.refusals import EstimateError
from jobs.estimating.spoilage import plan_panes
from jobs.estimating.take_off import take_off
from jobs.models import BoughtIn, JobPhotograph, Order, SiteRecord
from jobs.orders.saving import change_order
from jobs.orders.site import Opening
from jobs.work.ticketing import make_ticket, plan_of
from recipes.facts import RecipeFacts, Shelf, SizeBand, StepFacts
from studio.house.clock import today
from studio.kit.errors import DaybookError
from tests import builders
from tests.jobs.orders.test_order_page import typed

HOUSE = House(bench_width_mm=Fraction(2000), bench_height_mm=Fraction(1200), margin_share=Fraction(35, 100))


def priced(*lines: dict, house: House = HOUSE, bought_in: tuple[BoughtInFacts, ...] = ()) -> Estimate:
    """Estimate lines of the customer's own glass in a recipe of one step; each line's own values."""
    recipe = RecipeFacts(key="r", finish="Plain", steps=(StepFacts(number=1, kind="clean", minutes_per_pane=Fraction(30)),))
    facts = tuple(LineFacts(**{
        "number": number, "shape": "rectangle", "width_mm": Fraction(600), "height_mm": Fraction(900), "quantity": 1,
        "recipe": "r", "glass": "g", "edge": "e", "route": "own", "own_panes_to_start": 1, **values,
    }) for number, values in enumerate(lines, start=1))
    return estimate_basis(Basis(
        as_of=date(2026, 3, 2), house=house, shelf=Shelf(), recipes={"r": recipe},
        glasses={"g": GlassFacts(key="g", name="Clear 4 mm"),
                 "h": GlassFacts(key="h", name="Clear 6 mm", thickness_mm=Fraction(6))},
        edges={"e": EdgeFacts(name="e")}, lines=facts, bought_in=bought_in,
    ))


def test_glass_weighs_what_en_572_says():
    """1 m² of 4 mm weighs 10 kg, of 6 mm 15 kg: 2.5 kg per m² and mm (EN 572-1)."""
    estimate = priced({"width_mm": Fraction(1000), "height_mm": Fraction(1000)},
                  {"width_mm": Fraction(1000), "height_mm": Fraction(1000), "glass": "h"})
    assert [size.pane_kg for size in estimate.sizes] == [10, 15]


def test_crates_and_what_takes_two():
    house = replace(HOUSE, two_person_kg=Fraction(12), crate_most_kg=Fraction(40), crate_kg=Fraction(8))
    estimate = priced({"width_mm": Fraction(1000), "height_mm": Fraction(1000), "quantity": 3, "own_panes_to_start": 3},
                  {"width_mm": Fraction(1000), "height_mm": Fraction(1000), "glass": "h"}, house=house)
    assert [(crate.panes, crate.gross_kg) for crate in estimate.carrying.crates] == [({1: 1, 2: 1}, 33), ({1: 2}, 28)]
    assert "Line 2: 15 kg a pane" in estimate.carrying.cautions[0].sentence
    assert "Crate 1, 2" in estimate.carrying.cautions[1].sentence
    assert priced({}).carrying.cautions == ()


def test_a_markup_of_its_own_goes_beside_the_margin():
    """Cost 0 but for what is bought: 100 at the house's 35 % is 100/0.65; at 15 % of its own it is 115."""
    through = priced({}, bought_in=(BoughtInFacts(name="frame", cost=Fraction(100)),)).price
    own = priced({}, bought_in=(BoughtInFacts(name="frame", cost=Fraction(100), markup_share=Fraction(15, 100)),)).price
    assert through.before_rounding == 100 / Fraction(65, 100)
    assert own.before_rounding == 115
    assert own.cost == through.cost == 100


def test_outside_work_moves_the_promised_date():
    start = date(2026, 3, 2)
    things = (
        BoughtInFacts(name="toughening", cost=Fraction(1), kind="toughening", days=7, before="silvering"),
        BoughtInFacts(name="frame", cost=Fraction(1), due_on=date(2026, 3, 20), before="packing"),
        BoughtInFacts(name="carriage", cost=Fraction(1), days=2, before="handing over"),
    )
    house = replace(HOUSE, cure_hours=Fraction(48))
    plain, waiting = priced({}, house=house).promise, priced({}, house=house, bought_in=things).promise
    assert [(stage.what, stage.on) for stage in plain.stages] == [
        ("Glass ready to silver", start), ("Off the bench", start), ("Cured", start + timedelta(days=2)),
        ("Packed", start + timedelta(days=2)), ("Delivered", start + timedelta(days=2)),
    ]
    assert [stage.on for stage in waiting.stages] == [
        date(2026, 3, 9), date(2026, 3, 9), date(2026, 3, 11), date(2026, 3, 20), date(2026, 3, 22)]
    assert "needs toughening" in waiting.stages[0].because


def test_holes_mirror_for_the_back():
    (hole, socket) = read_holes("hole 10 mm at 50 x 60 mm\nsocket 80 x 80 mm at 300 x 400")
    assert hole == HoleFacts(kind="hole", width_mm=Fraction(10), height_mm=Fraction(10), from_left_mm=Fraction(50),
                             from_bottom_mm=Fraction(60))
    behind = from_behind(socket, Fraction(1000))
    assert (behind.from_left_mm, behind.from_bottom_mm) == (700, 400)
    assert from_behind(behind, Fraction(1000)) == socket


@pytest.mark.parametrize("text", ["drill it", "hole 10 mm", "hole 10 mm at 50", "socket 80 at 30 x 40", "hole at 5 x 5"])
def test_what_is_no_hole_is_asked_back(text):
    with pytest.raises(DaybookError):
        read_holes(text)


def test_a_hole_lies_in_its_pane():
    with pytest.raises(EstimateError, match="does not lie inside"):
        priced({"holes": read_holes("hole 10 mm at 2 x 60 mm")})
    with pytest.raises(EstimateError, match="holes meet"):
        priced({"holes": read_holes("hole 40 mm at 100 x 100; hole 40 mm at 130 x 100")})
    close = priced({"holes": read_holes("hole 10 mm at 12 x 60 mm; hole 3 mm at 300 x 300 mm")})
    assert [(warning.kind, warning.line, warning.field) for warning in close.warnings] == [
        ("hole near an edge", 1, "holes_text"), ("hole smaller than thick", 1, "holes_text"),
    ]


def test_neighbours_of_two_kinds_say_so():
    estimate = priced({"match_group": "hall", "place": "2"}, {"match_group": "hall", "place": "1", "glass": "h"})
    (warning,) = estimate.warnings
    assert (warning.kind, warning.subject) == ("group mixes glass", "hall")
    assert warning.sentence.startswith("Match group hall mixes glass (Clear 4 mm, Clear 6 mm)")


def test_yield_by_size_once_runs_allow():
    """60 small of 60 good, 5 large of 20: a large pane goes by (5 + 9) / (20 + 10), one of 19 by all together."""
    def plan(started: int):
        large = SizeBand(over_m2=Fraction(1), up_to_m2=None, good=5, started=started)
        small = SizeBand(over_m2=Fraction(0), up_to_m2=Fraction(1), good=60, started=60)
        recipe = RecipeFacts(key="r", finish="Plain", good=65, started=60 + started, bands=(small, large))
        line = LineFacts(number=1, shape="rectangle", width_mm=Fraction(1500), height_mm=Fraction(1000), quantity=1,
                         recipe="r", glass="g", edge="e", plan="rework")
        size = take_off(line, EdgeFacts(name="e"), GlassFacts(key="g", name="g"))
        return plan_panes(line, recipe, HOUSE, size.area_m2)

    assert plan(20).yield_share == Fraction(14, 30)
    assert plan(19).yield_share == Fraction(74, 89)


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.mark.django_db
class TestOnThePage:
    def test_an_opening_less_its_joint(self, at_owner, workshop):
        at_owner.post("/jobs/new/", typed(workshop, {
            "size_text": "1010 x 710 mm", "opening": "on", "joint_text": "5 mm",
            "holes_text": "hole 10 mm at 50 x 60 mm", "match_group": "hall", "place": "A1",
        }))
        line = Order.objects.get().lines.get()
        assert (line.width_mm, line.height_mm, line.joint_mm) == (1000, 700, 5)
        assert line.holes == [{"kind": "hole", "width_mm": "10", "height_mm": "10", "from_left_mm": "50",
                               "from_bottom_mm": "60"}]
        page = at_owner.get(f"/jobs/{line.order.job.number}/order/").content.decode()
        assert "an opening; finished 1000 × 700 mm" in page
        assert "opening less 5 mm joint; hole 10 mm at 50 x 60 mm; matches hall, place A1" in page
        sent = typed(workshop, {"size_text": "1010 x 710 mm", "opening": "on", "joint_text": "5 mm"})
        assert "Opening 1010 × 710 mm" in at_owner.post("/jobs/price-working/", sent).content.decode()

    @pytest.mark.parametrize(("values", "sentence"), [
        ({"joint_text": "5 mm"}, "tick “The size typed is the opening”"),
        ({"opening": "on", "joint_text": "400 mm"}, "leaves nothing of the opening"),
        ({"holes_text": "hole 10 mm at 5000 x 60 mm"}, "does not lie inside the pane"),
        ({"holes_text": "a hole"}, "was not understood"),
        ({"route": "offcut"}, "does not fit on the kept offcuts"),
    ])
    def test_refusals_beside_their_field(self, at_owner, workshop, values, sentence):
        answer = at_owner.post("/jobs/new/", typed(workshop, values))
        assert answer.status_code == 422
        assert sentence in answer.content.decode()

    def test_toughened_before_silvering(self, at_owner, workshop):
        thing = {"bought-0-name": "toughening", "bought-0-cost": "30", "bought-0-kind": "toughening",
                 "bought-0-before": "packing"}
        answer = at_owner.post("/jobs/new/", typed(workshop, {}, **thing))
        assert "the oven would destroy the silver" in answer.content.decode()
        assert at_owner.post("/jobs/new/", typed(workshop, {}, **thing | {
            "bought-0-before": "silvering", "bought-0-markup": "15 %", "bought-0-days": "5"})).status_code == 302
        row = BoughtIn.objects.get()
        assert (row.kind, row.markup_share, row.days) == ("toughening", Decimal("0.15"), 5)
        with pytest.raises(IntegrityError), transaction.atomic():
            BoughtIn.objects.update(before="packing")

    def test_toughened_glass_is_not_toughened_again(self, workshop):
        tough = builders.glass("Tough 6 mm", treatment="toughened")
        with pytest.raises(EstimateError, match="treated glass already"):
            workshop.order(workshop.line(glass_id=tough.pk, route="own"), bought_in=[DraftBoughtIn(
                name="toughening", cost=Decimal(3), line_number=1, kind="toughening", before="silvering")])
        with pytest.raises(EstimateError, match="cannot be drilled"):
            workshop.order(workshop.line(glass_id=tough.pk, route="own", holes=read_holes("hole 10 mm at 50 x 60 mm")))

    def test_ticket_says_where_neighbours_hang_and_asks_for_the_photograph(self, at_owner, workshop):
        builders.lot(workshop.glass, "11", workshop.owner, "G0", "52", received_on=today() - timedelta(days=30))
        run = make_ticket(job=workshop.booked(
            workshop.line("1500 x 1000 mm", 12, 1, match_group="hall", place="left", own_panes_to_start=23),
            workshop.line("1500 x 1000 mm", 1, 2, match_group="hall", place="right",
                          holes=read_holes("socket 80 x 80 mm at 300 x 400 mm")),
        ), by=workshop.owner).run
        (group,) = plan_of(run.ticket).match_groups
        assert group.panes[0] == ("left", "1.1")
        assert group.panes[-1] == ("right", "2.1")
        assert any("does not fit one load" in sentence for sentence in group.apart_because)
        assert any("comes from 2 lots" in sentence for sentence in group.apart_because)
        assert at_owner.get(f"/tickets/{run.ticket.pk}/paper.pdf").status_code == 200
        key = str(builders.key())
        for _ in range(2):
            sent = {"key": key, "kind": "dry lay", "photograph": _file(), "caption": "in order"}
            assert at_owner.post(f"/jobs/{run.ticket.job.number}/photographs/", sent).status_code == 302
        assert JobPhotograph.objects.get().caption == "in order"

    def test_neighbours_get_one_lot_where_one_serves(self, workshop):
        """The older lot has one sheet of the two needed: without matching it goes first, with it the other serves."""
        builders.lot(workshop.glass, "1", workshop.owner, "G0", "52", received_on=today() - timedelta(days=30))

        def lots(**more):
            job = workshop.booked(workshop.line("1500 x 1000 mm", 3, own_panes_to_start=3, **more))
            return [pick.lot_number for pick in plan_of(make_ticket(job=job, by=workshop.owner)).glass[0].picks]

        assert lots() == ["G0", "G1"]
        assert lots(match_group="hall") == ["G1"]

    def test_a_site_record_gives_the_opening(self, at_owner, workshop):
        order = workshop.order(workshop.line("600 x 900 mm", 1))
        address = f"/jobs/{order.job.number}/site/1/"
        sent = {"width_low_mm": "1003", "width_middle_mm": "1001", "width_high_mm": "1004 mm", "height_left_mm": "70 cm",
                "height_middle_mm": "701", "height_right_mm": "703", "diagonal_rising_mm": "1222",
                "diagonal_falling_mm": "1226", "measured_by": "Ada", "measured_on": "2026-03-02", "access": "two stairs"}
        assert at_owner.post(address, {**sent, "width_low_mm": "wide"}).status_code == 422
        assert at_owner.post(address, sent).status_code == 302
        page = at_owner.get(address).content.decode()
        assert "1001 × 700 mm, the narrowest width" in page
        assert "the diagonals differ by 4 mm" in page
        assert at_owner.post(address + "take/").status_code == 302
        line = Order.objects.get().lines.get()
        assert (line.size_text, line.width_mm, line.opening) == ("1001 x 700 mm", 1001, True)
        assert SiteRecord.objects.get().access == "two stairs"

    def test_an_opening_that_no_bench_holds_is_not_taken(self, at_owner, workshop):
        order = workshop.order(workshop.line("600 x 900 mm", 1))
        address = f"/jobs/{order.job.number}/site/1/"
        sides = dict.fromkeys(("width_low_mm", "width_middle_mm", "width_high_mm"), "5000")
        sides |= dict.fromkeys(("height_left_mm", "height_middle_mm", "height_right_mm"), "4000")
        at_owner.post(address, {**sides, "measured_by": "Ada", "measured_on": "2026-03-02"})
        page = at_owner.post(address + "take/", follow=True).content.decode()
        assert "5000 × 4000 mm, does not fit the bench" in page
        line = Order.objects.get().lines.get()
        assert (line.size_text, line.width_mm, line.opening) == ("600 x 900 mm", 600, False)

    def test_what_cannot_be_made_is_not_saved_whoever_asks(self, workshop):
        with pytest.raises(PaneTooLarge) as refusal:
            workshop.order(workshop.line("5000 x 4000 mm", 1))
        assert (refusal.value.line, refusal.value.field) == (1, "oversize_method")
        assert not Order.objects.exists()
        order = workshop.order(workshop.line("600 x 900 mm", 1))
        order.title = "changed"
        with pytest.raises(PaneTooLarge):
            change_order(order=order, saves=order.saves, typed_lines=[workshop.line("5000 x 4000 mm", 1)])
        kept = Order.objects.get()
        assert (kept.title, kept.saves, kept.lines.get().size_text) == ("Hall mirror", 1, "600 x 900 mm")


def test_diagonals_that_do_not_add_up():
    """A 3-4-5 rectangle: 900 by 1200 has diagonals of 1500."""
    sides = {"widths": (Fraction(900),) * 3, "heights": (Fraction(1200),) * 3}
    assert not Opening(**sides, rising=Fraction(1503), falling=Fraction(1498)).does_not_add_up()
    assert Opening(**sides, rising=Fraction(1503), falling=Fraction(1450)).does_not_add_up()
    assert Opening(**sides).out_of_square_mm is None


def _file():
    from django.core.files.uploadedfile import SimpleUploadedFile

    return SimpleUploadedFile("lay.jpg", builders.photograph(), "image/jpeg")
