"""Answers of these pages that are no page: a table, a paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse

from studio.house.clock import today
from studio.house.http import csv_response, pdf_response
from studio.house.models import House
from studio.house.paper import render_pdf
from studio.stockroom.tables import as_csv


def csv_answer(name: str, head: Sequence[str], rows: Any) -> HttpResponse:
    return csv_response(as_csv(head, rows), f"{name}.csv")


def paper_answer(template: str, name: str, context: dict[str, Any]) -> HttpResponse:
    house = House.objects.first()
    pdf = render_pdf(template, {**context, "house": house, "paper_size": house.paper if house else "A4",
                                "made_on": today()})
    return pdf_response(pdf, name)
