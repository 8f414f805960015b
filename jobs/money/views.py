"""Requests for money: of a job, of the studio, each as a paper, and taken back; and what is owed, as a page and CSV."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.models import Customer, Job, MoneyRequest
from jobs.money.columns import OWED
from jobs.money.forms import BALANCE, DEPOSIT, SAMPLE, AskForm, TakeBackForm
from jobs.money.of_job import Money, money_of
from jobs.money.owed import Owed, owed
from jobs.money.paper import request_paper
from jobs.money.requests import ToAsk, ask_balance, ask_deposit, ask_samples, fees_to_ask, rows_of, take_back, to_ask
from jobs.money.sums import less, rest, total_of
from jobs.money.tables import lines_of
from studio.house.clock import today
from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, csv_stream, pdf_response
from studio.house.lists import listed, ordered, words_of
from studio.house.models import House, HouseRates
from studio.kit.access import allowed
from studio.kit.asking import fetched
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.kit.typed_numbers import whole_number

#: the heads of the list of requests, the newest first where none is asked
SORTS: dict[str, Any] = {
    "newest": ("-number",), "number": ("number",), "customer": ("job__order__customer__name", "-number"),
    "due": ("due_on", "number"), "total": ("total", "number"),
}
#: of who owes, the longest overdue first where none is asked
OWED_SORTS: dict[str, Any] = {
    "since": lambda one: (one.since, one.name), "customer": lambda one: one.name.casefold(),
    "open": lambda one: (one.open, one.name),
}


def currency() -> str:
    """Return the currency of today's rates; "" where there are none yet."""
    rates = HouseRates.known_on(today())
    return rates.currency if rates else ""


def _job(number: int) -> Job:
    job = get_object_or_404(Job.objects.select_related("order__customer", "quote"), number=number)
    return fetched([job], "order__quotes")[0]


def money_of_now(job: Job) -> Money:
    """Return the money of a job with its requests, as it is in the database. Two queries beside its quotes."""
    asked = list(job.money_requests.to_sum_up().select_related("paper"))
    return money_of(job, list(job.acts.all()), currency(), asked)


def _ask_form(kind: str, asks: ToAsk | None, data: Any = None) -> AskForm:
    house = House.objects.first() or House()
    return AskForm(data, kind=kind, days=house.request_days, currency=asks.quote.currency if asks else currency(),
                   deposit=asks.deposit_left if asks else total_of(()))


def _show(request: DeskRequest, job: Job, status: int = 200, sent: AskForm | None = None) -> HttpResponse:
    asks, paid = to_ask(job), money_of_now(job)
    left = total_of(asks.left) if asks else None
    forms = {kind: sent if sent is not None and sent.kind == kind else _ask_form(kind, asks)
             for kind in (DEPOSIT, BALANCE, SAMPLE)}
    samples = fees_to_ask(job) if job.can_take_in else None
    return render(request, "jobs/money/job_requests.html", {
        "job": job, "order": job.order, "paid": paid, "asks": asks, "left": left, "forms": forms,
        "stands": {one.request.pk: one for one in paid.requests}, "today": today(),
        "samples": samples if samples is not None and samples.fees_left > 0 else None,
        "can_ask": asks is not None and job.can_take_in and left is not None and left > 0,
    }, status=status)


@allowed(May.ORDERS)
@require_safe
def job_requests(request: DeskRequest, number: int) -> HttpResponse:
    """What was asked for of a job, how it stands, and what is left to ask for."""
    return _show(request, _job(number))


@allowed(May.ORDERS)
@require_POST
def ask(request: DeskRequest, number: int, kind: str) -> HttpResponse:
    """Ask for the deposit, for the balance, or for the fee of samples."""
    if kind not in (DEPOSIT, BALANCE, SAMPLE):
        raise Http404
    key, job = sent_key(request), _job(number)
    made = MoneyRequest.objects.filter(key=key, job=job).first()
    if made is None:
        form = _ask_form(kind, to_ask(job), request.POST)
        if not form.is_valid():
            return _show(request, job, REFUSED, form)
        sent = {name: form.cleaned_data[name] for name in ("key", "due_on", "note")}
        try:
            if kind == DEPOSIT:
                made = ask_deposit(job=job, by=request.user, amount=form.cleaned_data["amount"], **sent)
            elif kind == SAMPLE:
                made = ask_samples(job=job, by=request.user, **sent)
            else:
                made = ask_balance(job=job, by=request.user, **sent)
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
            return _show(request, job, REFUSED, form)
    return _made(request, made)


def _made(request: DeskRequest, made: MoneyRequest) -> HttpResponse:
    request_paper(made)
    messages.success(request, f"{made} is made and kept: print it, or send it to the customer.")
    return redirect("jobs:job_requests", made.job.number)


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def credit(request: DeskRequest, pk: int) -> HttpResponse:
    """Say what a credit of a request does, and make it once a reason is given."""
    rows = MoneyRequest.objects.select_related("job__order__customer", "quote")
    row = get_object_or_404(rows.exclude(kind=MoneyRequest.Kind.CREDIT), pk=pk)
    form = TakeBackForm(request.POST if request.method == "POST" else None, currency=row.currency)
    if request.method == "POST":
        made = MoneyRequest.objects.filter(key=sent_key(request), credits=row).first()
        if made is not None:
            return _made(request, made)
        if form.is_valid():
            try:
                return _made(request, take_back(request=row, by=request.user, **form.cleaned_data))
            except DaybookError as refusal:
                form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
    stands = total_of(rest(rows_of(row), *(less(rows_of(one)) for one in row.credited_by.all())))
    return render(request, "jobs/money/credit.html", {"row": row, "job": row.job, "form": form, "stands": stands},
                  status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_safe
def request_pdf(request: DeskRequest, pk: int) -> HttpResponse:
    row = get_object_or_404(MoneyRequest.objects.select_related("paper"), pk=pk)
    return pdf_response(request_paper(row), f"request-{row.number}.pdf")


@allowed(May.ORDERS)
@require_safe
def requests(request: DeskRequest) -> HttpResponse:
    """Every request for money that the address asks for, the newest first."""
    text = request.GET.get("q", "")
    rows = MoneyRequest.objects.select_related("job__order__customer", "credits").defer("content")
    for word in words_of(text):
        number = whole_number(word) or whole_number("".join(filter(str.isdigit, word)))
        rows = rows.filter(Q(job__order__customer__name__icontains=word) | Q(job__order__title__icontains=word)
                           | Q(kind__icontains=word) | Q(number=number))
    return render(request, "jobs/money/requests.html", {"listing": ordered(request, rows, SORTS), "asked": text})


def _owed(request: DeskRequest) -> tuple[Owed, Customer | None]:
    """Return what is owed: by one customer where the address names one."""
    pk = whole_number(request.GET.get("customer", ""))
    customer = get_object_or_404(Customer, pk=pk) if pk else None
    return owed(today(), currency(), customer.pk if customer else None), customer


@allowed(May.ORDERS)
@require_safe
def owed_page(request: DeskRequest) -> HttpResponse:
    """Who owes what, since when, the longest overdue first."""
    found, customer = _owed(request)
    return render(request, "jobs/money/owed.html", {
        "owed": found, "customer": customer, "part": OWED, "listing": listed(request, found.customers, OWED_SORTS),
    })


@allowed(May.ORDERS)
@require_safe
def owed_csv(request: DeskRequest) -> HttpResponseBase:
    found, _ = _owed(request)
    rows = ((one.request.job.order.customer.name, one.request.job.number, one.request.job.order.title,
             one.request.label, one.request.kind, one.request.asked_on, one.request.due_on, one.days_late,
             one.request.total, one.credited, one.paid, one.open, one.request.currency) for one in found.requests)
    return csv_stream(lines_of(OWED, rows), f"owed-{today():%Y-%m-%d}.csv")
