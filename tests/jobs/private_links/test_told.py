"""What is told of private links and letters afterwards: the record of changes, the audit, Today, an export, forgetting."""

from __future__ import annotations

import json
import re
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from jobs.customers.exporting import about
from jobs.customers.forgetting import forget
from jobs.models import AnswerRead, CustomerAnswer, Quote, QuoteLink, QuoteMail
from jobs.private_links.links import make_link, withdraw
from jobs.private_links.sending import send_quote
from jobs.quotes.quoting import decide, save_quote, take_back, undo_answer
from jobs.work.cancelling import cancel
from studio.house.clock import now, today
from studio.house.models import ChangeRecord, House
from studio.whole.audit import audit
from studio.whole.find.everything import everything
from studio.whole.find.wanted import read_wanted
from studio.whole.today import gather
from tests import builders
from tests.jobs.private_links.test_customers_page import linked, read, send
from tests.jobs.private_links.test_samples_at_the_link import form_at, sample_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def quote(owner, rates, settings):
    settings.SENDS_MAIL = True
    House.objects.update(mail_sender="desk@studio.example")
    return save_quote(order=builders.Workshop(owner).order(), by=owner, form_key=builders.key())


def told() -> list[tuple[str, str]]:
    return [(change.subject, change.what) for change in ChangeRecord.objects.filter(kind="customers").order_by("id")]


def test_links_made_replaced_and_withdrawn_and_letters_are_in_the_record_of_changes(quote, owner):
    of = f"Customer {quote.order.customer_id}"
    before = len(told())
    made = [make_link(quote=quote, by=owner, key=builders.key()).link for _ in range(2)]
    withdraw(link=made[1], by=owner)
    withdraw(link=made[1], by=owner)
    said = told()[before:]
    assert [subject for subject, _ in said] == [f"{of}, private link of quote 1"] * 4
    assert [what.split()[0] for _, what in said] == ["new:", "withdrawn", "new:", "withdrawn"]
    send_quote(quote=quote, by=owner, key=builders.key(), addresses="ada@fenwick.example", subject="S", text="[link]")
    letters = [what for subject, what in told() if subject == f"{of}, letter with quote 1"]
    assert letters[-1].endswith("“sent”")
    everything_told = str(told())
    assert "ada@fenwick" not in everything_told
    assert not any(link.token_hash in everything_told for link in QuoteLink.objects.all())


def test_taking_the_sending_back_tells_of_the_link_that_it_withdrew(quote, owner):
    make_link(quote=quote, by=owner, key=builders.key())
    quote.refresh_from_db()
    take_back(quote=quote, by=owner, why="a slip")
    assert told()[-1][1].startswith("withdrawn")


def test_the_audit_says_when_an_answer_is_of_another_quote_than_stands(quote):
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    send(customer, path, read(customer.get(path)))
    assert list(audit()) == []
    again = QuoteLink.objects.create(quote=quote, key=builders.key(), token_hash="c" * 64, made_at=now(), made_by=quote.made_by,
                                     valid_until=quote.valid_until)
    CustomerAnswer.objects.create(link=again, accepted=True, name="Rose Askew", at=now(), quote_sha256="0" * 64, choice="option Z")
    assert list(audit()) == [
        "Rose Askew answered another quote than Quote 1 is: its mark is not the one that was kept.",
        "Rose Askew accepted “option Z”, which Quote 1 does not offer."]


def test_a_customer_who_is_forgotten_leaves_no_word_in_letters_and_answers(quote, owner):
    send_quote(quote=quote, by=owner, key=builders.key(), addresses="ada@fenwick.example", subject="For Ada", text="Dear Ada: [link]")
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    send(customer, path, read(customer.get(path)), "decline", said="Too dear for Rose")
    make_link(quote=save_quote(order=quote.order, by=owner, form_key=builders.key()), by=owner, key=builders.key())
    cancel(job=quote.order.job, by=owner, because="they moved")
    about_them = json.dumps(about(quote.order.customer))
    for said in ("ada@fenwick.example", "Dear Ada: [link]", "Rose Askew", "Too dear for Rose"):
        assert said in about_them
    forget(customer=quote.order.customer, by=owner)
    left = str([*QuoteMail.objects.values(), *CustomerAnswer.objects.values()])
    for word in ("ada", "Rose", "dear"):
        assert word not in left
    assert not QuoteLink.objects.filter(withdrawn_at=None).exists()
    assert list(audit()) == []
    with pytest.raises(IntegrityError, match="never edited"), transaction.atomic():
        CustomerAnswer.objects.update(name="Another")
    with pytest.raises(IntegrityError, match="stays as it was sent"), transaction.atomic():
        QuoteMail.objects.update(text="Another")


def test_an_export_for_a_customer_holds_no_cost_of_a_choice(owner, rates):
    shop = builders.Workshop(owner)
    order = shop.order(shop.line(offered="A"), shop.line("300 x 915 mm", 2, 2, offered="B"))
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    decide(quote=quote, accepted=True, by=owner, choice="A")
    handed_over = json.dumps(about(order.customer)["orders"][0]["quotes"])
    assert "option B" in handed_over
    for unsaid in ("figures", "basis", "plan", "margin", "overhead", "cut_price_per_m2"):
        assert f'"{unsaid}' not in handed_over


def test_today_says_who_chose_at_the_private_link(owner, rates):
    shop = builders.Workshop(owner)
    order = shop.order(shop.line(offered="A"), shop.line("300 x 915 mm", 2, 2, offered="B"))
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    send(customer, path, read(customer.get(path)), choice="B")
    assert any("Rose Askew accepted option B of it at the private link" in task.why for task in gather(owner, today()).tasks)
    undo_answer(quote=Quote.objects.get(state="accepted"), by=owner, why="a slip")
    asked = [task.what for task in gather(owner, today()).tasks]
    assert not any("revision 2" in what for what in asked)
    decide(quote=Quote.objects.get(pk=quote.pk), accepted=True, by=owner, choice="A", who="R. Askew, by telephone")
    assert not any("at the private link" in task.why for task in gather(owner, today()).tasks)
    assert "taken that back" in read(customer.get(path))


@pytest.mark.parametrize(("typed", "key", "why"), [
    ("ada@fenwick.example", "letters", "to"), ("look it over", "letters", "letter"), ("private link", "links", ""),
    ("Askew", "links", "answered by"), ("too dear", "links", "said"), ("declined there", "links", "state"),
])
def test_find_knows_letters_links_and_answers_at_the_desk_alone(quote, owner, typed, key, why):
    send_quote(quote=quote, by=owner, key=builders.key(), addresses="ada@fenwick.example", subject="S", text="Do look it over: [link]")
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    send(customer, path, read(customer.get(path)), "decline", said="Too dear")
    groups = {group.key: group for group in everything(read_wanted(typed), runs_desk=True).groups}
    first = groups[key].rows[0]
    assert first.address == f"/quotes/{quote.pk}/#links"
    assert [reason.where for reason in first.why] == ([why] if why else [])
    assert not {"letters", "links"} & {group.key for group in everything(read_wanted(typed), runs_desk=False).groups}


def test_what_a_customer_said_is_told_on_today_until_somebody_reads_it(quote, owner, at_owner, at_helper):
    order, path, client = quote.order, linked(quote), Client()
    job = order.job
    sample_of(SimpleNamespace(recipe=order.lines.get().recipe_version, owner=owner), job)
    page = read(client.get(path))
    assert client.post(f"{path}samples/1/", {**form_at(page, path), "name": "Rose Askew"}).status_code == 302
    send(client, path, read(client.get(path)), said="go on")
    tasks = {task.about: task for task in gather(owner, today()).tasks}
    told = tasks["answers", job.number]
    assert "Rose Askew approved the sample of Plain silver" in told.why
    assert "Rose Askew accepted Quote 1" in told.why
    shown = read(at_owner.get(f"/jobs/{job.number}/"))
    assert "From the customer, not read yet" in shown
    assert ("answers", job.number) in {task.about for task in gather(owner, today()).tasks}  # a look reads nothing
    until = re.search(r'name="until" value="([^"]+)"', shown)[1]
    assert at_helper.post(f"/jobs/{job.number}/answers/read/", {"until": until}).status_code == 403
    for _ in range(2):
        assert at_owner.post(f"/jobs/{job.number}/answers/read/", {"until": until}).status_code == 302
    assert AnswerRead.objects.count() == 2
    assert ("answers", job.number) not in {task.about for task in gather(owner, today()).tasks}
    assert at_owner.post(f"/jobs/{job.number}/answers/read/", {"until": "yesterday"}).status_code == 302
