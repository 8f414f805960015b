"""A request for money as the customer reads it, from what was frozen: one page for an ordinary job."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from jobs.kept_papers import kept_paper
from jobs.models import MoneyRequest
from jobs.money.requests import rows_of
from studio.house.paper import render_pdf

NOTHING = Decimal(0)


def request_context(request: MoneyRequest) -> dict[str, Any]:
    """Return what the paper shows, everything as it was the day it was made.

    before: each earlier paper; still_open: of the earlier ones what was not in that day; ahead: what was in beyond
    them; to_pay: with this one, never below nothing; whole_deposit: what work waits for, where this asks for less.
    """
    content = request.content
    before = [{"label": row["label"], "asked_on": date.fromisoformat(row["asked_on"]), "total": Decimal(row["total"])}
              for row in content["before"]]
    deposit = Decimal(content.get("deposit", "0"))  # papers of before do not say it
    asked, paid = sum((row["total"] for row in before), NOTHING), Decimal(content["paid"])
    return {
        "request": request, "content": content, "house": content["house"], "currency": request.currency,
        "taxes": rows_of(request), "tax_name": content["taxes"][0]["name"] if content["taxes"] else "",
        "samples": [{"finish": row["finish"], "fee": Decimal(row["fee"])} for row in content.get("samples", ())],
        "agreed": Decimal(content["agreed"]), "before": before, "paid": paid,
        "still_open": max(asked - paid, NOTHING), "ahead": max(paid - asked, NOTHING),
        "whole_deposit": deposit if deposit > request.total else None,
        "to_pay": max(asked + request.total - paid, NOTHING),
    }


def render_request(request: MoneyRequest) -> bytes:
    """Return the request as PDF, from what was frozen; nothing is kept."""
    return render_pdf("jobs/money/documents/request.html", request_context(request))


def request_paper(request: MoneyRequest) -> bytes:
    """Return the request as PDF, as first rendered."""
    return kept_paper(request, lambda: render_request(request), name=f"request-{request.number}.pdf", owner_only=True)
