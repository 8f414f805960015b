"""What was accepted stands: a quote's plan is frozen with it, and no later stage works it out again."""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import fields, replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction

from jobs.draft import draft_of
from jobs.estimating import estimate as estimating
from jobs.estimating import mixes as mixing
from jobs.estimating.basis import Basis
from jobs.estimating.cutting import plans as cutting_plans
from jobs.estimating.estimate import Estimate, estimate_basis
from jobs.estimating.refusals import EstimateError
from jobs.frozen import freeze, thaw
from jobs.looking_back.buying import buying_list
from jobs.looking_back.comparison import compare
from jobs.models import Quote
from jobs.quotes import frozen_plan as frozen_plans
from jobs.quotes.frozen_plan import PlanUnreadable, freeze_plan, stock_of, thaw_plan
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import book_job, frozen_plan
from jobs.work.finishing import finish_run
from jobs.work.ticketing import make_ticket, plan_of
from studio.house.clock import today
from studio.kit import database_rules
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import ReservedAmount
from studio.stockroom.offcuts.kept import keep_offcut
from studio.whole.audit import audit
from tests import builders
from tests.worked_cases import basis_of

CASES = json.loads(Path(__file__).parents[1].joinpath("estimating", "worked_cases.json").read_text(encoding="utf-8"))["cases"]
BOOK = Path(__file__).resolve().parents[3] / "studio" / "whole" / "demo" / "book.json"


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def same(read: Estimate, worked_out: Estimate) -> None:
    for field in fields(Estimate):
        assert getattr(read, field.name) == getattr(worked_out, field.name), field.name
    assert read.timetable == worked_out.timetable
    assert read.promise == worked_out.promise


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["title"][:40])
def test_a_plan_is_read_back_as_it_was_worked_out(case):
    estimate = estimate_basis(basis_of(case["given"]))
    same(thaw_plan(freeze_plan(estimate), thaw(freeze(estimate.basis), Basis)).estimate, estimate)


def test_what_is_taken_from_stock_is_read_alone():
    for case in CASES:
        estimate = estimate_basis(basis_of(case["given"]))
        written = json.loads(json.dumps(freeze_plan(estimate)))
        assert stock_of(written) == thaw_plan(written, estimate.basis).stock
    for wrong in ({}, {"format": 99, "stock": {}}, {"format": 1}, {"format": 1, "stock": {"water": "much"}}):
        with pytest.raises(PlanUnreadable):
            stock_of(wrong)


def test_mixing_is_read_back_as_it_was_frozen():
    """Given a plan with mixing of every kind, then it is read back; one without writes no word of it."""
    basis = basis_of(CASES[0]["given"])
    plain = freeze_plan(estimate_basis(basis))
    assert "mixing" not in json.dumps([plain["timetable"], plain["labour"]])
    estimate = estimate_basis(replace(basis, house=replace(basis.house, mixing_minutes_per_batch=Fraction(7, 3))))
    assert estimate.minutes > estimate_basis(basis).minutes
    plan = thaw_plan(freeze_plan(estimate), thaw(freeze(estimate.basis), Basis))
    same(plan.estimate, estimate)
    assert plan.todays_arithmetic


def test_a_basis_of_before_has_no_mixing_minutes():
    basis = freeze(basis_of(CASES[0]["given"]))
    del basis["house"]["mixing_minutes_per_batch"]
    for solution in basis["shelf"]["solutions"].values():
        del solution["mixing_minutes"]
    assert all(labour.mixing.total == 0 for labour in estimate_basis(thaw(basis, Basis)).labour.values())


def test_a_quote_of_earlier_arithmetic_is_let_be(workshop, owner):
    """Given a quote worked out before mixing was work, when the studio says how long it takes, then it stays."""
    quote = save_quote(order=workshop.order(), by=owner, form_key=builders.key())
    earlier = {**quote.plan, "arithmetic": frozen_plans.ARITHMETIC - 1}
    builders.rates(effective_from=today(), mixing_minutes_per_batch=Decimal(4))
    assert written(quote, earlier) == []
    quote.refresh_from_db()
    assert frozen_plan(quote).minutes == frozen_plan(quote).estimate.minutes
    now = price_order(draft_of(quote.order), today())
    assert now.minutes == frozen_plan(quote).minutes + 4 * sum(len(mix.batches) for mix in now.mixes)


def test_the_demos_plans_are_read_and_written_alike():
    """They pin the first format: a change of it needs a reader of its own."""
    quotes = [quote for job in json.loads(BOOK.read_text(encoding="utf-8"))["jobs"] for quote in job["order"].get("quotes", [])]
    assert {quote["plan"]["format"] for quote in quotes} == {1}
    for quote in quotes:
        again = freeze_plan(thaw_plan(quote["plan"], thaw(quote["basis"], Basis)).estimate)
        assert {**again, "arithmetic": quote["plan"]["arithmetic"]} == quote["plan"]


def test_a_plan_of_another_format_is_never_guessed(workshop):
    quote = save_quote(order=workshop.order(), by=workshop.owner, form_key=builders.key())
    with pytest.raises(PlanUnreadable, match="frozen by another version"):
        thaw_plan({**quote.plan, "format": 99}, thaw(quote.basis, Basis))


def demanding(workshop):
    """An order cut from a sheet and a kept offcut, with a place among its neighbours and a hole."""
    keep_offcut(key=builders.key(), by=workshop.owner, material=workshop.glass, width_mm=Decimal(700),
                height_mm=Decimal(1000))
    return workshop.order(
        workshop.line(quantity=3, match_group="hall", place="left"),
        workshop.line("500 x 600 mm", 1, 2, route="offcut", own_panes_to_start=1),
    )


def nothing_is_worked_out(monkeypatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise EstimateError("no rates", "This is worked out again.")

    for stage in ("plan_loads", "plan_shared_mixes", "glass_cost", "line_labour", "price_up", "timetable", "promise"):
        monkeypatch.setattr(estimating, stage, refuse)


def test_every_stage_says_what_was_frozen(workshop, owner, at_owner, monkeypatch):
    """Given a quote, when the solver is another, then the list to buy, booking, ticket and comparison stay."""
    order = demanding(workshop)
    expected = price_order(draft_of(order), today())
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    stock, plan_then = dict(frozen_plan(quote).stock), expected.timetable
    workshop.silver.reorder_point = Decimal(10000)
    workshop.silver.save()
    nothing_is_worked_out(monkeypatch)

    to_buy = next(row for row in buying_list(today()) if row.material == workshop.silver)
    assert to_buy.quoted == stock["silver-nitrate"] > 0
    decide(quote=quote, accepted=True)
    job = book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    promised = {amount.material.code: amount.quantity for amount in ReservedAmount.objects.filter(reservation=job.reservation)}
    assert promised == stock
    assert [offcut.number for offcut in job.reservation.offcuts.all()] == [1]
    page = at_owner.get(f"/jobs/{job.number}/")
    assert page.status_code == 200
    assert "worked out again" not in page.content.decode()

    ticket = make_ticket(job=job, by=owner)
    plan = plan_of(ticket)
    assert plan.timetable == plan_then
    assert {(mix.solution, mix.volume_ml) for mix in plan.mixes} == {
        (mix.solution.name, batch.volume_ml) for mix in expected.mixes for batch in mix.batches}
    assert [(sheet.kept_offcut, len(sheet.pieces)) for glass in plan.glass for sheet in glass.plan] == [
        (sheet.kept_offcut, len(sheet.pieces)) for use in expected.glass.sheets for sheet in use.plan]
    finish_run(run=builders.worked(ticket.run, owner), by=owner)
    compared = compare(job)
    assert compared is not None
    assert compared.planned_minutes == expected.minutes
    assert {row.code: row.planned for row in compared.materials if row.code in expected.amounts} == expected.amounts
    assert compared.silver_planned_g == expected.silver.into_job_g
    assert at_owner.get(f"/jobs/{job.number}/").status_code == 200
    assert "As planned" in at_owner.get(f"/jobs/{job.number}/silver/").content.decode()


def test_a_booked_job_is_short_of_what_its_quote_froze(workshop, owner, at_owner):
    """Given a booked job with just enough, when today's mix would be bigger, then nothing is said to be short."""
    job = workshop.booked()
    needed = frozen_plan(job.quote).stock["silver-nitrate"]
    discard(key=builders.key(), lot=workshop.silver_lot, by=owner, amount=Decimal(500) - needed, why="spilt")
    builders.rates(effective_from=today(), increment_ml=Decimal(2500))
    assert price_order(draft_of(job.order), today()).amounts["silver-nitrate"] > needed
    assert "Short on the shelf" not in at_owner.get(f"/jobs/{job.number}/").content.decode()


def test_a_corrected_sum_leaves_the_accepted_quote(workshop, owner, monkeypatch):
    """Corrected arithmetic gives the next quote other figures; raised in number, the audit lets the old ones be."""
    order = workshop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    batches = mixing.batch_volumes_ml
    monkeypatch.setattr(mixing, "batch_volumes_ml", lambda *given: [2 * batch for batch in batches(*given)])
    decide(quote=quote, accepted=True)
    job = book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    promised = {amount.material.code: amount.quantity for amount in ReservedAmount.objects.filter(reservation=job.reservation)}
    assert promised == frozen_plan(quote).stock
    assert f"{quote} was frozen with other needs than its basis gives." in audit()
    monkeypatch.setattr(frozen_plans, "ARITHMETIC", frozen_plans.ARITHMETIC + 1)
    assert audit() == []


BREAKS = "was frozen with a cutting plan that breaks the rules of cutting: "


def test_a_cutting_plan_is_looked_over_and_never_looked_for_again(workshop, owner, monkeypatch):
    """Given quotes on sheets and a kept offcut, when another search would find other plans, then the audit lets them be."""
    save_quote(order=demanding(workshop), by=owner, form_key=builders.key())
    save_quote(order=workshop.order(workshop.line(quantity=4)), by=owner, form_key=builders.key())

    def refuse(*_: object) -> None:
        raise AssertionError("searched again")

    monkeypatch.setattr(cutting_plans, "nest", refuse)
    assert audit() == []


def written(quote: Quote, plan: dict) -> list[str]:
    """Write a plan behind the rules' back and return what the audit then says."""
    database_rules.lift(connection)
    Quote.objects.filter(pk=quote.pk).update(plan=plan)
    database_rules.install(connection)
    return audit()


def _stock(plan: dict) -> None:
    plan["stock"]["silver-nitrate"] = "1"


def _offcuts(plan: dict) -> None:
    plan["offcuts"] = [7]


def _line_price(plan: dict) -> None:
    plan["price"]["line_prices"][0] = str(Fraction(plan["price"]["line_prices"][0]) + 1)


def _tax(plan: dict) -> None:
    plan["price"]["tax"] = "0"


def _cost(plan: dict) -> None:
    plan["costs"][0]["labour"] = "0"


def _measured(plan: dict) -> None:
    plan["mixes"][0]["batches"][0]["ingredients"][0]["amount"] = "1"


def _load(plan: dict) -> None:
    plan["loads"]["plain-silver/1"][0]["panes"].pop()


def _cut_twice(plan: dict) -> None:
    pieces = plan["glass"]["sheets"][0]["plan"][0]["pieces"]
    pieces.append(pieces[0])


def _sheets(plan: dict) -> list[dict]:
    """Return the first sheet where the plan tells how it is cut and where it tells what is used."""
    return [plan["glass"]["plans"][0]["sheets"][0], plan["glass"]["sheets"][0]["plan"][0]]


def _pane_missing(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["pieces"].pop()


def _overlapping(plan: dict) -> None:
    for sheet in _sheets(plan):
        one, other = sheet["pieces"][:2]
        other["left_mm"], other["bottom_mm"] = one["left_mm"], one["bottom_mm"]


def _larger_than_the_sheet(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["pieces"][0]["width_mm"] = "99999"


def _over_the_edge(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["pieces"][-1]["left_mm"] = "99999"


def _other_sheet(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["width_mm"] = "99999"


def _offcut_left(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["offcuts"][0]["width_mm"] = str(Fraction(sheet["offcuts"][0]["width_mm"]) + 1)


def _cut_moved(plan: dict) -> None:
    for sheet in _sheets(plan):
        sheet["cuts"][0]["measured_mm"] = "1"


def _cost_of_the_plan(plan: dict) -> None:
    plan["glass"]["plans"][0]["cost"] = "1"


def _no_cutting(plan: dict) -> None:
    plan["glass"]["plans"] = []


def _two_answers(plan: dict) -> None:
    plan["glass"]["sheets"][0]["plan"][0]["cuts"].pop()


def _dearer_glass(plan: dict) -> None:
    plan["glass"]["sheets"][0]["kept_cost"] = "7"


def _planned(plan: dict) -> None:
    plan["planned"]["silver-nitrate"]["cost"] = "0"


def _format(plan: dict) -> None:
    plan["format"] = 99


def _ingredient(plan: dict) -> None:
    plan["mixes"][0]["batches"][0]["ingredients"][0]["ingredient"] = 99


@pytest.mark.parametrize(("by_hand", "said"), [
    (_stock, "needs stock that is not the sum of its mixes and sheets"),
    (_offcuts, "needs kept offcuts that are not those of its cutting plan"),
    (_line_price, "has line prices that do not sum to its net"),
    (_tax, "has a price whose discount, net, tax and total do not tie"),
    (_cost, "has lines whose costs do not sum to its cost"),
    (_measured, "has amounts that are not those of its mixes"),
    (_load, "does not work and cut every pane once: 1."),
    (_cut_twice, "does not work and cut every pane once: 1."),
    (_pane_missing, BREAKS + "not every pane is cut once"),
    (_overlapping, BREAKS + "sheet 1 cannot be cut from edge to edge"),
    (_larger_than_the_sheet, BREAKS + "pane 1.1 is cut to another size"),
    (_over_the_edge, BREAKS + "sheet 1 cannot be cut from edge to edge"),
    (_other_sheet, BREAKS + "sheet 1 is of no size that there was"),
    (_offcut_left, BREAKS + "its cuts, offcuts or cost are not those"),
    (_cut_moved, BREAKS + "its cuts, offcuts or cost are not those"),
    (_cost_of_the_plan, BREAKS + "its cuts, offcuts or cost are not those"),
    (_no_cutting, BREAKS + "there is none for"),
    (_two_answers, "was frozen with other sheets, or other costs of glass"),
    (_dearer_glass, "was frozen with other sheets, or other costs of glass"),
    (_planned, "has planned amounts, costs or minutes that are not those of its lines"),
    (_format, "holds a plan that cannot be read"),
    (_ingredient, "holds a plan that cannot be read"),
])
def test_a_plan_altered_by_hand_is_found(workshop, owner, by_hand, said):
    job = workshop.booked()
    assert audit() == []
    plan = deepcopy(job.quote.plan)
    by_hand(plan)
    assert any(sentence.startswith(f"{job.quote} {said}") for sentence in written(job.quote, plan))


def test_altered_needs_are_not_what_was_promised(workshop):
    job = workshop.booked()
    plan = deepcopy(job.quote.plan)
    _stock(plan)
    assert f"{job} does not promise what its quote needs." in written(job.quote, plan)


def test_the_database_wants_a_plan_and_keeps_it(workshop, owner):
    quote = save_quote(order=workshop.order(), by=owner, form_key=builders.key())
    with pytest.raises(IntegrityError, match="frozen: make a new revision"), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).update(plan={**quote.plan, "arithmetic": 0})
    quote.pk, quote.revision, quote.form_key, quote.plan = None, 2, builders.key(), {}
    with pytest.raises(IntegrityError, match="frozen with its plan"), transaction.atomic():
        quote.save(force_insert=True)
