"""The customer's page: given a private link, what opens it, what a look leaves, and what an answer does."""

from __future__ import annotations

import logging
import re
from datetime import timedelta
from html import unescape

import pytest
from django.apps import apps
from django.test import Client

from jobs.models import CustomerAnswer, Job, JobAct, Quote, QuoteLink
from jobs.private_links.customers_page import ANSWERS, WRONG
from jobs.private_links.links import NoLink, make_link, withdraw
from jobs.quotes.fingerprint import fingerprint
from jobs.quotes.quoting import decide, save_quote, take_back, undo_answer
from jobs.work import states
from studio.house.clock import now, pretend, today
from studio.house.log_file import WithoutContacts
from studio.whole.today import gather
from tests import builders
from tests.jobs.work.test_waiting_revision import changed
from tests.whole.test_bad_inputs import BAD

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def quote(shop):
    return save_quote(order=shop.order(), by=shop.owner, form_key=builders.key())


@pytest.fixture
def customer():
    """A browser that checks forms as a real one's would be, and has no log-in."""
    return Client(enforce_csrf_checks=True)


def linked(quote: Quote, **more: object) -> str:
    """Return the path of a fresh private link."""
    made = make_link(quote=quote, by=quote.made_by, key=builders.key(), **more)
    return "/q/" + made.address.rpartition("/q/")[2]


def read(answer) -> str:
    return unescape(answer.content.decode())


def form_of(page: str) -> dict[str, str]:
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]+)"', page))


def send(customer: Client, path: str, page: str, answer: str = "accept", **more: str):
    return customer.post(path, {**form_of(page), "name": "Rose Askew", "answer": answer, **more})


def everything() -> dict[str, list]:
    """Return every row of every table of ours, to be compared."""
    return {model.__name__: sorted(map(str, model._base_manager.values_list()))
            for model in apps.get_models() if model._meta.app_label in ("jobs", "studio", "inventory", "recipes")}


def test_given_a_draft_then_its_link_is_told_once_and_only_its_hash_is_kept(quote, at_owner):
    answer = at_owner.post(f"/quotes/{quote.pk}/link/", {"key": str(builders.key())})
    once = at_owner.get(answer["Location"])
    token = re.search(r"/q/([\w-]{43})/", read(once))[1]
    assert not any(token in str(row) for row in everything().values())
    assert "shown once" in read(at_owner.get(answer["Location"], follow=True))
    assert token not in read(at_owner.get(f"/quotes/{quote.pk}/"))
    quote.refresh_from_db()
    assert (quote.state, quote.paper is not None) == ("sent", True)


def test_given_the_link_then_the_page_says_what_the_paper_says_and_nothing_of_cost(quote, customer):
    path = linked(quote)
    answer = customer.get(path)
    page = read(answer)
    for said in (quote.order.title, "€", "Plain silver", "Accept this quote", fingerprint(quote)):
        assert said in page
    for unsaid in ("margin", "overhead", "S1", "/jobs/", "log-in", "Studio settings"):
        assert unsaid not in page
    assert answer["Cache-Control"] == "no-store"
    assert "noindex" in answer["X-Robots-Tag"]
    assert answer["Referrer-Policy"] == "no-referrer"
    assert not answer.cookies
    paper = customer.get(path + "quote.pdf")
    assert (paper["Content-Type"], paper["Cache-Control"]) == ("application/pdf", "no-store")


def test_given_a_mail_scanner_that_follows_every_link_then_nothing_changes(quote, customer):
    path = linked(quote)
    before = everything()
    for method in (customer.get, customer.head, customer.options):
        for address in (path, path + "quote.pdf", path + "picture/0/", path + "?answer=accept&name=Bot"):
            assert method(address).status_code in (200, 404, 405)
    assert everything() == before


def test_given_yes_by_name_then_the_quote_is_accepted_once_with_time_and_hash(quote, customer, owner):
    path = linked(quote)
    page = read(customer.get(path))
    answer = send(customer, path, page, said="Thank you")
    assert (answer.status_code, answer["Location"]) == (302, path)
    quote.refresh_from_db()
    row = CustomerAnswer.objects.get()
    assert (quote.state, row.name, row.said, row.quote_sha256) == ("accepted", "Rose Askew", "Thank you",
                                                                   fingerprint(quote))
    assert Job.objects.get().state == states.QUOTED
    act = JobAct.objects.get(kind="accepted")
    assert (act.by, act.note) == (None, "Rose Askew, at the private link: Thank you")
    page = read(customer.get(path))
    assert "Rose Askew accepted this quote on" in page
    assert "Accept this quote" not in page
    told = [task for task in gather(owner, today()).tasks if "Book" in task.what]
    assert "Rose Askew accepted it at the private link" in told[0].why
    client = Client()
    client.force_login(owner)
    assert "Rose Askew, at the private link" in read(client.get(f"/jobs/{quote.order.job.number}/"))


def test_given_two_tabs_then_the_second_gets_the_first_answer_in_words(quote, customer):
    path = linked(quote)
    first, second = read(customer.get(path)), read(customer.get(path))
    send(customer, path, first, "decline")
    refused = send(customer, path, second, "accept")
    assert refused.status_code == 409
    assert "was answered before: what you sent just now changed nothing" in read(refused)
    assert "Rose Askew declined this quote" in read(refused)
    quote.refresh_from_db()
    assert (quote.state, CustomerAnswer.objects.count()) == ("declined", 1)


def test_given_no_then_today_says_who_declined(quote, customer, owner):
    path = linked(quote)
    send(customer, path, read(customer.get(path)), "decline", said="Too dear")
    assert Job.objects.get().state == states.ENQUIRY
    assert any("Rose Askew declined" in task.why and "Too dear" in task.why for task in gather(owner, today()).tasks)


def test_given_no_name_then_what_was_typed_is_kept_and_nothing_is_answered(quote, customer):
    path = linked(quote)
    refused = send(customer, path, read(customer.get(path)), name=" ", said="in oak, please")
    assert refused.status_code == 422
    assert "Write your name" in read(refused)
    assert "in oak, please" in read(refused)
    assert not CustomerAnswer.objects.exists()


@pytest.mark.parametrize("spoil", [lambda token: token[:-1] + ("A" if token[-1] != "A" else "B"), lambda token: token[:-1],
                                   lambda token: token + "x", lambda token: token.swapcase(), lambda token: "a",
                                   lambda token: "%00" * 5, lambda token: "é" * 43])
def test_given_a_token_tampered_with_then_there_is_nothing_whoever_asks(quote, customer, at_owner, spoil):
    token = linked(quote).split("/")[2]
    for client in (customer, at_owner):
        for rest in ("/", "/quote.pdf", "/picture/0/"):
            assert client.get(f"/q/{spoil(token)}{rest}").status_code in (404, 400)
    missed = customer.get("/q/aWrongOne/")
    assert missed.status_code == 404
    assert "no-store" in missed["Cache-Control"]
    assert "opens nothing" in read(missed)
    assert "/log-in/" not in read(missed)
    assert quote.wording["title"] not in read(missed)
    assert customer.post(f"/q/{spoil(token)}/", {"answer": "accept", "name": "x"}).status_code in (404, 400)


def test_given_a_form_from_elsewhere_then_nothing_is_answered(quote, customer):
    """Who knows the link and not the page's mark: a form that another site made."""
    path = linked(quote)
    for seen in ("", "0" * 64, "é" * 64):
        refused = customer.post(path, {"answer": "accept", "name": "Rose Askew", "key": str(builders.key()), "seen": seen})
        assert refused.status_code == 422
    assert not CustomerAnswer.objects.exists()


def test_given_withdrawn_made_anew_expired_then_the_old_address_shows_nothing(quote, customer):
    first = linked(quote)
    second = linked(quote)
    gone = customer.get(first)
    assert (gone.status_code, quote.order.title in read(gone)) == (410, False)
    assert "withdrawn" in read(gone)
    page = read(customer.get(second))
    with pretend(now() + timedelta(days=31)):
        over = customer.get(second)
        assert (over.status_code, "It was open until" in read(over)) == (410, True)
        assert send(customer, second, page).status_code == 410
    withdraw(link=QuoteLink.objects.latest("pk"), by=quote.made_by)
    assert send(customer, second, page).status_code == 410
    assert customer.get(second + "quote.pdf").status_code == 410
    assert not CustomerAnswer.objects.exists()


def test_given_a_day_of_its_own_then_the_link_ends_before_the_quote(quote, customer):
    path = linked(quote, until=today() + timedelta(days=3))
    with pretend(now() + timedelta(days=4)):
        assert customer.get(path).status_code == 410
    with pytest.raises(NoLink, match="does not last longer"):
        linked(quote, until=today() + timedelta(days=300))


def test_given_a_newer_revision_then_the_page_says_so_and_takes_no_answer(quote, customer, shop):
    path = linked(quote)
    page = read(customer.get(path))
    newer = builders.quoted(quote.order, shop.owner, "Hall mirror, wider")
    Quote.objects.filter(pk=newer.pk).update(state="sent", sent_at=now())
    assert "a newer one took its place" in read(customer.get(path))
    refused = send(customer, path, page)
    assert (refused.status_code, CustomerAnswer.objects.exists()) == (422, False)
    assert "a newer one took its place" in read(refused)


def test_given_a_newer_revision_sent_after_yes_then_the_page_of_the_first_says_so(quote, customer, shop):
    path = linked(quote)
    send(customer, path, read(customer.get(path)))
    assert "A newer quote was sent since" not in read(customer.get(path))
    newer = builders.quoted(quote.order, shop.owner, "Hall mirror, wider")
    Quote.objects.filter(pk=newer.pk).update(state="sent", sent_at=now())
    assert "A newer quote was sent since" in read(customer.get(path))


def test_given_the_owner_heard_by_telephone_first_then_the_page_says_it_is_noted(quote, customer, owner):
    path = linked(quote)
    page = read(customer.get(path))
    decide(quote=quote, accepted=True, by=owner, who="R. Askew, by telephone")
    assert "was accepted; the studio has noted it" in read(customer.get(path))
    assert send(customer, path, page, "decline").status_code == 409
    assert not CustomerAnswer.objects.exists()


def test_given_an_answer_that_was_undone_then_that_link_takes_no_other(quote, customer, owner):
    path = linked(quote)
    page = read(customer.get(path))
    send(customer, path, page)
    undo_answer(quote=quote, by=owner, why="a slip")
    assert "taken that back" in read(customer.get(path))
    assert send(customer, path, page).status_code == 409
    again = linked(Quote.objects.get())
    assert send(customer, again, read(customer.get(again))).status_code == 302


def test_given_the_sending_was_taken_back_then_the_link_is_closed(quote, customer, owner):
    path = linked(quote)
    take_back(quote=quote, by=owner, why="a slip")
    assert customer.get(path).status_code == 410


@pytest.mark.parametrize(("answer", "stands"), [("accept", "accepted"), ("decline", "declined")])
def test_given_a_revision_of_a_booked_job_then_its_link_answers_that(shop, customer, answer, stands):
    job = shop.booked()
    agreed, waiting = job.quote, changed(shop, job, 4)
    path = linked(waiting)
    assert send(customer, path, read(customer.get(path)), answer).status_code == 302
    waiting.refresh_from_db()
    job.refresh_from_db()
    assert (waiting.state, job.state) == (stands, states.BOOKED)
    assert job.quote == (waiting if answer == "accept" else agreed)


def test_given_many_wrong_tokens_from_one_address_then_none_is_looked_at_for_a_while(quote, customer):
    path = linked(quote)
    for _ in range(WRONG.most):
        assert customer.get("/q/wrong/").status_code == 404
    held = customer.get(path)
    assert held.status_code == 429
    assert quote.order.title not in read(held)
    assert customer.get(path, REMOTE_ADDR="10.1.2.3").status_code == 200


def test_given_many_answers_from_one_address_then_no_more_are_read_for_a_while(quote, customer):
    path = linked(quote)
    statuses = [customer.post(path, {}).status_code for _ in range(ANSWERS.most + 1)]
    assert statuses == [422] * ANSWERS.most + [429]
    wrote = {**form_of(read(customer.get(path))), "name": "Rose Askew", "said": "<b>No hurry</b>", "answer": "accept"}
    held = customer.post(path, wrote)
    assert held.status_code == 429
    page = read(held)
    assert "&lt;b&gt;No hurry&lt;/b&gt;" in held.content.decode()
    for kept in ('value="Rose Askew"', f'name="seen" value="{wrote["seen"]}"', "Send it once more"):
        assert kept in page
    again = dict(re.findall(r'name="(\w+)"(?: maxlength="80")? value="([^"]*)"', page)) | {"said": "No hurry"}
    assert customer.post(path, again, REMOTE_ADDR="10.1.2.3").status_code == 302
    assert CustomerAnswer.objects.get().name == "Rose Askew"


def test_what_was_written_to_a_link_that_was_closed_meanwhile_stands_to_be_copied(quote, customer, owner):
    path = linked(quote)
    sent = {**form_of(read(customer.get(path))), "name": "Rose Askew", "said": "No hurry", "answer": "accept"}
    withdraw(link=QuoteLink.objects.get(), by=owner)
    closed = customer.post(path, sent)
    assert closed.status_code == 410
    assert "Rose Askew" in read(closed)
    assert "No hurry" in read(closed)
    assert "Send it once more" not in read(closed)
    assert not CustomerAnswer.objects.exists()


def test_no_log_holds_a_token(quote):
    path = linked(quote)
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, "Unprocessable: %s", (path + "quote.pdf",), None)
    said = WithoutContacts("{message}", style="{").format(record)
    assert said == "Unprocessable: /q/(link)/quote.pdf"


def test_a_helper_makes_no_link_and_reads_none(quote, at_helper):
    linked(quote)
    link = QuoteLink.objects.get()
    for address in (f"/quotes/{quote.pk}/link/", f"/quotes/links/{link.pk}/withdraw/"):
        assert at_helper.post(address, {"key": str(builders.key())}).status_code == 403
    assert at_helper.get(f"/quotes/links/{link.pk}/").status_code == 403


def test_the_same_form_twice_makes_one_link(quote, at_owner):
    sent = {"key": str(builders.key())}
    for _ in range(2):
        assert at_owner.post(f"/quotes/{quote.pk}/link/", sent).status_code == 302
    assert QuoteLink.objects.count() == 1


@pytest.mark.parametrize("field", ["name", "said", "choice", "answer", "seen", "key"])
def test_whatever_is_typed_at_a_real_link_is_answered_in_words(quote, customer, field):
    """The walk over every address meets none that opens: what is typed there is sent here."""
    path = linked(quote)
    page = read(customer.get(path))
    for bad in (*BAD, "\u202eaccept", "\x00", "\ud800".encode("utf-16", "surrogatepass").decode("utf-16", "replace"), "<script>alert(1)</script>"):
        answer = send(customer, path, page, **{"answer": "accept", field: bad})
        assert answer.status_code in (302, 409, 422, 429)
        assert "<script>alert" not in answer.content.decode()
        ANSWERS.forget()
    for address in (f"{path}?units=" + "9" * 2000, f"{path}quote.pdf?units=%00", f"{path}picture/{'9' * 300}/"):
        assert customer.get(address).status_code in (200, 400, 404)


def test_a_name_is_one_line_of_letters(quote, customer):
    path = linked(quote)
    page = read(customer.get(path))
    assert "Write your name" in read(send(customer, path, page, name="\u2028\x1f"))
    send(customer, path, page, name="Rose\r\nAskew")
    assert CustomerAnswer.objects.get().name == "Rose Askew"


def test_given_one_answer_pressed_twice_then_it_is_one_and_both_are_led_on(quote, customer):
    path = linked(quote)
    page = read(customer.get(path))
    assert [send(customer, path, page, said="Yes").status_code for _ in range(2)] == [302, 302]
    assert send(customer, path, page, said="Another thing").status_code == 409
    assert CustomerAnswer.objects.count() == 1


def test_given_an_answer_undone_and_another_heard_by_telephone_then_the_page_does_not_say_the_first_stands(quote, customer, owner):
    path = linked(quote)
    send(customer, path, read(customer.get(path)))
    undo_answer(quote=quote, by=owner, why="a slip")
    decide(quote=quote, accepted=False, by=owner, who="R. Askew, by telephone")
    assert "taken that back since" in read(customer.get(path))


def test_given_a_paper_that_cannot_be_set_then_no_link_is_made_and_nothing_is_marked_as_sent(quote, monkeypatch):
    def broken(*_: object) -> bytes:
        raise NoLink("no paper")

    monkeypatch.setattr("jobs.private_links.links.quote_paper", broken)
    with pytest.raises(NoLink, match="no paper"):
        linked(quote)
    assert (Quote.objects.get().state, QuoteLink.objects.count()) == ("draft", 0)
