"""Pages of the studio itself: the door, its settings, rates, people and kept files."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse_lazy
from django.views.decorators.http import require_http_methods, require_safe

from studio.house.clock import today
from studio.house.forms import FirstOwnerForm, HouseForm, PersonForm, RatesForm
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, sent_saves
from studio.house.kept_files import read
from studio.house.models import EdgeType, House, HouseRates, Person, StoredFile
from studio.house.saving import ProcedureTaken, save_house, touched_by_limit
from studio.kit.access import at_the_desk, open_door, owner_only
from studio.kit.locks import ChangedMeanwhile
from studio.kit.rounding import plain


class LogIn(LoginView):
    """The door; in a studio where nobody works yet it leads to the first owner's form."""

    template_name = "house/log_in.html"
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not Person.objects.exists():
            return redirect("studio:first_owner")
        return super().dispatch(request, *args, **kwargs)


log_in = open_door(LogIn.as_view())
log_out = open_door(LogoutView.as_view())


class ChangePassword(PasswordChangeView):
    """One's own password: it asks for the old one, and logs this person out everywhere else."""

    template_name = "house/password.html"
    success_url = reverse_lazy("studio:today")

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        messages.success(self.request, "Your password is changed; everywhere else you are logged out.")
        return super().form_valid(form)

    def form_invalid(self, form: PasswordChangeForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=REFUSED)


#: minutes to mix a batch, of a new studio until its owner says otherwise (common practice, no source)
MIXING_TO_START_WITH = 10

change_password = at_the_desk(ChangePassword.as_view())


@open_door
@require_http_methods(["GET", "HEAD", "POST"])
def first_owner(request: HttpRequest) -> HttpResponse:
    """Make the first person, the owner: once, while nobody works here yet."""
    if Person.objects.exists():
        return redirect("studio:log_in")
    form = FirstOwnerForm(request.POST or None)
    if form.is_valid():
        with transaction.atomic():
            person = form.save(commit=False)
            person.role = Person.Role.OWNER
            person.save()
            House.objects.update_or_create(id=1, defaults={
                "name": form.cleaned_data["house_name"], "time_zone": form.cleaned_data["time_zone"],
            })
            rates = HouseRates.objects.create(
                effective_from=today(), currency=form.cleaned_data["currency"],
                mixing_minutes_per_batch=MIXING_TO_START_WITH,
            )
            EdgeType.objects.create(rates=rates, name="as cut")
        login(request, person)
        return redirect("studio:rates")
    return render(request, "house/first_owner.html", {"form": form}, status=REFUSED if form.is_bound else 200)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def house_page(request: DeskRequest) -> HttpResponse:
    """The studio's identity and its own words; a save over somebody else's is refused."""
    house = House.objects.get()
    form = HouseForm(request.POST or None, instance=house)
    if form.is_valid():
        try:
            before = House.ammoniacal_limit()
            save_house(sent_saves(request), form.cleaned_data)
            for sentence in touched_by_limit() if House.ammoniacal_limit() < before else ():
                messages.warning(request, sentence)
            messages.success(request, "The studio settings are saved.")
            return redirect("studio:house")
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
        except ProcedureTaken as refusal:
            form.add_error(refusal.field, str(refusal))
    return render(request, "house/settings.html", {"form": form, "row": house},
                  status=REFUSED if form.is_bound else 200)


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def rates_page(request: DeskRequest) -> HttpResponse:
    """The dated rates, and a form for a new row that starts from the newest."""
    rows = list(HouseRates.objects.prefetch_related("edge_types"))
    newest = rows[0] if rows else None
    initial: dict[str, Any] = {"effective_from": today()}
    if newest is not None:
        initial |= {field.name: _as_typed(getattr(newest, field.name)) for field in HouseRates._meta.fields
                    if field.name not in ("id", "effective_from")}
        initial["edges"] = "\n".join(
            f"{edge.name}, {plain(edge.minutes_per_m)}, {plain(edge.grinds_off_mm)}"
            for edge in newest.edge_types.all()
        )
    same_day = _rates_of_day(request.POST.get("effective_from", ""))
    form = RatesForm(request.POST or None, initial=initial, instance=same_day)
    if form.is_valid() and _save_rates(form):
        messages.success(request, f"These rates count from {form.instance.effective_from:%d %b %Y}.")
        return redirect("studio:rates")
    status = REFUSED if form.is_bound else 200
    return render(request, "house/rates.html", {"form": form, "rows": rows}, status=status)


def _as_typed(value: Any) -> Any:
    return plain(value) if isinstance(value, Decimal) else value


def _save_rates(form: RatesForm) -> bool:
    """Save rates with their edges; put the database's refusal beside the currency."""
    try:
        with transaction.atomic():
            rates = form.save()
            rates.edge_types.all().delete()
            EdgeType.objects.bulk_create([EdgeType(rates=rates, **edge) for edge in form.cleaned_data["edges"]])
    except IntegrityError:
        form.add_error("currency", "The currency is fixed once a price exists in it.")
        return False
    return True


def _rates_of_day(typed: str) -> HouseRates | None:
    """Return the row that a form for the same day overwrites, however the day is written."""
    try:
        day = RatesForm.base_fields["effective_from"].clean(typed)
    except ValidationError:
        return None
    return HouseRates.objects.filter(effective_from=day).first()


@owner_only
@require_http_methods(["GET", "HEAD", "POST"])
def people_page(request: DeskRequest) -> HttpResponse:
    """Who works here, and a form to add a person."""
    form = PersonForm(request.POST or None)
    if form.is_valid():
        person = form.save()
        messages.success(request, f"{person.name} can log in as {person.username}.")
        return redirect("studio:people")
    people = Person.objects.order_by("username")
    return render(request, "house/people.html", {"form": form, "people": people},
                  status=REFUSED if form.is_bound else 200)


@at_the_desk
@require_safe
def stored_file(request: DeskRequest, sha256: str) -> HttpResponse:
    """A kept file, as it was: the owner's alone unless it was kept for everybody at the desk."""
    stored = get_object_or_404(StoredFile, sha256=sha256)
    if stored.owner_only and not request.user.is_owner:
        raise Http404
    response = HttpResponse(read(stored), content_type=stored.media_type)
    response["Cache-Control"] = "private, max-age=86400, immutable"
    response["Content-Disposition"] = f'inline; filename="{stored.name}"'
    return response
