"""Samples and the go-ahead: a ticket waits for the customer's word on every finish, and for the deposit."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from pypdf import PdfReader

from jobs import acts
from jobs.models import Job, JobAct, SampleApproval, WentAhead, WorkTicket
from jobs.orders.saving import change_order
from jobs.quotes.quoting import decide, save_quote
from jobs.work import states
from jobs.work.approval_pack import approval_pack_of
from jobs.work.booking import BookingError, book_job, undo_booking
from jobs.work.coming_in import take_in, undo_taking_in
from jobs.work.revising import revise
from jobs.work.samples import NotYet, SampleError, approve, keep_sample, lacking, let_go_ahead
from jobs.work.ticketing import make_ticket, print_anew
from recipes.models import TrialPhotograph
from studio.house.clock import now, today
from studio.house.kept_files import keep
from studio.house.models import HouseRates
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def other_finish(shop):
    return builders.put_version_in_use(builders.recipe("Smoke", shop.steps()), shop.owner)


def fresh(job: Job) -> Job:
    return Job.objects.get(pk=job.pk)


def accepted(shop, *lines) -> Job:
    order = shop.order(*lines)
    decide(quote=save_quote(order=order, by=shop.owner, form_key=builders.key()), accepted=True)
    return fresh(order.job)


def booked_bare(shop, *lines) -> Job:
    """Book a job with the deposit in and no sample, as a database of any day may hold one."""
    job = accepted(shop, *lines)
    job = book_job(job=job, by=shop.owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    undo_taking_in(act=JobAct.objects.get(job=job, kind="sample"), by=shop.owner, why="ticked by mistake")
    return fresh(job)


def with_photographs(shop, version):
    """A trial of a finish with a photograph of each side."""
    trial = builders.trial(version, shop.owner)
    for side, colour in (("front", "#778899"), ("back", "#443322")):
        file = keep(builders.photograph(colour=colour), name=f"{side}.jpg", media_type="image/jpeg", owner_only=False)
        TrialPhotograph.objects.create(trial=trial, key=builders.key(), side=side, original=file, print_copy=file,
                                       screen_copy=file, aligned_copy=file, at=now(), by=shop.owner)
    return trial


def test_given_two_finishes_then_the_ticket_waits_for_each_sample_by_name(shop):
    smoke = other_finish(shop)
    job = booked_bare(shop, shop.line(), shop.line(number=2, recipe_version_id=smoke.pk))
    with pytest.raises(NotYet, match="the samples of Plain silver and Smoke: record"):
        make_ticket(job=job, by=shop.owner)
    for version in (shop.recipe, smoke):
        approve(keep_sample(job=job, recipe_version=version, values={"half_with": "Ada"}), "Ada Fenwick", "post",
                by=shop.owner, on=today())
    assert not lacking(fresh(job))
    assert fresh(job).sample_approved
    assert make_ticket(job=fresh(job), by=shop.owner).number == 1
    notes = JobAct.objects.filter(job=job, kind="sample", undone_by=None).values_list("note", flat=True)
    assert set(notes) == {"Plain silver, version 1: Ada Fenwick, by post", "Smoke, version 1: Ada Fenwick, by post"}


def test_given_another_finish_by_a_revision_then_its_sample_alone_is_asked_for(shop):
    smoke = other_finish(shop)
    job = shop.booked(shop.line(), shop.line(number=2))
    make_ticket(job=job, by=shop.owner)
    order = job.order
    revise(job=fresh(job), by=shop.owner, key=builders.key(), why="one in smoke", agreed_by="Ada", change=lambda:
           change_order(order=order, saves=type(order).objects.get(pk=order.pk).saves, by=shop.owner, act=states.REVISE,
                        typed_lines=[shop.line(), shop.line(number=2, recipe_version_id=smoke.pk)]))
    assert [version.pk for version in lacking(fresh(job)).finishes] == [smoke.pk]
    with pytest.raises(NotYet, match="the sample of Smoke:"):
        print_anew(job=fresh(job), by=shop.owner)
    approve(keep_sample(job=job, recipe_version=smoke, values={}), "Ada", "visit", by=shop.owner)
    assert print_anew(job=fresh(job), by=shop.owner).replaces == 1


def test_given_the_owner_says_why_then_it_goes_ahead_and_says_so_everywhere(shop, at_owner, at_helper):
    job = booked_bare(shop)
    page = f"/jobs/{job.number}/"
    assert "its ticket waits for the sample of Plain silver" in at_owner.get(page).content.decode()
    refused = at_owner.post(f"{page}ticket/")
    assert refused.status_code == 422
    assert "The ticket waits for the sample of Plain silver" in refused.content.decode()
    today_page = at_owner.get("/").content.decode()
    assert "Get the sample of Hall mirror in" in today_page
    assert "Make the work ticket of Hall mirror" not in today_page
    sent = {"key": str(builders.key()), "because": "The same glass as their hall, seen there"}
    assert at_owner.post(f"{page}go-ahead/", {"key": sent["key"], "because": " "}).status_code == 422
    for _ in range(2):  # pressed twice
        assert at_owner.post(f"{page}go-ahead/", sent).status_code == 302
    assert WentAhead.objects.filter(job=job).count() == 1
    assert at_owner.post(f"{page}ticket/").status_code == 302
    ticket = WorkTicket.objects.get(job=job)
    run_page = f"/bench/{ticket.run.pk}/"
    for address in ("/", page, run_page):
        assert "The same glass as their hall, seen there" in at_owner.get(address).content.decode(), address
    assert "seen there" not in at_helper.get(run_page).content.decode()


def test_given_somebody_of_the_desk_then_they_record_what_came_but_let_nothing_go_ahead(shop):
    job, desk = booked_bare(shop), builders.person("ines", "desk")
    client = Client()
    client.force_login(desk)
    assert "Go ahead without" not in client.get(f"/jobs/{job.number}/").content.decode()
    refused = client.post(f"/jobs/{job.number}/go-ahead/", {"key": str(builders.key()), "because": "they rang"})
    assert "Only the owner" in refused.content.decode()
    with pytest.raises(NotYet):
        make_ticket(job=job, by=desk)
    other = accepted(shop)
    with pytest.raises(NotYet, match="Only the owner"):
        book_job(job=other, by=desk, sample_approved=False, deposit_noted=True, waived_because="they rang", due_on=None)
    approve(keep_sample(job=job, recipe_version=shop.recipe, values={}), "Ada", "photograph", by=desk)
    assert make_ticket(job=fresh(job), by=desk)


def test_given_a_reason_at_booking_then_it_counts_for_that_booking_alone(shop):
    job = accepted(shop)
    booking = {"by": shop.owner, "sample_approved": False, "deposit_noted": False, "due_on": None}
    job = book_job(job=job, waived_because="an old friend", **booking)
    assert not lacking(job)
    undo_booking(job=job, by=shop.owner, why="another week")
    with pytest.raises(BookingError, match="say why not"):
        book_job(job=fresh(job), waived_because="", **booking)
    job = book_job(job=fresh(job), by=shop.owner, sample_approved=True, deposit_noted=False,
                   waived_because="Friday", due_on=None)
    assert {row.recipe_version_id for row in WentAhead.objects.filter(job=job, because="Friday")} == {None}
    assert make_ticket(job=job, by=shop.owner)


def test_given_the_tick_at_booking_then_the_payment_says_how_it_came(shop, at_owner):
    job = accepted(shop)
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "How the deposit was paid" in page
    answer = at_owner.post(f"/jobs/{job.number}/book/", {
        "sample_approved": "on", "deposit_noted": "on", "how": "cash", "saves": job.saves})
    assert answer.status_code == 302
    assert JobAct.objects.get(job=job, kind="paid").how == "cash"
    other = accepted(shop)
    missing = other.order.quotes.get().deposit
    take_in(job=other, by=shop.owner, key=builders.key(), amount=missing, how="card")
    page = at_owner.get(f"/jobs/{other.number}/").content.decode()
    assert "How the deposit was paid" not in page  # the tick records nothing


def test_given_no_deposit_is_asked_then_none_is_ticked_and_a_revision_that_asks_one_waits_for_it(shop, at_owner):
    HouseRates.objects.update(deposit_share=0)
    job = accepted(shop)
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "No deposit is asked for" in page
    assert "How the deposit was paid" not in page
    booked = at_owner.post(f"/jobs/{job.number}/book/", {"sample_approved": "on", "saves": job.saves})
    assert booked.status_code == 302
    assert not JobAct.objects.filter(job=job, kind="paid").exists()
    assert not lacking(fresh(job))
    HouseRates.objects.update(deposit_share="0.5")
    order = fresh(job).order
    revise(job=fresh(job), by=shop.owner, key=builders.key(), why="one more", agreed_by="Ada", change=lambda:
           change_order(order=order, saves=order.saves, by=shop.owner, act=states.REVISE,
                        typed_lines=[shop.line(quantity=3)]))
    assert lacking(fresh(job)).deposit


def test_given_the_deposit_is_undone_then_the_ticket_waits_for_it(shop):
    job = shop.booked()
    undo_taking_in(act=JobAct.objects.get(job=job, kind="paid"), by=shop.owner, why="it bounced")
    with pytest.raises(NotYet, match="waits for the deposit:"):
        make_ticket(job=fresh(job), by=shop.owner)
    let_go_ahead(job=fresh(job), by=shop.owner, because="cash on Friday", key=builders.key())
    assert make_ticket(job=fresh(job), by=shop.owner)


def test_given_an_approval_then_it_stays_and_once_undone_its_particulars_wait_again(shop):
    job, trial = booked_bare(shop), with_photographs(shop, shop.recipe)
    front = trial.photographs.get(side="front").print_copy
    sample = keep_sample(job=job, recipe_version=shop.recipe, values={"trial": trial, "front": front, "half_with": "Ada"})
    sample = approve(sample, "Ada Fenwick", "visit", by=shop.owner, variation="a little darker to the left")
    with pytest.raises(SampleError, match="is approved"):
        keep_sample(job=job, recipe_version=shop.recipe, values={"half_with": "Bea"})
    with pytest.raises(IntegrityError, match="stays as it was approved"), transaction.atomic():
        SampleApproval.objects.filter(pk=sample.pk).update(variation="as you like")
    undo_taking_in(act=sample.act, by=shop.owner, why="it was the other half")
    waits = SampleApproval.objects.standing().get(job=job)
    assert (waits.is_approved, waits.trial, waits.front, waits.half_with) == (False, trial, front, "Ada")
    assert SampleApproval.objects.exclude(withdrawn_at=None).filter(pk=sample.pk).exists()
    assert acts.standing_act(job, "sample") is None


def test_given_a_ticket_past_the_service_then_the_database_wants_the_sample_too(shop):
    job = booked_bare(shop)
    with pytest.raises(IntegrityError, match="sample of a finish of this job is not approved"), transaction.atomic():
        WorkTicket.objects.create(job=job, number=1, plan={"format": 1}, made_at=now(), made_by=shop.owner)


def test_given_a_photograph_of_another_pane_or_a_trial_of_another_finish_then_it_is_refused(shop):
    job, smoke = booked_bare(shop), other_finish(shop)
    mine, other = with_photographs(shop, shop.recipe), with_photographs(shop, smoke)
    with pytest.raises(SampleError, match="is of Smoke: choose one of Plain silver"):
        keep_sample(job=job, recipe_version=shop.recipe, values={"trial": other})
    stray = keep(builders.photograph(colour="#ff0000"), name="x.jpg", media_type="image/jpeg", owner_only=False)
    with pytest.raises(SampleError, match="photograph of the trial"):
        keep_sample(job=job, recipe_version=shop.recipe, values={"trial": mine, "back": stray})
    with pytest.raises(SampleError, match="is no finish of"):
        keep_sample(job=job, recipe_version=smoke, values={})


def test_given_a_page_of_the_sample_then_photographs_are_taken_by_themselves_and_the_pack_shows_them(shop, at_owner):
    job, trial = booked_bare(shop), with_photographs(shop, shop.recipe)
    page = f"/jobs/{job.number}/samples/{shop.recipe.pk}/"
    saved = at_owner.post(page, {"trial": trial.pk, "fee": "45", "half_with": "Ada", "kept_where": "drawer 3",
                                 "variation": "Clouding may lie anywhere.", "saves": "1"})
    assert saved.status_code == 302, saved.context["form"].errors
    row = SampleApproval.objects.standing().get(job=job)
    assert row.front == trial.photographs.get(side="front").print_copy
    assert row.back == trial.photographs.get(side="back").print_copy
    late = at_owner.post(page, {"trial": trial.pk, "half_with": "Bea", "saves": "1"})
    assert late.status_code == 422
    assert "“Ada”" in late.content.decode()
    pack = approval_pack_of(job.quote)
    assert [(one.finish, one.variation, one.fee) for one in pack.waits] == [
        ("Plain silver", "Clouding may lie anywhere.", "€45.00")]
    assert [side for side, _ in pack.samples[0].pictures] == ["front", "back"]
    paper = at_owner.get(f"/quotes/{job.quote.pk}/samples.pdf")
    reader = PdfReader(BytesIO(paper.content))
    text = " ".join(sheet.extract_text() for sheet in reader.pages)
    assert "I approve this sample of Plain silver" in text
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    key = str(builders.key())
    for _ in range(2):
        assert at_owner.post(f"{page}approved/", {"key": key, "name": "Ada Fenwick", "how": "page"}).status_code == 302
    assert JobAct.objects.filter(job=job, kind="sample", undone_by=None).count() == 1
    assert approval_pack_of(job.quote).waits == []
    shown = at_owner.get(page).content.decode()
    assert "Ada Fenwick" in shown
    assert shown.count("<figure>") == 2


def test_given_a_helper_then_no_sample_no_pack_and_no_word_of_the_customer(shop, at_helper):
    job = booked_bare(shop)
    for address in (f"/jobs/{job.number}/samples/{shop.recipe.pk}/", f"/quotes/{job.quote.pk}/samples.pdf"):
        assert at_helper.get(address).status_code == 403
    assert at_helper.post(f"/jobs/{job.number}/go-ahead/", {"key": str(builders.key()), "because": "x"}).status_code == 403
