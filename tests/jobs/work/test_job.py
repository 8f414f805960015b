"""A job from quote to delivery: frozen, promised, worked, deducted once, compared."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from pypdf import PdfReader

from jobs.draft import draft_of
from jobs.estimating.price_contents import price_contents
from jobs.estimating.spoilage import yield_share
from jobs.looking_back.comparison import compare
from jobs.models import Job, PaneResult, Quote, Run, RunEntry
from jobs.quotes.basis import run_history
from jobs.quotes.paper import quote_paper
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import QuoteError, decide, mark_sent, save_quote
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.booking import BookingError, book_job, deliver, frozen_estimate, undo_booking
from jobs.work.cancelling import cancel
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.ticket_paper import ticket_paper
from jobs.work.ticketing import make_ticket, plan_of
from recipes.reading import recipe_facts
from studio.house.clock import now, pretend, today
from studio.stockroom.ledger import NotEnough
from studio.stockroom.models import Lot, LotLevel, ReservedAmount, StockMovement
from studio.stockroom.shelf import standings
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages)


def test_a_quote_stays_as_it_was(workshop, owner):
    """A new version, a new lot price and new rates change the next quote, never this one."""
    order = workshop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    builders.rates(effective_from=today(), margin_share=Decimal("0.6"))
    builders.lot(workshop.silver, "100", owner, "S9", "900")
    quote.refresh_from_db()
    assert Decimal(quote.figures["price"]["total"]) == quote.total
    assert frozen_estimate(quote).price.total == Fraction(quote.total)
    dearer = save_quote(order=order, by=owner, form_key=builders.key())
    assert (dearer.number, dearer.revision) == (quote.number, 2)
    assert dearer.total > quote.total
    assert audit() == []


def test_a_quote_is_saved_once_for_a_form(workshop, owner):
    order, key = workshop.order(), builders.key()
    first = save_quote(order=order, by=owner, form_key=key)
    assert save_quote(order=order, by=owner, form_key=key) == first
    assert Quote.objects.count() == 1


def test_drafts_are_estimated_but_not_quoted(workshop, owner):
    draft = builders.recipe("Untried", workshop.steps())
    order = workshop.order(workshop.line(recipe_version_id=draft.pk))
    with pytest.raises(QuoteError, match="Not in use: Untried 1"):
        save_quote(order=order, by=owner, form_key=builders.key())


@pytest.mark.parametrize("change", [
    {"total": Decimal(1)}, {"basis": {}}, {"plan": {}}, {"figures": {}}, {"wording": {}}, {"number": 99},
])
def test_the_database_keeps_a_quote(workshop, owner, change):
    quote = save_quote(order=workshop.order(), by=owner, form_key=builders.key())
    with pytest.raises(IntegrityError, match="frozen"), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).update(**change)
    with pytest.raises(IntegrityError, match="never deleted"), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).delete()


def test_a_quote_is_decided_once(workshop, owner):
    order = workshop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    other = builders.quoted(order, owner, "Hall mirror, again")
    mark_sent(quote)
    assert decide(quote=quote, accepted=True).state == "accepted"
    assert decide(quote=quote, accepted=True).state == "accepted"
    with pytest.raises(QuoteError, match="was accepted already"):
        decide(quote=quote, accepted=False)
    assert decide(quote=other, accepted=True).state == "accepted"
    quote.refresh_from_db()
    assert quote.state == "replaced"
    with pytest.raises(IntegrityError, match="does not go from that state"), transaction.atomic():
        Quote.objects.filter(pk=other.pk).update(state="declined")


def test_a_lapsed_quote_is_not_accepted(workshop, owner):
    quote = save_quote(order=workshop.order(), by=owner, form_key=builders.key())
    with pretend(now() + timedelta(days=31)), pytest.raises(QuoteError, match="lapsed on"):
        decide(quote=quote, accepted=True)


def test_quote_paper_says_what_the_customer_needs_and_nothing_of_cost(workshop, owner, house):
    house.terms, house.care_note, house.address = "Half on order.", "A dry soft cloth.", "Test Quay 1"
    house.save()
    order = workshop.order(workshop.line("24 3/8 x 36", 2), workshop.line("61cm", 1, 2, edge="polished", route="own"))
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    pdf = quote_paper(quote)
    shown, reader = text_of(pdf), PdfReader(BytesIO(pdf))
    for wanted in ("The Testing Loft", "Test Quay 1", "Ada Fenwick", "quote 1", "valid until", "619.1 × 914.4 mm", "Ø 610 mm",
                   "Plain silver", "VAT 20 %", "to begin", "Half on order.", "A dry soft cloth.", "silvered by hand",
                   "at your risk", "name and signature", f"{quote.total:,.2f}"):
        assert wanted in shown, wanted
    figures = quote.figures
    for hidden in (figures["price"]["cost"][:6], figures["lines"][0]["chemistry"][:5], "margin", "overhead", "yield"):
        assert hidden not in shown.lower()
    assert len(reader.pages) <= 2
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert quote_paper(Quote.objects.get(pk=quote.pk)) == pdf


def test_paper_once_made_is_never_rendered_again(workshop, owner, house):
    quote = save_quote(order=workshop.order(), by=owner, form_key=builders.key())
    first = quote_paper(quote)
    house.name = "Renamed"
    house.save()
    assert quote_paper(Quote.objects.select_related("paper").get(pk=quote.pk)) == first
    with pytest.raises(IntegrityError, match="kept as it was"), transaction.atomic():
        Quote.objects.filter(pk=quote.pk).update(paper=None)


def test_booking_wants_acceptance_sample_and_deposit_or_a_reason(workshop, owner):
    order = workshop.order()
    asked = {"job": order.job, "by": owner, "due_on": None}
    with pytest.raises(BookingError, match="Mark the quote as accepted first"):
        book_job(**asked, sample_approved=True, deposit_noted=True, waived_because="")
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    with pytest.raises(BookingError, match="both in, or say why not"):
        book_job(**asked, sample_approved=True, deposit_noted=False, waived_because=" ")
    job = book_job(**asked, sample_approved=True, deposit_noted=False, waived_because="old friend")
    assert job.state == "booked"
    silver = ReservedAmount.objects.get(material=workshop.silver)
    assert silver.quantity == Decimal(str(frozen_estimate(job.quote).amounts["silver-nitrate"].__float__())).quantize(
        Decimal("0.001"))
    assert next(s for s in standings(today()) if s.material == workshop.silver).promised == silver.quantity
    assert audit() == []


def test_the_database_wants_sample_and_deposit_too(workshop):
    job = workshop.booked()
    undo_booking(job=job, by=workshop.owner, why="to book it again")
    with pytest.raises(IntegrityError, match="sample and deposit"), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(state="booked", quote=job.quote, reservation=job.reservation,
                                             booked_at=job.booked_at, deposit_noted=False)
    job = workshop.booked()
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(reservation=None)


def test_cancelling_frees_what_was_promised(workshop):
    job = workshop.booked()
    cancel(job=job, by=workshop.owner, because="The customer withdrew.", nothing_else=True)
    assert next(s for s in standings(today()) if s.material == workshop.silver).promised == 0
    with pytest.raises(BookingError):
        deliver(job=job)
    assert audit() == []


def test_a_ticket_names_amounts_in_order_with_lots(workshop, owner):
    builders.lot(workshop.silver, "2", owner, "S0", "3", expires_on_given=today() + timedelta(days=3))
    run = workshop.run(workshop.line(quantity=2, backing="board", note="left of the door"))
    plan = plan_of(run.ticket)
    silver = next(mix for mix in plan.mixes if mix.solution == "Silver part")
    assert [ingredient.name for ingredient in silver.ingredients] == ["Silver nitrate", "Ammonia 28 %", "Distilled water"]
    assert [pick.lot_number for pick in silver.ingredients[0].picks] == ["S0", "S1"]
    assert silver.ammoniacal
    assert [mix.solution for mix in plan.mixes][0] == "Sealer, neat"
    shown = text_of(ticket_paper(run.ticket))
    for wanted in ("Work ticket 1-1", "Hall mirror", "Pane", "1.1", "Cut list", "Silver nitrate", "until just clear", "S0",
                   "dwell 5 min", "Air °C", "Why spoilt", "nitrile gloves", "mix only for immediate use", "opens this run",
                   "backing board added", "left of the door", "make up to", "Leftovers and first rinse made safe"):
        assert wanted in shown, wanted
    assert "€" not in shown
    assert make_ticket(job=run.ticket.job, by=owner) == run.ticket


def test_a_run_cannot_finish_before_it_is_noted_and_made_safe(workshop, owner, helper):
    run = workshop.run()
    with pytest.raises(BenchError, match="conditions"):
        finish_run(run=run, by=helper)
    builders.worked(run, helper, safe=False)
    with pytest.raises(BenchError, match="made safe"):
        finish_run(run=run, by=helper)
    assert not StockMovement.objects.filter(kind="use").exists()
    with pytest.raises(IntegrityError), transaction.atomic():
        Run.objects.filter(pk=run.pk).update(finished_at=now(), finished_by=helper)


def test_finishing_deducts_once_from_the_first_to_expire(workshop, owner, helper):
    early = builders.lot(workshop.silver, "2", owner, "S0", "3", expires_on_given=today() + timedelta(days=3))
    run = builders.worked(workshop.run(), helper)
    for _ in range(3):
        finish_run(run=run, by=helper)
    run.refresh_from_db()
    assert LotLevel.objects.get(lot=early).on_hand == 0
    used = -sum(StockMovement.objects.filter(kind="use", lot__material=workshop.silver).values_list("quantity", flat=True))
    planned = next(mix for mix in bench_state(run).mixes if mix.mix.solution == "Silver part").mix.ingredients[0].amount
    assert used == planned
    glass = StockMovement.objects.get(kind="use", lot__material=workshop.glass)
    assert glass.quantity == -1
    assert run.ticket.job.order.job.state == "finished"
    assert next(s for s in standings(today()) if s.material == workshop.silver).promised == 0
    assert audit() == []


def test_amounts_really_used_are_what_is_deducted(workshop, helper):
    run = builders.worked(workshop.run(), helper, factor=Fraction(11, 10))
    state = bench_state(run)
    finish_run(run=run, by=helper)
    planned = sum(ingredient.amount for mix in state.mixes for ingredient in mix.mix.ingredients if ingredient.code == "dextrose")
    used = -StockMovement.objects.get(kind="use", lot__material=workshop.sugar).quantity
    assert used == round(planned * Decimal("1.1"), 3)


def test_too_little_posts_nothing_and_is_put_right(workshop, owner, helper):
    run = builders.worked(workshop.run(), helper)
    Lot.objects.filter(pk=workshop.silver_lot.pk).update(state="held", hold_reason="label torn")
    with pytest.raises(NotEnough, match=r"Silver nitrate: .* is missing"):
        finish_run(run=run, by=helper)
    run.refresh_from_db()
    assert run.finished_at is None
    assert not StockMovement.objects.filter(kind="use").exists()
    assert not PaneResult.objects.exists()
    builders.lot(workshop.silver, "100", owner, "S2")
    finish_run(run=run, by=helper)
    run.refresh_from_db()
    assert run.finished_at is not None
    assert audit() == []


def test_the_owner_can_say_why_an_expired_lot_is_used(workshop, owner, helper, at_owner, at_helper):
    """The usable lot first, the kept-back one for the rest, and the reason stands in its history."""
    Lot.objects.filter(pk=workshop.silver_lot.pk).update(expires_on_given=today() - timedelta(days=1))
    usable = builders.lot(workshop.silver, "2", owner, "S2")
    run = builders.worked(workshop.run(), helper)
    address, reason = reverse("jobs:finish", args=[run.pk]), {"kept_back_because": "Tested on a sample this morning."}
    assert "the owner can say why they may be used" in at_helper.get(address).content.decode()
    assert "Only the owner can say why" in at_helper.post(address, {"shown": "this", **reason}).content.decode()
    assert not StockMovement.objects.filter(kind="use").exists()
    assert builders.finish_by_page(at_owner, run, **reason).status_code == 302
    assert LotLevel.objects.get(lot=usable).on_hand == 0
    taken = StockMovement.objects.get(kind="use", lot=workshop.silver_lot)
    assert taken.note == "Tested on a sample this morning."
    assert taken.note in at_owner.get(f"/stockroom/lots/{workshop.silver_lot.pk}/").content.decode()
    assert audit() == []


def test_nothing_is_noted_after_the_end_and_nothing_edited(workshop, helper):
    run = builders.worked(workshop.run(), helper)
    finish_run(run=run, by=helper)
    with pytest.raises(BenchError, match="finished"):
        note(run=run, by=helper, client_key=builders.key(), kind="note", content={"text": "late"})
    for change in (
        lambda: RunEntry.objects.update(content={}), lambda: RunEntry.objects.all().delete(),
        lambda: PaneResult.objects.update(good=False), lambda: Run.objects.update(finished_at=None, posting=None),
        lambda: RunEntry.objects.create(run=run, client_key=builders.key(), kind="note", content={}, at=now(), by=helper),
        lambda: run.ticket.__class__.objects.update(plan={}),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()


def test_the_yield_learns_from_panes(workshop, helper):
    run = builders.worked(workshop.run(workshop.line(quantity=3)), helper)
    labels = [pane.label for pane in bench_state(run).panes]
    note(run=run, by=helper, client_key=builders.key(), kind="pane", subject=labels[0],
         content={"outcome": "spoilt", "attempts": 2, "because": "pinholes"})
    note(run=run, by=helper, client_key=builders.key(), kind="pane", subject=labels[-1],
         content={"outcome": "not started", "attempts": 1, "because": ""})
    finish_run(run=run, by=helper)
    history = run_history({workshop.recipe.finish_id})
    past = history[workshop.recipe.finish_id]
    assert (past.good, past.started) == (len(labels) - 2, len(labels))
    assert (past.largest_good_m2, past.most_good_in_a_run) == (Fraction("0.55815"), len(labels) - 2)
    recipes, _ = recipe_facts([workshop.recipe.pk], today(), history)
    assert yield_share(recipes[workshop.recipe.key]) == Fraction(past.good + 9, past.started + 10)
    larger = price_order(draft_of(workshop.order(workshop.line("900 x 1100 mm", 1))), today())
    assert "largest made well so far 0.558 m²" in price_contents(larger).never_tried[0]


def test_estimate_beside_actual(workshop, owner, helper):
    builders.lot(workshop.silver, "100", owner, "S2", "200")  # the last received sets the estimate: 2.00 a gram
    run = builders.worked(workshop.run(), helper)
    finish_run(run=run, by=helper)
    compared = compare(Job.objects.get(pk=run.ticket.job_id))
    silver = next(row for row in compared.materials if row.code == "silver-nitrate")
    assert silver.planned == silver.used
    assert silver.planned_cost == silver.planned * 2
    assert silver.used_cost == silver.used * Fraction(7, 5)  # the older lot, 700 for 500 g
    assert compared.noted_minutes == 70
    assert compared.noted_labour == Fraction(24) + Fraction(45, 6)
    assert compared.silver_used_g == silver.used * Fraction("0.63499")
    assert compared.silver_on_glass_g < compared.silver_used_g


def test_the_bench_page_step_by_step(workshop, helper, at_helper):
    """The helper notes everything by plain forms, as without JavaScript; each refusal keeps what was typed."""
    run = workshop.run()
    page = reverse("jobs:run", args=[run.pk])
    state = bench_state(run)
    wrong = at_helper.post(f"{page}conditions/", {"air_c": "warm", "humidity_percent": "50", "key": builders.key()})
    assert wrong.status_code == 422
    assert 'value="warm"' in wrong.content.decode()
    key = str(uuid4())
    for _ in range(2):
        sent = at_helper.post(f"{page}conditions/", {"air_c": "20", "humidity_percent": "50", "key": key})
        assert sent.status_code == 302
    assert RunEntry.objects.filter(kind="conditions").count() == 1
    first, *others = [mix.mix for mix in state.mixes]
    refused = at_helper.post(f"{page}mixes/{first.key}/", {"key": builders.key(), f"{first.key}-amount_1": "a pinch"})
    assert refused.status_code == 422
    assert "a pinch" in refused.content.decode()
    at_helper.post(f"{page}mixes/{first.key}/", {"key": builders.key(), f"{first.key}-amount_1": "0.2 L"})
    for mix in others:
        at_helper.post(f"{page}mixes/{mix.key}/as-written/", {"key": builders.key()})
    unsaid = at_helper.post(f"{page}panes/1.1/", {"outcome": "spoilt", "key": builders.key()})
    assert "Say what spoilt it" in unsaid.content.decode()
    for pane in state.panes:
        part = at_helper.post(f"{page}panes/{pane.label}/", {"outcome": "good", "key": builders.key()}, headers={"HX-Request": "true"})
        assert f'id="pane-{pane.label}"' in part.content.decode()
        assert 'id="todo" hx-swap-oob="true"' in part.content.decode()
    early = at_helper.post(f"{page}finish/")
    assert early.status_code == 422
    assert "made safe" in early.content.decode()
    assert at_helper.post(f"{page}made-safe/", {"key": builders.key()}).status_code == 422
    assert at_helper.post(f"{page}made-safe/", {"by_procedure": "on", "key": builders.key()}).status_code == 422
    at_helper.post(f"{page}made-safe/", {"clocks": [clock.pk for clock in clocks_of(run)], "treated": builders.SPRAYED_SAFE,
                                         "procedure": "Written procedure 1", "key": builders.key()})
    at_helper.post(f"{page}time/", {"helper": "50", "owner": "5", "key": builders.key()})
    assert builders.finish_by_page(at_helper, run).status_code == 302
    assert at_helper.post(f"{page}finish/").status_code == 302
    sealer = StockMovement.objects.get(kind="use", lot__material=workshop.sealer)
    assert sealer.quantity == -200
    assert at_helper.get(f"{page}mixes/nonsense/").status_code == 405
    assert at_helper.post(f"{page}mixes/nonsense/", {"key": builders.key()}).status_code == 404


@pytest.mark.parametrize(("part", "wrong"), [
    ("conditions/", {"air_c": "NaN", "humidity_percent": "50"}), ("conditions/", {"air_c": "20", "humidity_percent": "500"}),
    ("panes/1.1/", {"outcome": "wonderful"}), ("panes/1.1/", {"outcome": "good", "attempts": "-3"}),
    ("glass/clear-4-mm/", {"sheets": "two"}), ("glass/clear-4-mm/", {"sheets": "-1"}),
    ("time/", {"helper": "1e400", "owner": "5"}), ("note/", {"text": ""}), ("made-safe/", {"by_procedure": ""}),
])
@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}], ids=["page", "part"])
def test_what_is_wrong_on_the_bench_is_refused_in_words(workshop, at_helper, part, wrong, headers):
    run = workshop.run()
    response = at_helper.post(reverse("jobs:run", args=[run.pk]) + part, wrong, headers=headers)
    assert response.status_code == 422
    assert not RunEntry.objects.exists()
    assert ("<!doctype" in response.content.decode()) is not bool(headers)


def test_the_owners_pages_step_by_step(workshop, owner, at_owner, helper):
    job = workshop.order().job
    page = f"/jobs/{job.number}/"
    key = str(uuid4())
    for _ in range(2):
        assert at_owner.post(f"{page}quote/", {"key": key}).status_code == 302
    quote = Quote.objects.get()
    assert at_owner.get(f"/quotes/{quote.pk}/paper.pdf").content.startswith(b"%PDF")
    assert at_owner.post(f"{page}ticket/").status_code == 422
    assert at_owner.post(f"{page}book/", {}).status_code == 422
    at_owner.post(f"/quotes/{quote.pk}/sent/")
    at_owner.post(f"/quotes/{quote.pk}/accepted/")
    refused = at_owner.post(f"{page}book/", {"sample_approved": "on", "saves": 1})
    assert refused.status_code == 422
    assert "both in, or say why not" in refused.content.decode()
    assert at_owner.post(f"{page}book/", {"sample_approved": "on", "deposit_noted": "on", "saves": Job.objects.get().saves}).status_code == 302
    assert at_owner.post(f"{page}ticket/").status_code == 302
    run = Run.objects.get()
    assert at_owner.get(f"/tickets/{run.ticket_id}/paper.pdf").content.startswith(b"%PDF")
    finish_run(run=builders.worked(run, helper), by=helper)
    shown = at_owner.get(page).content.decode()
    assert "Estimate and actual" in shown
    asked = at_owner.post(f"{page}deliver/")  # the balance is not in
    assert asked.status_code == 422
    question = asked.context["question"]
    assert at_owner.post(f"{page}deliver/", {question.name: question.value}).status_code == 302
    lot = at_owner.get(f"/stockroom/lots/{workshop.silver_lot.pk}/").content.decode()
    assert "Job 1, Ticket 1-1" in lot


def test_a_newer_version_is_said(workshop, owner, at_owner):
    job = workshop.booked()
    builders.put_version_in_use(builders.recipe("Plain silver", workshop.steps(), number=2), owner)
    shown = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "This job uses Plain silver, version 1; version 2 exists" in shown
