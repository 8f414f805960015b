"""The studio's settings: an overview, and a page for each small group of them that is saved alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.forms import modelform_factory
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from studio.house.forms import HoursForm, HouseForm, PapersForm
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.models import House
from studio.house.saving import ProcedureTaken, as_opened, save_house, touched_by_limit
from studio.kit.access import allowed
from studio.kit.locks import ChangedMeanwhile
from studio.kit.roles import May
from studio.kit.working_hours import DAYS


@dataclass(frozen=True, kw_only=True)
class Group:
    """Settings that are shown and saved together. also: what its form saves beside its fields."""

    name: str
    title: str
    lead: str
    fields: tuple[str, ...]
    form: type[HouseForm] = HouseForm
    also: tuple[str, ...] = ()

    @property
    def saves(self) -> tuple[str, ...]:
        return (*self.fields, *self.also)


GROUPS = (
    Group(name="identity", title="Name and address", lead="Who you are, as quotes and tickets say it.",
          fields=("name", "address", "email", "phone", "tax_number")),
    Group(name="papers", title="Papers", lead="What every quote and ticket is printed on, and what quotes promise.",
          fields=("paper", "units", "terms", "payment_details", "care_note"), form=PapersForm, also=("mark",)),
    Group(name="money", title="Asking for money", lead="How requests for deposits and balances are numbered.",
          fields=("request_prefix", "request_first_number", "request_days")),
    Group(name="mail", title="E-mail", lead="Who quotes are sent from, and the letter they go with.",
          fields=("mail_sender", "mail_text")),
    Group(name="time", title="Time and working hours", form=HoursForm,
          lead="When somebody works: promises and the limit of ammoniacal silver are worked out from it.",
          fields=("time_zone", *(f"hours_{day}" for day in DAYS))),
    Group(name="safety", title="Safety",
          lead="The studio's own written procedures, as they stand on tickets and at the bench.",
          fields=("making_safe_procedure", "ammoniacal_limit_minutes", "spill_procedure")),
    Group(name="waste", title="Waste and permit", lead="Where what is left goes, and what the drain may carry.",
          fields=("waste_procedure", "waste_days_open", "discharge_permit")),
    Group(name="customers", title="Customers' data", lead="How long papers stay of a customer who is forgotten.",
          fields=("papers_kept_years",)),
)


@allowed(May.STUDIO)
@require_safe
def settings_page(request: DeskRequest) -> HttpResponse:
    """Every group of settings as it stands, each with its way to be changed."""
    house = House.objects.select_related("mark").get()
    labels = HouseForm(instance=house).fields
    groups = [(group, [(labels[name].label, _as_read(house, name)) for name in group.fields]) for group in GROUPS]
    return render(request, "house/settings.html", {"groups": groups, "mark": house.mark})


def _as_read(house: House, name: str) -> object:
    shown = getattr(house, f"get_{name}_display", lambda: getattr(house, name))()
    return "nobody works" if name.startswith("hours_") and not shown and any(house.working_hours) else shown


@allowed(May.STUDIO)
@require_http_methods(["GET", "HEAD", "POST"])
def group_page(request: DeskRequest, name: str) -> HttpResponse:
    """One group of settings; a save over somebody else's of the same group is refused, with both shown."""
    group = next((each for each in GROUPS if each.name == name), None)
    if group is None:
        raise Http404
    house = House.objects.select_related("mark").get()
    opened_as = request.POST.get("opened_as") or as_opened(house, group.saves)
    form_class = modelform_factory(House, form=group.form, fields=group.fields)
    form: Any = form_class(request.POST or None, request.FILES or None, instance=house)
    if form.is_valid():
        try:
            return _save(request, group, form)
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
        except ProcedureTaken as refusal:
            form.add_error(refusal.field, str(refusal))
    return render(request, "house/settings_group.html", {
        "form": form, "row": house, "group": group, "opened_as": opened_as, "mark": house.mark,
    }, status=REFUSED if form.is_bound else 200)


def _save(request: DeskRequest, group: Group, form: HouseForm) -> HttpResponse:
    before = House.ammoniacal_limit()
    save_house(sent_saves(request), form.settings(), request.POST.get("opened_as", ""))
    for sentence in touched_by_limit() if House.ammoniacal_limit() < before else ():
        messages.warning(request, sentence)
    messages.success(request, f"{group.title}: saved.")
    return redirect("studio:house")
