"""Forget a customer: contact details are wiped wherever they stand; papers that law may ask for stay, and are named.

What is wiped: the customer, contacts, addresses and presets; letters, notes and what was read in them; words and names
in what was done to their jobs; e-mails and answers at private links, which open nothing any more; site records;
captions. The record of changes never held a value of theirs. What stays, with its reason: quotes and requests for money
as they were made, and what says of which lot a mirror was made. A backup or a book made before still holds everything:
that is said, and cannot be changed from here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import models, transaction

from jobs.customers.details import CustomerError, check_not_forgotten
from jobs.customers.owed import jobs_of
from jobs.database_rules import FORGOTTEN
from jobs.models import (
    Customer,
    CustomerAnswer,
    Job,
    JobAct,
    JobInWeek,
    JobPhotograph,
    LetterPoint,
    MoneyRequest,
    Order,
    OrderLine,
    Quote,
    QuoteLink,
    QuoteMail,
    SampleApproval,
    SiteRecord,
    WentAhead,
)
from studio.house.changes import note_change
from studio.house.clock import now, today
from studio.house.long_work.asking import clear_what_came
from studio.house.long_work.files import sweep
from studio.house.models import ChangeRecord, House, Person
from studio.kit.locks import check_opened, differing, tried_three_times

#: shorter words than these are not looked for in free text: they stand in others
_SHORTEST = 4


@dataclass(frozen=True, kw_only=True)
class Forgetting:
    """What forgetting a customer would meet. open: what is in its way; wiped, stays: a sentence each."""

    open: Sequence[str]
    wiped: Sequence[str]
    stays: Sequence[str]
    until: date


def kept_until(day: date) -> date:
    """Return until when papers of somebody who is forgotten on a day stay, by the studio's settings."""
    house = House.objects.first()
    years = house.papers_kept_years if house is not None else 10
    try:
        return day.replace(year=day.year + years)
    except ValueError:  # the 29th of February
        return day.replace(year=day.year + years, day=28)


def look_at_forgetting(customer: Customer) -> Forgetting:
    """Return what forgetting a customer would wipe, what stays and why, and what is in its way."""
    until = customer.papers_kept_until or kept_until(today())
    return Forgetting(open=_open(customer), wiped=_wiped(customer), stays=what_stays(customer, until), until=until)


def _open(customer: Customer) -> list[str]:
    said = []
    for row in jobs_of(customer):
        if row.job.is_open:
            said.append(f"{row.job} is {row.job.standing}: deliver or cancel it first.")
        elif row.owed_in_words:
            said.append(f"{row.job}: {row.owed_in_words}. Record it first.")
    return said


def _wiped(customer: Customer) -> list[str]:
    orders = customer.orders.count()
    return [
        "Name, e-mail, telephone, address and note.",
        f"{customer.contacts.count()} contacts, {customer.addresses.count()} addresses, {customer.choices.count()} "
        "presets.",
        f"Letters, notes, site records, captions and the words of what was done, of {orders} "
        f"order{'' if orders == 1 else 's'}.",
        "E-mails with quotes, names and words of answers at private links; the links open nothing any more.",
    ]


def what_stays(customer: Customer, until: date) -> list[str]:
    """Return what of a customer stays, and why."""
    kept = [str(quote) for quote in Quote.objects.filter(order__customer=customer).order_by("number", "revision")]
    kept += [str(row) for row in MoneyRequest.objects.filter(job__order__customer=customer).defer("content")]
    years = f"until {until:%-d %b %Y}, by the studio's settings (common practice, no source; ask your adviser)"
    papers = [f"{', '.join(kept)}: papers as they were made, with the name and address of then. Law may ask for what "
              f"was agreed and taxed: they stay {years}."] if kept else []
    return [
        *papers,
        "Tickets, runs and lots of the jobs, which say what was made of what: no contact details are in them.",
        "Photographs and approved samples: no kept file is removed, and what was agreed stays as it was agreed.",
        "Backups and books that were made before still hold everything: destroy them, or let them be forgotten too.",
    ]


@tried_three_times
@transaction.atomic
def forget(*, customer: Customer, by: Person, saves: int | None = None) -> Customer:
    """Wipe a customer's contact details wherever they are kept. Done again, it changes nothing.

    saves: what the form was opened with. Raises CustomerError while something of theirs is open, ChangedMeanwhile.
    """
    row = Customer.objects.select_for_update().get(pk=customer.pk)
    if row.forgotten_on is not None:
        return row
    check_not_forgotten(row)
    blocked = _open(row)
    if blocked:
        raise CustomerError(f"{row} is not forgotten while something is open. {' '.join(blocked)}")
    check_opened(row, saves, differing(row, {}))
    words = _words_of(row)
    row.contacts.all().delete()
    row.addresses.all().delete()
    row.choices.all().delete()
    day = today()
    row.name, row.email, row.phone, row.address, row.note = _name(row, day), "", "", "", ""
    row.forgotten_on, row.papers_kept_until = day, kept_until(day)
    row.full_clean()
    row.save()
    _wipe_orders(row, words)
    _wipe_jobs(row, words)
    _wipe_links(row, by)
    clear_what_came(by)
    transaction.on_commit(lambda: _clear_again(by), robust=True)
    note_change(ChangeRecord.Kind.CUSTOMERS, f"Customer {row.pk}",
                f"forgotten; papers stay until {row.papers_kept_until:%d %b %Y}", by=by)
    return row


def _clear_again(by: Person) -> None:
    """Clear what was begun while this was being written, and the files of all that is cleared."""
    clear_what_came(by)
    sweep()


def _name(row: Customer, day: date) -> str:
    return f"Customer {row.pk}, forgotten on {day:%-d %b %Y}"


def _words_of(row: Customer) -> list[str]:
    """Return what tells who somebody is, the longest first: names, addresses, numbers, and each word of a name."""
    said = {row.name, row.email, row.phone, *row.address.splitlines()}
    for contact in row.contacts.all():
        said |= {contact.name, contact.email, contact.phone}
    for address in row.addresses.all():
        said |= set(address.address.splitlines())
    said |= {word for name in (row.name, *row.contacts.values_list("name", flat=True)) for word in name.split()}
    return sorted({word.strip() for word in said if len(word.strip()) >= _SHORTEST}, key=len, reverse=True)


def without(text: str, words: Iterable[str]) -> str:
    """Return a text without what tells who somebody is."""
    for word in words:
        text = re.sub(rf"(?<!\w){re.escape(word)}(?!\w)", FORGOTTEN, text, flags=re.IGNORECASE)
    return text


def _scrub(rows: models.QuerySet[Any], names: Sequence[str], words: Sequence[str]) -> None:
    """Take the words out of columns that say other things too."""
    for row in rows:
        found = {name: without(getattr(row, name), words) for name in names}
        changed = {name: text for name, text in found.items() if text != getattr(row, name)}
        if changed:
            longest = {name: row._meta.get_field(name).max_length for name in changed}
            type(row)._default_manager.filter(pk=row.pk).update(
                **{name: text[:longest[name]] for name, text in changed.items()})


def _wipe_orders(customer: Customer, words: Sequence[str]) -> None:
    orders = Order.objects.filter(customer=customer)
    _scrub(orders, ["title", "discount_reason"], words)
    orders.update(letter="", note="")
    LetterPoint.objects.filter(order__customer=customer).update(written=FORGOTTEN, said="")
    SiteRecord.objects.filter(order__customer=customer).update(access="", note="")
    _scrub(SiteRecord.objects.filter(order__customer=customer), ["measured_by"], words)
    _scrub(OrderLine.objects.filter(order__customer=customer), ["note", "place", "oversize_method"], words)


def _wipe_jobs(customer: Customer, words: Sequence[str]) -> None:
    mine = {"job__order__customer": customer}
    JobAct.objects.filter(**mine).exclude(note="").update(note=FORGOTTEN)
    JobPhotograph.objects.filter(**mine).update(caption="")
    WentAhead.objects.filter(**mine).update(because=FORGOTTEN)
    samples = SampleApproval.objects.filter(**mine)
    samples.exclude(approved_by="").update(approved_by=FORGOTTEN)
    samples.exclude(half_with="").update(half_with=FORGOTTEN)
    jobs = Job.objects.filter(order__customer=customer)
    jobs.exclude(waived_because="").update(waived_because=FORGOTTEN)
    jobs.exclude(cancelled_because="").update(cancelled_because=FORGOTTEN)
    _scrub(JobInWeek.objects.filter(**mine), ["because"], words)


def _wipe_links(customer: Customer, by: Person) -> None:
    """Close the private links of a customer's quotes, and wipe the words and addresses that passed through them."""
    for link in QuoteLink.objects.filter(quote__order__customer=customer, withdrawn_at=None):
        link.withdraw(by, now())
    answers = CustomerAnswer.objects.filter(link__quote__order__customer=customer)
    answers.update(name=FORGOTTEN)
    answers.exclude(said="").update(said=FORGOTTEN)
    mails = QuoteMail.objects.filter(quote__order__customer=customer)
    mails.update(addresses=FORGOTTEN, subject=FORGOTTEN, text=FORGOTTEN)
    mails.exclude(why_not="").update(why_not=FORGOTTEN)
    mails.exclude(refused="").update(refused=FORGOTTEN)
