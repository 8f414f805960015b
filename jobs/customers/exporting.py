"""All that the studio keeps about one customer, to hand over when they ask: a JSON document and files, in a ZIP."""

from __future__ import annotations

import json
from collections.abc import Iterable
from io import BytesIO
from typing import Any
from uuid import UUID
from zipfile import ZIP_DEFLATED, ZipFile

from django.db import models

from jobs.models import Customer, Job, Order, Quote
from jobs.quotes.choosing import CHOSEN
from jobs.quotes.freezing import SUMS
from jobs.work.agreed import ASKED, KEPT
from studio.house.clock import now
from studio.house.kept_files import read
from studio.house.models import ChangeRecord, House, StoredFile
from studio.kit.asking import fetched
from studio.kit.kept_rows import as_kept

#: what a quote was worked out from is the studio's: what it says to the customer is its wording and its sums
_NOT_OF_QUOTES = ("order", "basis", "plan", "figures", "wording", "choices", "form_key", "paper", "made_by")
#: of what a wording keeps for an undoing: an order with what its glass and bought-in items cost
_NOT_OF_WORDING = (KEPT, ASKED, CHOSEN)


def about(customer: Customer) -> dict[str, Any]:
    """Return what is kept about a customer as JSON can hold it. No cost, margin or recipe is in it."""
    house = House.objects.first()
    return {
        "studio": house.name if house else "", "made_at": now().isoformat(),
        "about": "All that the studio keeps about this customer. Backups and books made earlier may hold older states.",
        "customer": {"number": customer.pk, **as_kept(customer, "saves")},
        "contacts": _all(customer.contacts.all(), "customer", "key", "saves"),
        "addresses": _all(customer.addresses.all(), "customer", "key", "saves"),
        "presets": [{"name": preset.name, "finish": preset.finish.name, "glass": preset.glass.name,
                     "shape": preset.shape, "edge": preset.edge}
                    for preset in customer.choices.select_related("finish", "glass")],
        "orders": [_order(order) for order in _orders(customer)],
        "changes": [{"at": row.at.isoformat(), "what": row.what} for row in ChangeRecord.objects.filter(
            kind=ChangeRecord.Kind.CUSTOMERS, subject=f"Customer {customer.pk}")],
    }


def _orders(customer: Customer) -> Iterable[Order]:
    return fetched(
        customer.orders.select_related("job").order_by("pk"),
        "lines__recipe_version__finish", "lines__glass", "bought_in", "site_records", "letter_points", "quotes__paper",
        "quotes__links__answer", "quotes__mails", "job__money_requests__paper", "job__went_ahead",
        "job__acts", "job__photographs__picture", "job__samples__front", "job__samples__back",
        "job__samples__recipe_version__finish")


def _all(rows: Iterable[models.Model], *but: str) -> list[dict[str, Any]]:
    return [_plain(as_kept(row, *but)) for row in rows]


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    return {name: str(value) if isinstance(value, UUID) else value for name, value in values.items()}


def _order(order: Order) -> dict[str, Any]:
    job: Job = order.job
    return {
        "job": job.number, "state": job.state, "booked_at": job.booked_at.isoformat() if job.booked_at else None,
        "due_on": job.due_on.isoformat() if job.due_on else None, "goes_ahead_because": job.waived_because,
        "cancelled_because": job.cancelled_because,
        **_plain(as_kept(order, "customer", "entered_by", "form_key", "saves")),
        "lines": [{**_plain(as_kept(line, "order", "recipe_version", "glass", "cut_price_per_m2", "cut_minimum_each")),
                   "finish": str(line.recipe_version), "glass": line.glass.name} for line in order.lines.all()],
        "bought_in": [item.name for item in order.bought_in.all()],
        "site_records": _all(order.site_records.all(), "order", "saves"),
        "letter": order.letter,
        "read_in_the_letter": [{"written": point.written, "said": point.said} for point in order.letter_points.all()],
        "quotes": [_quote(quote) for quote in order.quotes.all()],
        "requests_for_money": _all(job.money_requests.all(), "job", "key", "by", "quote", "credits", "paper"),
        "went_ahead": [{"because": row.because, "at": row.at.isoformat()} for row in job.went_ahead.all()],
        "acts": [_plain(as_kept(act, "job", "key", "by", "quote", "undoes")) for act in job.acts.all()],
        "samples": [{
            "finish": str(row.recipe_version), **_plain(as_kept(
                row, "job", "key", "recipe_version", "quote", "trial", "front", "back", "act", "saves", "kept_where")),
        } for row in job.samples.all()],
        "photographs": [{"kind": row.kind, "caption": row.caption, "file": row.picture.name}
                        for row in job.photographs.all()],
    }


def _quote(quote: Quote) -> dict[str, Any]:
    links = list(quote.links.all())
    return {
        **_plain(as_kept(quote, *_NOT_OF_QUOTES)), "wording": _wording(quote.wording),
        "choices": [{**{name: choice[name] for name in ("key", "label", "lines", *SUMS)},
                     "wording": _wording(choice["wording"])} for choice in quote.choices],
        "paper": _paper(quote),
        "private_links": [_plain(as_kept(link, "quote", "key", "token_hash", "made_by", "withdrawn_by"))
                          for link in links],
        "answers": [as_kept(link.answer, "link") for link in links if hasattr(link, "answer")],
        "letters": _all(quote.mails.all(), "quote", "link", "key", "by"),
    }


def _wording(wording: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in wording.items() if name not in _NOT_OF_WORDING}


def _paper(quote: Quote) -> str:
    return quote.paper.name if quote.paper is not None else ""


def files_of(customer: Customer) -> list[tuple[str, StoredFile]]:
    """Return the kept files about a customer, each with its name in the export: papers, photographs."""
    found: dict[str, StoredFile] = {}
    for order in _orders(customer):
        files = [quote.paper for quote in order.quotes.all()]
        files += [row.paper for row in order.job.money_requests.all()]
        files += [row.picture for row in order.job.photographs.all()]
        files += [file for row in order.job.samples.all() for file in (row.front, row.back)]
        for file in files:
            if file is not None:
                found.setdefault(file.sha256, file)
    return [(f"files/{sha256[:12]}-{file.name}", file) for sha256, file in found.items()]


def export_of(customer: Customer) -> bytes:
    """Return the ZIP: `customer.json` and the files. Raises FileDamaged."""
    content = BytesIO()
    with ZipFile(content, "w", ZIP_DEFLATED) as folder:
        folder.writestr("customer.json", json.dumps(about(customer), indent=2, ensure_ascii=False, sort_keys=True))
        for name, file in files_of(customer):
            folder.writestr(name, read(file))
    return content.getvalue()
