"""Who may see what: declared for every address, and no price ever reaches a helper."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import path, reverse
from pypdf import PdfReader

from jobs.models import CustomerAddress, CustomerContact, Run, WentAhead
from jobs.work.coming_in import undo_taking_in
from jobs.work.finishing import finish_run
from jobs.work.samples import approve, keep_sample
from studio.house.clock import now
from studio.house.models import HouseRates
from studio.kit.access import every_address
from tests import builders

pytestmark = pytest.mark.django_db

#: money that stands nowhere else: searched for in everything a helper can get
SENTINELS = ("7361.93", "8123.47", "9871.23", "6543.21", "hidden-ada@fenwick.example", "01632 999 999",
             "hidden-marisol@fenwick.example", "9 Hidden Terrace", "Hidden Signatory", "a hidden reason")


def test_every_address_declares_who_may_see_it(capsys):
    call_command("access")
    printed = capsys.readouterr().out
    assert "owner, desk, helper /bench/" in printed
    assert "NOBODY" not in printed


def test_an_address_that_declares_nobody_is_found_and_shut(monkeypatch, at_owner, rates):
    from studio import urls

    monkeypatch.setattr(urls, "urlpatterns", [path("", lambda request: None, name="undeclared")])
    from django.urls import clear_url_caches

    clear_url_caches()
    try:
        with pytest.raises(CommandError, match="1 addresses declare nobody"):
            call_command("access")
        assert list(every_address()) == [("/", "undeclared", "")]
    finally:
        monkeypatch.undo()
        clear_url_caches()


def test_without_log_in_only_the_door_is_open(client, rates):
    for address, _, who in every_address():
        if "<" not in address and who != "anyone":
            response = client.get(address)
            assert response.status_code in (302, 405), address
            if response.status_code == 302:
                assert response["Location"].startswith("/log-in/")
    assert client.get("/health/").json()["well"] is True


def test_expired_log_in_sends_htmx_to_the_door(client, rates):
    response = client.post("/jobs/price-now/", headers={"HX-Request": "true"})
    assert response["HX-Redirect"] == "/log-in/"


@pytest.fixture
def priced_studio(owner):
    """A studio whose every price, cost and contact is a sentinel."""
    builders.house()
    builders.rates(helper_per_hour=Decimal("7361.93"), owner_per_hour=Decimal("8123.47"),
                   minimum_charge=Decimal("9871.23"))
    workshop = builders.Workshop(owner)
    workshop.silver.list_price = Decimal("6543.21")
    workshop.silver.save(update_fields=["list_price"])
    run = workshop.run()
    customer = run.ticket.job.order.customer
    customer.email, customer.phone = "hidden-ada@fenwick.example", "01632 999 999"
    customer.save()
    CustomerContact.objects.create(customer=customer, name="Marisol", email="hidden-marisol@fenwick.example")
    CustomerAddress.objects.create(customer=customer, address="9 Hidden Terrace")
    job = run.ticket.job
    undo_taking_in(act=job.acts.get(kind="sample"), by=owner, why="ticked by mistake")
    WentAhead.objects.create(job=job, because="a hidden reason", at=now(), by=owner)
    sample = keep_sample(job=job, recipe_version=workshop.recipe, values={})
    approve(sample, "Hidden Signatory", "post", by=owner)
    finish_run(run=builders.worked(workshop.run(), owner), by=owner)
    return workshop


#: a list sorted and filtered in further ways shows the same rows
ASKED_OF_A_PAGE = 3


def _every_page(client: Client) -> dict[str, bytes]:
    """Follow every link a person is shown, and fetch every declared address they may know."""
    seen: dict[str, bytes] = {}
    asked_of: Counter[str] = Counter()
    waiting = ["/"] + [address for address, _, _ in every_address() if "<" not in address]
    waiting += [reverse("jobs:ticket_paper", args=[run.ticket_id]) for run in Run.objects.all()]
    waiting += [reverse("jobs:run", args=[run.pk]) for run in Run.objects.all()]
    waiting += [reverse("jobs:quote_paper", args=[run.ticket.job.quote_id]) for run in Run.objects.all()]
    while waiting:
        address = waiting.pop().split("#")[0]
        path = address.partition("?")[0]
        if address in seen or not address.startswith("/") or address.startswith("/static/"):
            continue
        asked_of[path] += 1
        if asked_of[path] > ASKED_OF_A_PAGE:
            continue
        for headers in ({}, {"HX-Request": "true"}):
            response = client.get(address, headers=headers)
            content = b"".join(response) if response.streaming else response.content
            seen[address] = seen.get(address, b"") + content
        waiting += re.findall(r'href="([^"]+)"', seen[address].decode("utf-8", "ignore"))
    return seen


def _text(content: bytes) -> str:
    if content.startswith(b"%PDF"):
        half = content[: len(content) // 2]
        return "\n".join(page.extract_text() for page in PdfReader(BytesIO(half)).pages)
    if content.startswith(b"PK"):
        return ZipFile(BytesIO(content)).read("customer.json").decode()  # the last of both: they may differ in length
    return content.decode("utf-8", "ignore")


def test_no_price_reaches_a_helper(priced_studio, at_helper, at_owner):
    pages = _every_page(at_helper)
    assert len(pages) > 25
    for address, content in pages.items():
        shown = _text(content).replace(",", "")
        for sentinel in SENTINELS:
            assert sentinel not in shown, address
        assert "unit cost" not in shown.lower() or address.startswith("/guides/"), address
    shown_to_owner = "".join(_text(content) for content in _every_page(at_owner).values()).replace(",", "")
    assert all(sentinel in shown_to_owner for sentinel in (
        "7361.93", "9871.23", "6543.21", "hidden-marisol@fenwick.example", "9 Hidden Terrace", "Hidden Signatory",
        "a hidden reason"))


@pytest.fixture
def at_desk(db) -> Client:
    client = Client()
    client.force_login(builders.person("ilse", "desk"))
    return client


def test_the_desk_sees_prices_and_contacts_but_no_margin_and_no_cost_of_work(priced_studio, at_desk, at_owner):
    HouseRates.objects.update(margin_share=Decimal("0.3717"))
    priced_studio.order()
    pages = _every_page(at_desk)
    everything = "".join(_text(content) for content in pages.values()).replace(",", "")
    assert all(seen in everything for seen in ("6543.21", "hidden-ada@fenwick.example"))
    for address, content in pages.items():
        shown = _text(content).replace(",", "")
        for sentinel in ("7361.93", "8123.47", "37.17 %", "margin reached", "leaves a margin"):
            assert sentinel not in shown, (address, sentinel)
    owners = "".join(_text(content) for content in _every_page(at_owner).values()).replace(",", "")
    assert all(sentinel in owners for sentinel in ("7361.93", "37.17 %", "margin reached"))


def test_the_desk_enters_orders_and_is_refused_what_is_the_owners(priced_studio, at_desk):
    job = Run.objects.first().ticket.job
    for name, args in (("jobs:list", []), ("jobs:new", []), ("jobs:job", [job.number]), ("jobs:customers", []),
                       ("jobs:quote_paper", [job.quote_id]), ("jobs:buying", []), ("stockroom:receive_delivery", [])):
        assert at_desk.get(reverse(name, args=args)).status_code == 200, name
    for name, args in (("studio:house", []), ("studio:rates", []), ("studio:people", []), ("studio:changes", []),
                       ("studio:start", []), ("recipes:new_finish", [])):
        refused = at_desk.get(reverse(name, args=args))
        assert refused.status_code == 403, name
        assert "This page is for: owner." in refused.content.decode()
    assert at_desk.post(reverse("jobs:price_working")).status_code == 403


def test_a_helper_is_refused_what_is_the_owners(priced_studio, at_helper):
    run = Run.objects.first()
    job = run.ticket.job
    for name, args in (("jobs:job", [job.number]), ("jobs:quote_paper", [job.quote_id]), ("jobs:list", []),
                       ("jobs:new", []), ("studio:house", []), ("studio:rates", [])):
        assert at_helper.get(reverse(name, args=args)).status_code == 403
    for name, args in (("jobs:price_now", []), ("jobs:quote", [job.number]), ("jobs:book", [job.number])):
        assert at_helper.post(reverse(name, args=args)).status_code == 403
    assert HouseRates.objects.count() == 1


def test_an_owners_file_is_not_a_helpers(priced_studio, at_helper, at_owner):
    quote = Run.objects.first().ticket.job.quote
    at_owner.get(reverse("jobs:quote_paper", args=[quote.pk]))
    quote.refresh_from_db()
    address = reverse("studio:file", args=[quote.paper.sha256])
    assert at_helper.get(address).status_code == 404
    assert at_owner.get(address).status_code == 200


def test_a_person_changes_their_own_password(client, helper, house):
    elsewhere = Client()
    for visitor in (client, elsewhere):
        assert visitor.post("/log-in/", {"username": "teo", "password": "teo-password"}).status_code == 302
    assert "/account/" in client.get("/").content.decode()
    assert "/password/" in client.get("/account/").content.decode()
    answers = {"old_password": "teo-password", "new_password1": "moss-on-glass", "new_password2": "moss-on-glass"}
    for wrong, said in (({"old_password": "guessed"}, "That is not your password"),
                        ({"new_password2": "moss-on-grass"}, "didn’t match"),
                        ({"new_password1": "1234", "new_password2": "1234"}, "At least 12 characters")):
        refused = client.post("/password/", answers | wrong)
        assert refused.status_code == 422
        assert said in refused.content.decode()
    assert client.post("/password/", answers)["Location"] == "/"
    assert "Your password is changed" in client.get("/").content.decode()
    assert elsewhere.get("/")["Location"].startswith("/log-in/")
    assert elsewhere.post("/log-in/", {"username": "teo", "password": "teo-password"}).status_code == 422
    assert elsewhere.post("/log-in/", {"username": "teo", "password": "moss-on-glass"}).status_code == 302
    assert Client().get("/password/")["Location"] == "/log-in/?next=/password/"
