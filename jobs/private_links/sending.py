"""Send a quote by e-mail: its letter is written down first, then tried; what was not sent marks nothing as sent.

No thread sends: whoever presses the button waits, at most as long as the mail server is given. What is kept of a letter
is all but its link's token. A letter of which nobody knows whether it went stays as written: it is sent again as a new
one, with a link of its own.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage, get_connection
from django.db import transaction

from jobs.models import Job, Quote, QuoteMail
from jobs.private_links.letter import LINK, NoLetter, addresses_in, checked_subject, checked_text
from jobs.private_links.links import address_of, check_goes_out, withdraw, withdraw_all, write_link
from jobs.private_links.mail_server import refused_of
from jobs.quotes.freezing import QuoteError
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import mark_sent
from studio.house.clock import now
from studio.house.models import House, Person
from studio.kit.errors import DaybookError
from studio.kit.locks import tried_three_times

log = logging.getLogger(__name__)
_NOWHERE = "No mail server is set up: whoever looks after this server sets SMTP_HOST (see the README)."


class NotSent(DaybookError):
    """The letter did not go out; nothing is marked as sent."""


@dataclass(frozen=True, kw_only=True)
class _Written:
    mail: QuoteMail
    addresses: Sequence[str]
    address: str
    sender: str


def can_send_mail() -> bool:
    return bool(settings.SENDS_MAIL)


def send_quote(*, quote: Quote, by: Person, key: UUID, addresses: str, subject: str, text: str) -> QuoteMail:
    """Send a quote with its PDF and a private link. A draft is marked as sent once it went; links of before end then.

    Sent twice with one key it goes once. Raises NoLetter, NoLink, NotSent, QuoteError.
    """
    known = QuoteMail.objects.filter(key=key).first()
    if known is not None:
        if known.state == QuoteMail.State.FAILED:
            raise NotSent(f"It was not sent: {known.why_not} Send it once more from a fresh page.")
        return known
    if not can_send_mail():
        raise NotSent(_NOWHERE)
    studio = House.objects.first() or House(name="The studio")
    sender = studio.mail_sender or studio.email
    if not sender:
        raise NotSent("Say in the studio's settings, under E-mail, which address quotes come from.")
    to, subject, text = addresses_in(addresses), checked_subject(subject), checked_text(text)
    check_goes_out(quote)
    paper = quote_paper(quote)
    written = _write(quote, by, key, to, subject, text, sender)
    connection = get_connection()
    message = EmailMessage(
        connection=connection,
        subject=subject, body=text.replace(LINK, written.address), from_email=sender, to=list(to),
        attachments=[(f"quote-{quote.number}-{quote.revision}.pdf", paper, "application/pdf")],
    )
    try:
        message.send()
    except Exception as failed:
        # whatever a mail server or a folder says: the quote stays as it was
        log.warning("A quote was not sent by e-mail: %s", type(failed).__name__)
        why = _why(failed)
        _failed(written.mail, by, why)
        raise NotSent(f"It was not sent, and nothing is marked as sent: {why}") from failed
    return _went(written.mail, by, refused_of(connection, to))


@tried_three_times
@transaction.atomic
def _write(quote: Quote, by: Person, key: UUID, to: Sequence[str], subject: str, text: str, sender: str) -> _Written:
    Job.objects.select_for_update().get(order=quote.order_id)
    if QuoteMail.objects.filter(key=key).exists():
        raise NoLetter("This letter is being sent already.")
    link, token = write_link(quote, by, key, quote.valid_until)
    mail = QuoteMail.objects.create(quote=quote, link=link, key=key, addresses=", ".join(to), subject=subject,
                                    text=text, written_at=now(), by=by)
    return _Written(mail=mail, addresses=to, address=address_of(token), sender=sender)


@tried_three_times
@transaction.atomic
def _went(mail: QuoteMail, by: Person, refused: Sequence[str]) -> QuoteMail:
    """Mark a letter as sent, its quote too where it was a draft; older links of it end. refused: of its addresses."""
    quote = Quote.objects.get(pk=mail.quote_id)
    if quote.state == Quote.State.DRAFT:
        with suppress(QuoteError):  # it lapsed, or its job was cancelled, while the letter went: that it went is kept
            mark_sent(quote, by)
    withdraw_all(quote, by, but=mail.link)
    mail.state, mail.sent_at = QuoteMail.State.SENT, now()
    mail.refused = ", ".join(refused)
    mail.save(update_fields=["state", "sent_at", "refused"])
    return mail


@tried_three_times
@transaction.atomic
def _failed(mail: QuoteMail, by: Person, why: str) -> None:
    withdraw(link=mail.link, by=by)
    mail.state, mail.why_not = QuoteMail.State.FAILED, why
    mail.save(update_fields=["state", "why_not"])


def _why(failed: Exception) -> str:
    """Return why in a sentence that names nothing of the server's insides."""
    name = type(failed).__name__
    if name == "SMTPAuthenticationError":
        return "the mail server did not take the name and password that this server has for it."
    if name == "SMTPRecipientsRefused":
        return "the mail server refused the address that it goes to."
    if name == "SMTPSenderRefused":
        return "the mail server refused the address that it comes from."
    if name.startswith("SMTP"):
        return "the mail server refused it."
    if isinstance(failed, OSError):
        return "the mail server cannot be reached."
    return "it could not be handed to the mail server."
