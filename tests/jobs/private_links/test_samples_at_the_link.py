"""The samples on the customer's page: seen with their photographs, approved there by name, once."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client

from jobs.models import Job, JobAct, Quote, SampleApproval
from jobs.private_links.customers_page import ANSWERS
from jobs.quotes.quoting import decide, save_quote
from jobs.work.cancelling import cancel
from jobs.work.samples import How, approve, awaited, keep_sample
from recipes.models import Finish
from studio.house.clock import now
from tests import builders
from tests.jobs.private_links.test_customers_page import customer, everything, linked, quote, read, send, shop  # noqa: F401
from tests.jobs.work.test_samples import with_photographs

pytestmark = pytest.mark.django_db


def sample_of(shop, job: Job, **more: object) -> SampleApproval:  # noqa: F811
    trial = with_photographs(shop, shop.recipe)
    photograph = {row.side: row.print_copy for row in trial.photographs.all()}
    return keep_sample(job=job, recipe_version=shop.recipe, values={
        "trial": trial, "variation": "Clouds towards the rim", "kept_where": "drawer 4", **photograph, **more})


def form_at(page: str, path: str, at: int = 1) -> dict[str, str]:
    form = re.search(rf'<form method="post" action="{re.escape(path)}samples/{at}/#.*?</form>', page, re.DOTALL)
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]+)"', form[0])) if form else {}


def test_given_a_sample_then_the_page_shows_it_and_it_is_approved_there_once(shop, quote, customer, at_owner):  # noqa: F811
    job, path = quote.order.job, linked(quote)
    assert "Samples to approve" not in read(customer.get(path))
    sample_of(shop, job)
    before = everything()
    page = read(customer.get(path))
    for words in ("Samples to approve", "Clouds towards the rim", "Approve the sample of Plain silver"):
        assert words in page
    for words in ("drawer 4", "/jobs/", "/trials/", "silver nitrate"):
        assert words not in page
    for side in ("front", "back"):
        picture = customer.get(f"{path}samples/1/{side}/")
        assert (picture["Content-Type"], picture["Cache-Control"]) == ("image/jpeg", "no-store")
    for other in ("samples/1/left/", "samples/2/front/", "samples/0/front/"):
        assert customer.get(path + other).status_code == 404
    assert customer.get(f"{path}samples/1/")["Location"] == path  # a telephone's tab, opened again after a refusal
    assert everything() == before  # a look changes nothing
    sent = {**form_at(page, path), "name": "Rose Askew"}
    for _ in range(2):  # pressed twice
        assert customer.post(f"{path}samples/1/", sent)["Location"] == path
    row = SampleApproval.objects.get()
    assert (row.is_approved, row.approved_by, row.how, row.variation) == (
        True, "Rose Askew", How.PAGE, "Clouds towards the rim")
    act = JobAct.objects.get(kind="sample")
    assert (act.by, act.note) == (None, "Plain silver, version 1: Rose Askew, on the customer's page")
    assert awaited(job) == []
    page = unescape(re.sub(r"\s+", " ", read(customer.get(path))))
    assert "by Rose Askew" in page
    assert "Approve the sample" not in page
    late = customer.post(f"{path}samples/1/", {**sent, "key": str(builders.key()), "name": "Somebody"})
    assert late.status_code == 409
    assert "was approved before" in read(late)
    assert SampleApproval.objects.get().approved_by == "Rose Askew"
    assert "Rose Askew, on the customer's page" in unescape(at_owner.get(f"/jobs/{job.number}/").content.decode())


def test_given_no_words_of_its_own_then_what_the_finish_said_that_day_is_kept(shop, quote, customer):  # noqa: F811
    path = linked(quote)
    Finish.objects.update(typical_variation="Softer at the rim")
    sample_of(shop, quote.order.job, variation="")
    page = read(customer.get(path))
    assert "Softer at the rim" in page
    sent = {**form_at(page, path), "name": "Rose Askew"}
    Finish.objects.update(typical_variation="Harder at the rim")
    refused = customer.post(f"{path}samples/1/", sent)
    assert "not as this page showed it" in read(refused)
    assert customer.post(f"{path}samples/1/", {**form_at(read(refused), path), "name": "Rose"}).status_code == 302
    assert SampleApproval.objects.get().variation == "Harder at the rim"


@pytest.mark.parametrize("spoil", [{"name": " "}, {"seen": ""}, {"seen": "0" * 64}, {"key": ""}])
def test_given_a_form_that_is_not_the_pages_then_nothing_is_approved(shop, quote, customer, spoil):  # noqa: F811
    path = linked(quote)
    sample_of(shop, quote.order.job)
    sent = {**form_at(read(customer.get(path)), path), "name": "Rose Askew", **spoil}
    answer = customer.post(f"{path}samples/1/", sent)
    assert answer.status_code == 422
    assert not SampleApproval.objects.get().is_approved
    again = send(customer, path, read(customer.get(path)))  # the quote is answered as before
    assert again.status_code == 302


def test_given_a_sample_nobody_can_see_or_one_changed_since_then_it_is_not_approved(shop, quote, customer):  # noqa: F811
    path, job = linked(quote), quote.order.job
    row = keep_sample(job=job, recipe_version=shop.recipe, values={})
    page = read(customer.get(path))
    assert "not ready to be approved yet" in page
    assert form_at(page, path) == {}
    sample_of(shop, job)
    sent = {**form_at(read(customer.get(path)), path), "name": "Rose Askew"}
    row.refresh_from_db()
    keep_sample(job=job, recipe_version=shop.recipe, values={"variation": "All of it grey"}, saves=row.saves)
    assert customer.post(f"{path}samples/1/", sent).status_code == 422
    assert not SampleApproval.objects.get().is_approved


def test_given_the_quote_is_declined_replaced_or_the_job_cancelled_then_no_sample_is_asked(shop, customer, owner):  # noqa: F811
    quotes = [save_quote(order=shop.order(), by=owner, form_key=builders.key()) for _ in range(3)]
    paths = [linked(one) for one in quotes]
    for one in quotes:
        sample_of(shop, one.order.job)
    forms = [{**form_at(read(customer.get(path)), path), "name": "Rose"} for path in paths]
    decide(quote=quotes[0], accepted=False)
    newer = builders.quoted(quotes[1].order, owner, "Hall mirror, wider")
    Quote.objects.filter(pk=newer.pk).update(state="sent", sent_at=now())
    cancel(job=quotes[2].order.job, by=owner, because="moved")
    for path, form in zip(paths, forms, strict=True):
        assert customer.post(f"{path}samples/1/", form).status_code in (404, 410, 422)
        assert form_at(read(customer.get(path)), path) == {}
    assert not SampleApproval.objects.exclude(approved_at=None).exists()


def test_given_an_option_that_was_chosen_then_its_page_goes_on_with_its_sample(shop, customer, owner):  # noqa: F811
    smoke = builders.put_version_in_use(builders.recipe("Smoke", shop.steps()), shop.owner)
    order = shop.order(shop.line(offered="A"), shop.line(number=2, recipe_version_id=smoke.pk, offered="B"))
    offered = save_quote(order=order, by=owner, form_key=builders.key())
    path = linked(offered)
    sample_of(shop, order.job)
    page = read(customer.get(path))
    assert "Still to come: Smoke." in page
    key = next(row["key"] for row in offered.choices if row["lines"] == [1])
    assert send(customer, path, page, choice=key).status_code == 302
    page = read(customer.get(path))
    assert "Still to come" not in page
    assert "What was chosen" in page
    assert "Option A" in page
    assert "Option B" not in page
    assert "ways to choose from" not in page
    assert customer.post(f"{path}samples/1/", {**form_at(page, path), "name": "Rose"}).status_code == 302
    assert awaited(Job.objects.get(pk=order.job.pk)) == []
    newer = builders.quoted(order, owner, "Hall mirror, wider")
    Quote.objects.filter(pk=newer.pk).update(state="sent", sent_at=now())
    decide(quote=Quote.objects.get(pk=newer.pk), accepted=True, by=owner)
    page = read(customer.get(path))
    assert "taken its place since" in page
    assert "What was chosen" in page
    assert "Option B" not in page


def test_given_many_from_one_address_then_no_more_are_read_and_one_approved_at_the_desk_is_shown(shop, quote, customer):  # noqa: F811
    path = linked(quote)
    approve(sample_of(shop, quote.order.job), "Ada", "post", by=shop.owner)
    assert "by Ada" in unescape(re.sub(r"\s+", " ", read(customer.get(path))))
    for _ in range(ANSWERS.most):
        customer.post(f"{path}samples/1/", {})
    assert customer.post(f"{path}samples/1/", {}).status_code == 429
    assert Client().post("/q/" + "a" * 43 + "/samples/1/", {}).status_code == 404
