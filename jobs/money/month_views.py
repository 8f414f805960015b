"""A month closed, by any two days: sums on one page, each with the rows behind it as a page and as CSV. For owners."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from jobs.money import month
from jobs.money.columns import PARTS, As, Part
from jobs.money.forms import DaysForm
from jobs.money.month import Days
from jobs.money.month_as_work import MONTH, inputs_of
from jobs.money.tables import cells_of, lines_of
from jobs.money.views import currency
from studio.house.clock import house_zone
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, csv_stream, posted_from
from studio.house.lists import PAGE, Listing
from studio.house.lists import ROWS_A_PAGE as ROWS
from studio.house.long_work.asking import StillCancelling, ask
from studio.kit.access import allowed
from studio.kit.currencies import show_money
from studio.kit.roles import May

_PARTS = {part.name: part for part in PARTS}
#: what the stock's movements are called, in the order they are read
_MOVED = {"receipt": "Received", "use": "Used", "make-up out": "Used in mixes made ahead",
          "make-up in": "Mixed ahead", "discard": "Discarded", "return": "Returned to suppliers",
          "count correction": "Corrected by counts"}
#: the column that a part is summed by on the page of all
_SUMMED = {"requested": "total", "tax": "tax", "payments": "amount", "deposits": "held", "materials": "cost",
           "stock": "value", "work": "cost"}


@dataclass(frozen=True, kw_only=True)
class Sum:
    """A part with its sum, in words, and how many rows stand behind it."""

    part: Part
    total: str
    rows: int


def _days(form: DaysForm) -> Days | None:
    if not form.is_valid():
        return None
    return Days(first=form.cleaned_data["first"], last=form.cleaned_data["last"], zone=house_zone(),
                currency=currency())


@allowed(May.MARGINS)
@require_safe
def month_page(request: DeskRequest) -> HttpResponse:
    """Every part of the days summed, tax by rate, and how the stock came from its first value to its last."""
    form = DaysForm(request.GET)
    days = _days(form)
    if days is None:
        return render(request, "jobs/money/month.html", {"form": form}, status=REFUSED)
    sums, taxes = [], []
    for part in PARTS:
        rows = list(month.ROWS[part.name](days))
        at = part.head.index(_SUMMED[part.name])
        total = sum((row[at] for row in rows), Decimal(0))
        sums.append(Sum(part=part, total=_money(total, days), rows=len(rows)))
        if part.name == "tax":
            taxes = [(name, share, _money(net, days), _money(tax, days)) for name, share, net, tax in
                     month.by_rate(rows)]
    before, moved, after = month.stock_moved(days)
    steps = [(words, _money(moved[kind], days)) for kind, words in _MOVED.items() if moved.get(kind)]
    return render(request, "jobs/money/month.html", {
        "form": form, "days": days, "sums": sums, "taxes": taxes, "asked": _asked(days),
        "before": _money(before, days), "steps": steps, "after": _money(after, days),
    })


def _money(value: Decimal, days: Days) -> str:
    return show_money(Fraction(value), days.currency)


def _asked(days: Days) -> str:
    return f"first={days.first.isoformat()}&last={days.last.isoformat()}"


@allowed(May.MARGINS)
@require_safe
def month_part(request: DeskRequest, name: str) -> HttpResponse:
    """The rows of one part, fifty a page, each column explained."""
    part, form = _part(name), DaysForm(request.GET)
    days = _days(form)
    if days is None:
        return render(request, "jobs/money/month.html", {"form": form}, status=REFUSED)
    rows = list(month.ROWS[name](days))
    page = Paginator(rows, ROWS).get_page(request.GET.get(PAGE))
    listing = Listing(page=page, sort="", backwards=False, kept=request.GET.copy())
    totals = [(column.shown, _money(sum((row[at] for row in rows), Decimal(0)), days))
              for at, column in enumerate(part.columns) if column.kind in (As.MONEY, As.COST)]
    return render(request, "jobs/money/month_part.html", {
        "part": part, "days": days, "form": form, "asked": _asked(days), "listing": listing, "totals": totals,
        "heads": [column for column in part.columns if column.on_page],
        "rows": [cells_of(part, row) for row in listing.rows],
    })


@allowed(May.MARGINS)
@require_safe
def month_csv(request: DeskRequest, name: str) -> HttpResponseBase:
    part, form = _part(name), DaysForm(request.GET)
    days = _days(form)
    if days is None:
        return render(request, "jobs/money/month.html", {"form": form}, status=REFUSED)
    dated = days.last.isoformat() if part.by_day else f"{days.first.isoformat()}-to-{days.last.isoformat()}"
    return csv_stream(lines_of(part, month.ROWS[name](days)), f"{name}-{dated}.csv")


@allowed(May.MARGINS)
@posted_from("jobs:month")
def ask_month(request: DeskRequest) -> HttpResponse:
    """Ask for every table and request paper of the days in one file: it takes longer than a page."""
    sent_key(request)
    form = DaysForm(request.POST)
    days = _days(form)
    if days is None:
        return render(request, "jobs/money/month.html", {"form": form}, status=REFUSED)
    try:
        work = ask(kind=MONTH.name, inputs=inputs_of(days.first, days.last), by=request.user)
    except StillCancelling as refusal:
        messages.warning(request, str(refusal))
        return redirect("studio:going_on")
    return redirect("studio:long_work", work.pk)


def _part(name: str) -> Part:
    if name not in _PARTS:
        raise Http404
    return _PARTS[name]
