"""The first page of an empty studio: its name, its money, its clock, and its owner's log-in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth import login
from django.contrib.auth.forms import BaseUserCreationForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from studio.house.begun import AlreadyBegun, is_secret, refuse_lost, the_first
from studio.house.clock import today
from studio.house.http import REFUSED
from studio.house.models import EdgeType, House, HouseRates, Person
from studio.house.passwords import HELP
from studio.house.starting_rates import starting_values
from studio.kit.access import open_door
from studio.kit.countries import currencies, currency_of, territory_asked_for, zone_of, zones
from studio.kit.roles import OWNER

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    PersonCreationForm = BaseUserCreationForm[Person]
else:
    PersonCreationForm = BaseUserCreationForm


class ZoneSelect(forms.Select):
    """Time zones, each with the money that is used there, so that a script can guess both from the browser's clock."""

    def create_option(self, name: str, value: Any, *given: Any, **more: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *given, **more)
        money = dict(zones()).get(str(value))
        if money:
            option["attrs"]["data-money"] = money
        return option


class FirstOwnerForm(PersonCreationForm):
    """The studio's first person, who is its owner, and its name, currency and time zone."""

    house_name = forms.CharField(max_length=120, label="Name of the studio",
                                 help_text="As it stands on a quote.")
    currency = forms.CharField(
        max_length=3, widget=forms.Select, help_text="Of all prices; it is fixed once a price exists.",
        validators=HouseRates._meta.get_field("currency").validators,
    )
    time_zone = forms.CharField(widget=ZoneSelect, help_text="By which days and dates are told.")

    address = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 3}),
                              help_text="With telephone and e-mail, on the head of quotes. It may wait.")
    phone = forms.CharField(required=False, max_length=40, label="Telephone")
    email = forms.EmailField(required=False, label="E-mail")

    secret = forms.CharField(
        max_length=40, label="Secret of the start", widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="`make start` printed it where the daybook was started.",
    )

    field_order = ["house_name", "currency", "time_zone", "address", "phone", "email", "username", "password1",
                   "password2", "secret"]

    class Meta:
        model = Person
        fields = ["username"]
        help_texts = {"username": "Letters, digits, and @ . + - _: for logging in."}

    def __init__(self, *given: Any, territory: str = "", **more: Any) -> None:
        """Offer every currency and zone. territory: the country that the browser speaks of; its own stand chosen."""
        super().__init__(*given, **more)
        money: Any = self.fields["currency"].widget
        clock: Any = self.fields["time_zone"].widget
        money.choices = [("", "Choose"), *currencies()]
        clock.choices = [("", "Choose"), *((name, name.replace("_", " ")) for name, _ in zones()), ("UTC", "UTC")]
        known = dict(currencies())
        guessed = currency_of(territory) if territory else ""
        self.initial.update(currency=guessed if guessed in known else "", time_zone=zone_of(territory))
        self.fields["password2"].label = "Password again"
        self.fields["password1"].help_text = HELP
        self.fields["password2"].help_text = ""

    @property
    def of_the_studio(self) -> list[forms.BoundField]:
        return [self[name] for name in ("house_name", "currency", "time_zone", "address", "phone", "email")]

    @property
    def of_the_owner(self) -> list[forms.BoundField]:
        return [self[name] for name in ("username", "password1", "password2", "secret")]

    def clean_secret(self) -> str:
        typed = str(self.cleaned_data["secret"])
        if not is_secret(typed):
            raise forms.ValidationError("That is not the secret that was printed last. To have another printed, start "
                                        "the daybook again, or run manage.py first_owner --if-empty.")
        return typed

    def clean_time_zone(self) -> str:
        zone = str(self.cleaned_data["time_zone"])
        House._meta.get_field("time_zone").run_validators(zone)
        return zone


@open_door
@require_http_methods(["GET", "HEAD", "POST"])
def first_owner(request: HttpRequest) -> HttpResponse:
    """Make the first person, the owner: once, while nobody works here yet."""
    if Person.objects.exists():
        return redirect("studio:log_in")
    refuse_lost()
    form = FirstOwnerForm(request.POST or None,
                          territory=territory_asked_for(request.headers.get("Accept-Language", "")))
    if form.is_valid():
        try:
            owner = open_studio(form)
        except AlreadyBegun:  # in another browser, at the same moment
            return redirect("studio:log_in")
        login(request, owner, backend="django.contrib.auth.backends.ModelBackend")
        return redirect("studio:start")
    return render(request, "house/first_owner.html", {"form": form}, status=REFUSED if form.is_bound else 200)


@the_first()
def open_studio(form: FirstOwnerForm) -> Person:
    """Save the owner, the studio and its first rates, as is common; return the owner. Raises AlreadyBegun."""
    person = form.save(commit=False)
    person.role = OWNER
    person.save()
    House.objects.update_or_create(id=1, defaults={
        "name": form.cleaned_data["house_name"], "time_zone": form.cleaned_data["time_zone"],
        **{name: form.cleaned_data[name] for name in ("address", "phone", "email")},
    })
    rates = HouseRates.objects.create(
        effective_from=today(), currency=form.cleaned_data["currency"], **starting_values(),
    )
    EdgeType.objects.create(rates=rates, name="as cut")
    return person
