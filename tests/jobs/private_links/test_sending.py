"""A quote by e-mail: given a letter, what goes out, what is kept, and what a failure leaves."""

from __future__ import annotations

import contextlib
import re
import smtplib
import socketserver
import threading
from email import message_from_bytes
from unittest.mock import patch

import pytest
from django.core import mail as outbox
from django.core.mail import EmailMessage
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import CustomerAnswer, JobAct, QuoteLink, QuoteMail
from jobs.private_links.letter import NoLetter, addresses_in, checked_subject, one_line, standard_text
from jobs.private_links.links import make_link
from jobs.private_links.sending import NotSent, send_quote
from jobs.quotes.quoting import save_quote
from jobs.work.cancelling import cancel
from studio.house.models import House
from tests import builders
from tests.jobs.private_links.test_customers_page import everything, read, send


@pytest.fixture
def quote(owner, rates, settings):
    settings.SENDS_MAIL = True
    House.objects.update(mail_sender="desk@studio.example")
    return save_quote(order=builders.Workshop(owner).order(), by=owner, form_key=builders.key())


def posted(client: Client, quote, **more):
    page = read(client.get(f"/quotes/{quote.pk}/send/"))
    text = re.search(r"<textarea[^>]*>\s*(.*?)</textarea>", page, re.S)[1]
    key = re.search(r'name="key" value="([^"]+)"', page)[1]
    return client.post(f"/quotes/{quote.pk}/send/", {"key": key, "addresses": "ada@fenwick.example",
                                                     "subject": "Your quote", "text": text, **more})


@pytest.mark.django_db
def test_given_a_letter_then_it_goes_with_the_paper_and_a_link_that_opens(quote, at_owner):
    assert posted(at_owner, quote).status_code == 302
    sent, = outbox.outbox
    quote.refresh_from_db()
    assert (sent.from_email, sent.to, sent.subject) == ("desk@studio.example", ["ada@fenwick.example"], "Your quote")
    name, paper, kind = sent.attachments[0]
    assert (name, kind, paper[:4]) == (f"quote-{quote.number}-1.pdf", "application/pdf", b"%PDF")
    path = re.search(r"/q/[\w-]{43}/", sent.body)[0]
    customer = Client(enforce_csrf_checks=True)
    assert send(customer, path, read(customer.get(path))).status_code == 302
    quote.refresh_from_db()
    assert (quote.state, CustomerAnswer.objects.get().name) == ("accepted", "Rose Askew")
    kept = QuoteMail.objects.get()
    assert (kept.state, kept.addresses, "[link]" in kept.text) == ("sent", "ada@fenwick.example", True)
    assert not any(path.split("/")[2] in str(row) for row in everything().values())
    assert "ada@fenwick.example" in read(at_owner.get(f"/quotes/{quote.pk}/"))


@pytest.mark.django_db
@pytest.mark.parametrize(("broken", "said"), [
    (ConnectionRefusedError(), "cannot be reached"), (smtplib.SMTPAuthenticationError(535, b"no"), "name and password"),
    (smtplib.SMTPRecipientsRefused({}), "refused the address that it goes to"), (TimeoutError(), "cannot be reached"),
])
def test_given_a_mail_server_that_fails_then_nothing_is_marked_as_sent(quote, at_owner, broken, said):
    with patch.object(EmailMessage, "send", side_effect=broken):
        refused = posted(at_owner, quote)
    assert refused.status_code == 422
    assert said in read(refused)
    assert "ada@fenwick.example" in read(refused)
    quote.refresh_from_db()
    assert (quote.state, JobAct.objects.exists(), QuoteMail.objects.get().state) == ("draft", False, "failed")
    assert QuoteLink.objects.get().is_withdrawn
    assert posted(at_owner, quote).status_code == 302


@pytest.mark.django_db
def test_given_a_letter_that_fails_then_the_link_of_before_still_opens(quote, at_owner, owner, client):
    path = "/q/" + make_link(quote=quote, by=owner, key=builders.key()).address.rpartition("/q/")[2]
    with patch.object(EmailMessage, "send", side_effect=ConnectionRefusedError()):
        posted(at_owner, quote)
    assert client.get(path).status_code == 200
    posted(at_owner, quote)
    assert client.get(path).status_code == 410


@pytest.mark.django_db
@pytest.mark.parametrize(("field", "typed", "said"), [
    ("subject", "Your quote\r\nBcc: all@example.com", "one line"), ("subject", "a\nb", "one line"),
    ("addresses", "ada@fenwick.example\r\nBcc: all@example.com", "one line"), ("addresses", "ada", "no e-mail address"),
    ("addresses", ", ".join(f"a{at}@b.example" for at in range(6)), "at most 5"), ("addresses", " ", "whom it goes to"),
    ("text", "Here is your quote.", "Leave [link]"),
])
def test_given_a_letter_that_would_say_more_in_its_head_then_it_is_refused(quote, at_owner, field, typed, said):
    refused = posted(at_owner, quote, **{field: typed})
    assert refused.status_code == 422
    assert said in read(refused)
    assert (outbox.outbox, QuoteMail.objects.count(), QuoteLink.objects.count()) == ([], 0, 0)


@pytest.mark.django_db
def test_given_the_job_is_cancelled_while_the_letter_goes_then_it_is_kept_as_sent(quote, owner):
    def send_and_cancel(_: EmailMessage) -> int:
        cancel(job=quote.order.job, by=owner, because="they rang")
        return 1

    with patch.object(EmailMessage, "send", autospec=True, side_effect=send_and_cancel):
        kept = send_quote(quote=quote, by=owner, key=builders.key(), addresses="a@b.example", subject="S", text="[link]")
    quote.refresh_from_db()
    assert (kept.state, quote.state) == ("sent", "draft")


@pytest.mark.django_db
def test_given_the_same_letter_twice_then_it_goes_once(quote, owner):
    sent = {"quote": quote, "by": owner, "key": builders.key(), "addresses": "a@b.example", "subject": "S", "text": "[link]"}
    assert send_quote(**sent) == send_quote(**sent)
    assert len(outbox.outbox) == 1


@pytest.mark.django_db
def test_without_a_mail_server_it_says_so(quote, owner, settings):
    settings.SENDS_MAIL = False
    with pytest.raises(NotSent, match="No mail server is set up"):
        send_quote(quote=quote, by=owner, key=builders.key(), addresses="a@b.example", subject="S", text="[link]")


@pytest.mark.django_db
def test_given_a_folder_then_the_letter_is_a_file_with_the_paper_in_it(quote, at_owner, settings, tmp_path):
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    posted(at_owner, quote)
    letter, = (tmp_path / "mail").iterdir()
    read_back = message_from_bytes(letter.read_bytes().rpartition(b"-" * 79)[0])
    assert [part.get_content_type() for part in read_back.walk()][1:] == ["text/plain", "application/pdf"]


@pytest.mark.django_db
def test_the_studios_own_letter_is_filled_in_once(quote):
    studio = House(name="The [title] Loft", mail_text="[customer]: [quote], [title]. [studio] [link] [other]")
    said = standard_text(quote, studio)
    assert said == "Ada Fenwick: quote 1, Hall mirror. The [title] Loft [link] [other]"


@pytest.mark.django_db
def test_a_helper_sends_nothing(quote, at_helper):
    assert at_helper.get(f"/quotes/{quote.pk}/send/").status_code == 403
    assert at_helper.post(f"/quotes/{quote.pk}/send/").status_code == 403


@given(st.text())
def test_no_text_makes_two_lines_of_a_head(text):
    assert len(one_line(text).splitlines()) <= 1
    with contextlib.suppress(NoLetter):
        assert len(checked_subject(text).splitlines()) == 1
    with contextlib.suppress(NoLetter):
        assert all("\n" not in address and "@" in address for address in addresses_in(text))


def mail_server() -> tuple[int, list[str]]:
    """A mail server for one letter, which refuses whoever is nobody; return its port, and what it took."""
    taken: list[str] = []

    class Hearing(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            self.wfile.write(b"220 here\r\n")
            for line in self.rfile:
                word = line.strip().decode()
                if word.lower().startswith("rcpt") and "nobody@" in word:
                    self.wfile.write(b"550 nobody here\r\n")
                elif word.lower() == "data":
                    self.wfile.write(b"354 go on\r\n")
                    for text in self.rfile:
                        if text == b".\r\n":
                            break
                    self.wfile.write(b"250 taken\r\n")
                elif word.lower() == "quit":
                    self.wfile.write(b"221 bye\r\n")
                    return
                else:
                    taken.extend(re.findall(r"(?i)rcpt to:<([^>]+)>", word))
                    self.wfile.write(b"250 yes\r\n")

    server = socketserver.TCPServer(("127.0.0.1", 0), Hearing)

    def one_letter() -> None:
        with server:
            server.handle_request()

    threading.Thread(target=one_letter, daemon=True).start()
    return server.server_address[1], taken


@pytest.mark.django_db
@pytest.mark.parametrize("nobody", ["nobody@fenwick.example", "nobody@münchen.example"])
def test_an_address_that_the_server_refused_beside_others_is_told(quote, at_owner, settings, nobody):
    port, taken = mail_server()
    settings.EMAIL_BACKEND = "jobs.private_links.mail_server.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_USE_TLS, settings.EMAIL_HOST_USER = "127.0.0.1", port, False, ""
    answer = posted(at_owner, quote, addresses=f"ada@fenwick.example, {nobody}")
    assert answer.status_code == 302
    row = QuoteMail.objects.get()
    assert (row.state, row.refused, taken) == ("sent", nobody, ["ada@fenwick.example"])
    page = read(at_owner.get(f"/quotes/{quote.pk}/"))
    assert f"is sent, but not to {nobody}" in page
    assert f"Not taken by the mail server: {nobody}" in page
