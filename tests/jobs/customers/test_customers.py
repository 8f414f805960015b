"""A customer's page: contacts, addresses, what is owed; merged, exported, forgotten."""

from __future__ import annotations

import json
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction
from django.test import Client

from jobs.customers.details import CustomerError
from jobs.customers.forgetting import forget, look_at_forgetting, what_stays, without
from jobs.customers.merging import look_at_merging, merge
from jobs.models import (
    Customer,
    CustomerAddress,
    CustomerAnswer,
    CustomerChoices,
    CustomerContact,
    Job,
    JobAct,
    JobInWeek,
    Order,
    QuoteLink,
    QuoteMail,
)
from jobs.money.requests import ask_deposit, take_back
from jobs.orders.again import order_again
from jobs.orders.saving import OrderError
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import book_job, deliver
from jobs.work.cancelling import cancel
from jobs.work.coming_in import give_back, take_in
from jobs.work.finishing import finish_run
from jobs.work.ticketing import make_ticket
from studio.house.clock import now, today
from studio.house.models import ChangeRecord, House
from studio.whole.audit import audit
from tests import builders
from tests.jobs.private_links.test_customers_page import linked, read, send

pytestmark = pytest.mark.django_db

#: what tells who she is, in no other word of a studio
TELLING = ("Fenwick", "ada@fenwick.example", "0100 55512", "Quillon Terrace", "Marisol", "Tavarone")


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def ada(**more: object) -> Customer:
    row, _ = Customer.objects.update_or_create(name="Ada Fenwick", defaults={
        "email": "ada@fenwick.example", "phone": "0100 55512", "address": "9 Quillon Terrace\nPort Asher",
        "note": "Ring Marisol first", **more})
    return row


def preset(customer: Customer, name: str, shop) -> None:
    CustomerChoices.objects.create(customer=customer, name=name, finish=shop.recipe.finish, glass=shop.glass,
                                   edge="seamed")


def delivered(shop, *, paid: bool = True) -> Job:
    """A job of Ada's with her words everywhere they can be typed, delivered and, if so, paid."""
    order = shop.order()
    Order.objects.filter(pk=order.pk).update(
        title="Hall mirror for Ada Fenwick", letter="Dear Sirs, Marisol Tavarone asked", note="call 0100 55512")
    order.refresh_from_db()
    quote = save_quote(order=order, by=shop.owner, form_key=builders.key())
    decide(quote=quote, accepted=True, by=shop.owner, who="Marisol Tavarone, by phone")
    quote_paper(quote)
    job = book_job(job=order.job, by=shop.owner, sample_approved=True, deposit_noted=True,
                   waived_because="Ada Fenwick is a friend", due_on=None)
    run = builders.worked(make_ticket(job=job, by=shop.owner).run, shop.owner)
    finish_run(run=run, by=shop.owner)
    deliver(job=Job.objects.get(pk=job.pk), by=shop.owner, note="to Marisol")
    if paid:
        take_in(job=job, by=shop.owner, key=builders.key(), amount=quote.total - quote.deposit, note="Marisol, cash")
    return Job.objects.get(pk=job.pk)


def test_given_contacts_and_addresses_then_each_has_a_page_and_is_found(at_owner, at_helper, rates):
    row = ada()
    page, key = f"/jobs/customers/{row.pk}/", str(builders.key())
    sent = {"key": key, "name": "Marisol Tavarone", "role": "bills", "phone": "0100 7"}
    for _ in range(2):  # pressed twice
        assert at_owner.post(f"{page}contacts/new/", sent).status_code == 302
    contact = CustomerContact.objects.get()
    at_owner.post(f"{page}addresses/new/", {"key": str(builders.key()), "kind": "delivery", "address": "Dock 4\nAldby"})
    shown = at_owner.get(page).content.decode()
    for words in ("Marisol Tavarone", "bills", "Dock 4, Aldby"):
        assert words in shown
    for asked in ("marisol", "aldby", "ada aldby"):
        assert [found.pk for found in at_owner.get(f"/jobs/customers/?q={asked}").context["listing"].rows] == [row.pk]
    theirs = {"key": key, "name": "Marisol T.", "saves": "1"}
    assert at_owner.post(f"{page}contacts/{contact.pk}/", theirs).status_code == 302
    mine = at_owner.post(f"{page}contacts/{contact.pk}/", {**theirs, "name": "M. Tavarone"})
    assert mine.status_code == 422
    assert "Marisol T." in mine.content.decode()
    assert at_owner.post(f"{page}contacts/{contact.pk}/remove/").status_code == 302
    assert not CustomerContact.objects.exists()
    for address in (page, f"{page}contacts/new/", f"{page}export.zip", f"{page}merge/", f"{page}forget/"):
        assert at_helper.get(address).status_code == 403, address


def test_given_jobs_then_the_page_says_what_is_owed_with_as_many_queries_for_one_as_for_three(
        shop, at_owner, django_assert_max_num_queries):
    job = delivered(shop, paid=False)
    due = job.quote.total - job.quote.deposit
    page = f"/jobs/customers/{job.order.customer_id}/"
    shown = at_owner.get(page)
    assert [(row.job.number, row.paid.still_due) for row in shown.context["jobs"]] == [(job.number, due)]
    assert f"{shown.context['owed']} is still to come" in shown.content.decode()
    for _ in range(2):
        shop.order()
    with django_assert_max_num_queries(32):
        assert len(at_owner.get(page).context["jobs"]) == 3


def test_given_two_who_are_one_when_merged_then_nothing_is_lost_and_the_record_says_so(shop, owner, at_owner):
    stays = ada()
    shop.order()
    leaves = Customer.objects.create(name="Fenwick, A.", email="a.f@fenwick.example", phone="0100 9",
                                     address="2 Old Yard", note="pays late")
    order = shop.order()
    Order.objects.filter(pk=order.pk).update(customer=leaves, title="Bar back")
    for customer in (stays, leaves):
        preset(customer, "usual", shop)
    CustomerContact.objects.create(customer=leaves, name="Bea")
    page = f"/jobs/customers/{leaves.pk}/merge/"
    looked = at_owner.get(page, {"into": stays.pk})
    text = looked.content.decode()
    for words in ("1 order: Bar back.", "1 preset: usual.", "1 contact: Bea.", "The e-mail of Fenwick, A."):
        assert words in text
    assert Order.objects.get(pk=order.pk).customer == leaves  # a look changes nothing
    stale = at_owner.post(page, {"into": stays.pk, "seen": "0.0."})
    assert stale.status_code == 422
    assert "changed since this was shown" in stale.content.decode()
    seen = looked.context["looked"].seen
    assert at_owner.post(page, {"into": stays.pk, "seen": seen}).status_code == 302
    assert not Customer.objects.filter(pk=leaves.pk).exists()
    assert Order.objects.filter(customer=stays).count() == 2
    assert set(stays.choices.values_list("name", flat=True)) == {"usual", "usual 2"}
    contacts = {row.name: (row.email, row.phone) for row in stays.contacts.all()}
    assert contacts == {"Bea": ("", ""), "Fenwick, A.": ("a.f@fenwick.example", "0100 9")}
    assert [row.address for row in stays.addresses.all()] == ["2 Old Yard"]
    stays.refresh_from_db()
    assert "pays late" in stays.note
    told = ChangeRecord.objects.filter(kind="customers", subject=f"Customer {stays.pk}").first()
    assert told.what == f"customer {leaves.pk} was merged into this one; moved: 1 orders, 1 contacts"
    assert told.by == owner
    assert audit() == []


def test_given_a_merge_that_fails_half_way_then_nothing_moved(shop, owner, monkeypatch):
    stays, leaves = ada(), Customer.objects.create(name="A. F.")
    order = shop.order()
    Order.objects.filter(pk=order.pk).update(customer=leaves)

    def fails(*args: object, **more: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("jobs.customers.merging.note_change", fails)
    with pytest.raises(RuntimeError), transaction.atomic():
        merge(leaves=leaves, stays=stays, by=owner, seen=look_at_merging(leaves, stays).seen)
    assert Order.objects.get(pk=order.pk).customer == leaves


def test_given_an_export_then_it_holds_all_of_theirs_and_nothing_of_cost_or_of_others(shop, at_owner):
    other = Customer.objects.create(name="Zeno Quist", email="zeno@quist.example")
    row, job = ada(), delivered(shop)
    CustomerContact.objects.create(customer=row, name="Marisol Tavarone", email="m@fenwick.example")
    CustomerAddress.objects.create(customer=row, kind="billing", address="PO Box 7")
    preset(row, "usual", shop)
    answer = at_owner.get(f"/jobs/customers/{row.pk}/export.zip")
    assert answer["Content-Disposition"] == f'attachment; filename="customer-{row.pk}.zip"'
    assert "no-store" in answer["Cache-Control"]
    folder = ZipFile(BytesIO(answer.content))
    about = json.loads(folder.read("customer.json"))
    text = json.dumps(about)
    for words in (*TELLING, "m@fenwick.example", "PO Box 7", "usual", "Dear Sirs"):
        assert words in text, words
    (order,) = about["orders"]
    assert (order["job"], order["state"], len(order["quotes"])) == (job.number, "delivered", 1)
    assert [act["amount"] for act in order["acts"] if act["kind"] == "paid"]
    assert any(name.startswith("files/") and folder.read(name).startswith(b"%PDF") for name in folder.namelist())
    for words in ("zeno", other.name, "margin", "overhead", "helper_per_hour", "estimate"):
        assert words not in text, words


def everything() -> str:
    """Return all text of the database but what is a frozen paper of a quote, as a search would meet it."""
    found = []
    for model in apps.get_models():
        kinds = (models.CharField, models.TextField, models.EmailField, models.JSONField)
        names = [field.name for field in model._meta.concrete_fields if isinstance(field, kinds)
                 and (model.__name__, field.name) not in (("Quote", "wording"), ("MoneyRequest", "content"))]
        if model._meta.app_label in ("studio", "jobs", "recipes", "inventory", "sessions", "axes") and names:
            found += [str(row) for row in model._base_manager.values_list(*names)]
    return "\n".join(found)


def test_given_a_customer_is_forgotten_then_no_word_of_theirs_is_left_but_in_papers(shop, owner, at_owner):
    House.objects.update(papers_kept_years=7)
    row, job = ada(), delivered(shop)
    CustomerContact.objects.create(customer=row, name="Marisol Tavarone", email="m@fenwick.example")
    preset(row, "usual", shop)
    paper = quote_paper(job.quote)
    page = f"/jobs/customers/{row.pk}/"
    asked = at_owner.get(f"{page}forget/").content.decode()
    for words in ("common practice, no source; ask your adviser", "Backups and books", f"Quote {job.quote.label}"):
        assert words in asked
    assert at_owner.post(f"{page}forget/", {"key": str(builders.key()), "saves": row.saves}).status_code == 422
    sent = {"key": str(builders.key()), "meant": "on", "saves": Customer.objects.get(pk=row.pk).saves}
    for _ in range(2):  # pressed twice
        assert at_owner.post(f"{page}forget/", sent).status_code == 302
    row.refresh_from_db()
    assert row.name == f"Customer {row.pk}, forgotten on {today():%-d %b %Y}"
    assert row.papers_kept_until.year == today().year + 7
    left = everything()
    for words in TELLING:
        assert words not in left, words
    job.refresh_from_db()
    assert quote_paper(job.quote) == paper
    assert "Fenwick" in json.dumps(job.quote.wording)  # the paper that law may ask for
    assert JobAct.objects.filter(job=job, kind="paid").count() == 2  # the sums stay
    shown = at_owner.get(page).content.decode()
    assert "papers as they were made" in shown
    assert 'name="email"' not in shown
    assert at_owner.post(page, {"name": "Ada Fenwick", "saves": row.saves}).status_code == 422
    with pytest.raises(OrderError, match="for a new customer"):
        order_again(order=job.order, by=owner, form_key=builders.key(), newest=True)
    told = ChangeRecord.objects.filter(kind="customers").values_list("what", flat=True)
    assert any(what.startswith("forgotten; papers stay until") for what in told)
    assert audit() == []
    for word in ("fenwick", "tavarone"):
        assert "No customer answers" in at_owner.get(f"/jobs/customers/?q={word}").content.decode()


@pytest.mark.parametrize("open_because", ["a job", "money to come", "money to give back"])
def test_given_something_open_then_nobody_is_forgotten(shop, owner, open_because):
    row = ada()
    if open_because == "a job":
        job = shop.order().job
        said = f"Job {job.number} is enquiry"
    elif open_because == "money to come":
        job = delivered(shop, paid=False)
        said = "to come"
    else:
        job = shop.booked()
        cancel(job=job, by=owner, because="they moved")
        said = "to give back"
    assert any(said in sentence for sentence in look_at_forgetting(row).open)
    with pytest.raises(CustomerError, match="while something is open"):
        forget(customer=row, by=owner)
    row.refresh_from_db()
    assert row.email == "ada@fenwick.example"
    if open_because == "money to give back":
        give_back(job=job, by=owner, key=builders.key(), amount=job.quote.deposit)
        assert forget(customer=row, by=owner).forgotten_on == today()


def test_given_answers_e_mails_and_requests_then_the_words_go_the_links_close_and_the_papers_are_named(
        shop, owner, at_owner):
    row, order = ada(), shop.order()
    Order.objects.filter(pk=order.pk).update(title="Screen")
    order.refresh_from_db()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    path = linked(quote)
    send(Client(), path, read(Client().get(path)), name="Marisol Tavarone", said="For Ada Fenwick")
    link = QuoteLink.objects.get()
    for state, more in (("sent", {"sent_at": now(), "refused": "ada@fenwick.example"}), ("failed", {"why_not": "no such user ada@fenwick.example"})):
        other = QuoteLink.objects.create(quote=quote, key=builders.key(), token_hash=state, made_at=now(), made_by=owner,
                                         valid_until=today())
        QuoteMail.objects.create(quote=quote, link=other, key=builders.key(), addresses="ada@fenwick.example",
                                 subject="A quote for Ada Fenwick", text="Dear Marisol", state=state, written_at=now(),
                                 by=owner, **more)
    job = Job.objects.get()
    JobInWeek.objects.create(job=job, because="Ada Fenwick moves in")
    asked = ask_deposit(job=job, by=owner, key=builders.key(), amount=quote.deposit)
    text = json.dumps(json.loads(ZipFile(BytesIO(at_owner.get(f"/jobs/customers/{row.pk}/export.zip").content)).read(
        "customer.json")))
    for words in ("For Ada Fenwick", "A quote for Ada Fenwick", "Dear Marisol", f'"number": {asked.number}'):
        assert words in text, words
    for wrong, column in ((CustomerAnswer, "name"), (QuoteMail, "text"), (QuoteMail, "refused")):
        with pytest.raises(IntegrityError), transaction.atomic():  # of somebody who was not forgotten
            wrong.objects.update(**{column: "(forgotten)"})
    take_back(request=asked, by=owner, key=builders.key(), why="They moved")
    cancel(job=job, by=owner, because="moved")
    forget(customer=row, by=owner)
    left = everything()
    for words in TELLING:
        assert words not in left, words
    assert Client().get(path).status_code == 410
    link.refresh_from_db()
    assert link.withdrawn_by == owner
    answer = CustomerAnswer.objects.get()
    assert (answer.accepted, answer.name, answer.said) == (True, "(forgotten)", "(forgotten)")
    assert f"Deposit request {asked.label}" in " ".join(what_stays(row, today()))
    for wrong, column in ((CustomerAnswer, "said"), (QuoteMail, "addresses"), (QuoteMail, "refused")):
        with pytest.raises(IntegrityError), transaction.atomic():
            wrong.objects.update(**{column: "something else"})
    assert set(QuoteMail.objects.values_list("refused", flat=True)) == {"", "(forgotten)"}
    assert audit() == []


def test_given_a_long_address_when_merged_then_none_of_it_is_lost(owner, rates):
    stays, far = ada(), "The last house\n" + "x" * 400 + "\nNewmoor"
    leaves = Customer.objects.create(name="A. F.", address=far)
    merge(leaves=leaves, stays=stays, by=owner, seen=look_at_merging(leaves, stays).seen)
    stays.refresh_from_db()
    assert any(far in text for text in (stays.note, *stays.addresses.values_list("address", flat=True)))


def test_given_a_cancelled_job_that_is_still_asked_for_then_its_customer_is_not_forgotten_before_a_credit(
        shop, owner, at_owner):
    row, order = ada(), shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    decide(quote=quote, accepted=True)
    asked = ask_deposit(job=order.job, by=owner, key=builders.key(), amount=quote.deposit)
    cancel(job=order.job, by=owner, because="they moved")
    assert "still asked for: take it back by a credit" in at_owner.get(f"/jobs/customers/{row.pk}/").content.decode()
    with pytest.raises(CustomerError, match="still asked for"):
        forget(customer=row, by=owner)
    take_back(request=asked, by=owner, key=builders.key(), why="They moved")
    assert forget(customer=row, by=owner).forgotten_on == today()


def test_given_the_desk_then_it_merges_and_exports_but_does_not_forget(rates):
    row, client = ada(), Client()
    client.force_login(builders.person("ines", "desk"))
    assert client.get(f"/jobs/customers/{row.pk}/merge/").status_code == 200
    assert client.get(f"/jobs/customers/{row.pk}/export.zip").status_code == 200
    assert client.get(f"/jobs/customers/{row.pk}/forget/").status_code == 403


def test_given_the_database_then_words_are_wiped_of_the_forgotten_alone_and_to_nothing_else(shop, owner):
    job = delivered(shop)
    act = JobAct.objects.filter(job=job).exclude(note="")
    with pytest.raises(IntegrityError, match="never edited"), transaction.atomic():
        act.update(note="(forgotten)")
    forget(customer=job.order.customer, by=owner)
    with pytest.raises(IntegrityError, match="never edited"), transaction.atomic():
        act.update(note="something else")
    with pytest.raises(IntegrityError, match="never edited"), transaction.atomic():
        JobAct.objects.filter(job=job, kind="paid").update(amount=Decimal(1))
    with pytest.raises(IntegrityError), transaction.atomic():
        Customer.objects.filter(pk=job.order.customer_id).update(email="ada@fenwick.example")


def test_given_changes_of_a_customer_then_the_record_says_what_and_never_the_values(owner, at_owner, rates):
    row = ada()
    at_owner.post(f"/jobs/customers/{row.pk}/", {
        "name": "Ada Fenwick", "email": "new@fenwick.example", "phone": row.phone, "address": row.address,
        "note": row.note, "saves": row.saves})
    told = ChangeRecord.objects.filter(kind="customers", subject=f"Customer {row.pk}").first()
    assert (told.what, told.by) == ("email changed", owner)
    assert not any(words in everything_told() for words in TELLING)


def everything_told() -> str:
    return "\n".join(f"{row.subject} {row.what}" for row in ChangeRecord.objects.all())


def test_given_a_text_then_whole_words_alone_are_taken_out():
    assert without("Ada Bell's mirror, bellows", ["Ada Bell", "Bell"]) == "(forgotten)'s mirror, bellows"
