"""The house: first owner, rates by day, checks, health, the clock, error pages, exact fields."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from importlib import import_module

import pytest
from django.apps import apps
from django.core.exceptions import FieldError, ValidationError
from django.db import IntegrityError, connection, transaction
from django.db.models import F
from django.test import Client

from studio.house.begun import new_secret
from studio.house.checks import rules_are_in_place
from studio.house.clock import pretend, today
from studio.house.kept_files import FileDamaged, keep, read
from studio.house.models import House, HouseRates, Person
from studio.kit import database_rules
from studio.kit.working_hours import show_hours
from studio.whole import views
from tests import builders
from tests.kept import path_of

pytestmark = pytest.mark.django_db


def test_first_owner_opens_the_daybook_once(client):
    answers = {"house_name": "Loft", "time_zone": "Europe/Lisbon", "currency": "EUR", "username": "ada",
               "phone": "+351 21 000", "password1": "a-long-enough-word", "password2": "a-long-enough-word",
               "secret": new_secret()}
    wrong = client.post("/first-owner/", {**answers, "time_zone": "Moon/Sea"})
    assert wrong.status_code == 422
    assert "is no time zone" in wrong.content.decode()
    assert not Person.objects.exists()
    assert client.get("/log-in/")["Location"] == "/first-owner/"
    assert client.post("/first-owner/", answers).status_code == 302
    assert Person.objects.get().is_owner
    assert House.objects.get().time_zone == "Europe/Lisbon"
    assert (House.objects.get().phone, House.objects.get().email) == ("+351 21 000", "")
    assert "+351 21 000" in client.get("/start/studio/").content.decode()
    assert client.get("/").status_code == 200
    assert Client().post("/first-owner/", {**answers, "username": "eve"}).status_code == 302
    assert Person.objects.count() == 1


def test_the_newest_rates_on_the_day_count(house):
    builders.rates(effective_from=date(2026, 1, 1), margin_share=Decimal("0.3"))
    builders.rates(effective_from=date(2026, 7, 1), margin_share=Decimal("0.4"))
    assert HouseRates.on(date(2026, 6, 30)).margin_share == Decimal("0.3")
    assert HouseRates.on(date(2026, 7, 1)).margin_share == Decimal("0.4")
    with pytest.raises(HouseRates.DoesNotExist):
        HouseRates.on(date(2025, 12, 31))


@pytest.mark.parametrize("wrong", [
    {"margin_share": Decimal(1)}, {"cover_share": Decimal(1)}, {"price_step": Decimal(0)},
    {"largest_vessel_ml": Decimal(5)}, {"bench_width_mm": Decimal(0)}, {"helper_per_hour": Decimal(-1)},
])
def test_impossible_rates_are_refused_by_the_database(house, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        builders.rates(**wrong)


@pytest.mark.parametrize(("wrong", "field"), [
    ({"price_step": Decimal("0.001")}, "price_step"), ({"largest_vessel_ml": Decimal(5005)}, "largest_vessel_ml"),
])
def test_rates_that_do_not_fit_together_are_refused_in_words(wrong, field):
    rates = HouseRates(effective_from=date(2026, 1, 1), currency="EUR", **wrong)
    with pytest.raises(ValidationError) as refusal:
        rates.full_clean()
    assert "multiple" in refusal.value.message_dict[field][0]


def test_today_is_the_houses_own(house):
    House.objects.update(time_zone="Pacific/Auckland")
    with pretend(datetime(2026, 6, 1, 20, 0, tzinfo=UTC)):
        assert today() == date(2026, 6, 2)


def test_missing_rules_are_reported(client, rates, lifted_rules):
    assert client.get("/health/").status_code == 503
    assert "stockmovement_never_edited" in str(client.get("/health/").json())
    assert rules_are_in_place(databases=["default"])[0].id == "studio.E001"


@pytest.fixture
def lifted_rules():
    with transaction.atomic():
        database_rules.lift(connection)
        yield
        database_rules.install(connection)


def test_rules_are_all_in_place(house):
    assert database_rules.missing(connection) == []
    assert rules_are_in_place(databases=["default"]) == []


def test_exact_amounts_refuse_what_they_cannot_hold(house):
    field = HouseRates._meta.get_field("setup_minutes")
    assert field.get_prep_value(Decimal("0.000001")) == 1
    with pytest.raises(ValidationError, match="more than 6 decimals"):
        field.get_prep_value(Decimal("0.0000001"))
    with pytest.raises(ValidationError, match="never travels as a float"):
        field.get_prep_value(0.5)
    assert field.to_python(Fraction(1, 3)) == Decimal("0.333333")
    rates = builders.rates()
    with pytest.raises(TypeError, match="in Python"):
        HouseRates.objects.filter(pk=rates.pk).update(setup_minutes=F("increment_ml"))
    with pytest.raises(FieldError):
        list(HouseRates.objects.annotate(mixed=F("helper_per_hour") * F("setup_minutes")))


def test_a_changed_file_is_noticed(house):
    stored = keep(b"quote", name="quote.pdf", media_type="application/pdf", owner_only=True)
    assert read(stored) == b"quote"
    assert keep(b"quote", name="again.pdf", media_type="application/pdf", owner_only=True) == stored
    path_of(stored.sha256).write_bytes(b"forged")
    with pytest.raises(FileDamaged):
        read(stored)


def test_error_pages_are_our_own(at_owner, rates):
    missing = at_owner.get("/nothing/")
    assert missing.status_code == 404
    assert "Not found" in missing.content.decode()
    csrf = Client(enforce_csrf_checks=True)
    assert "This form is too old" in csrf.post("/log-in/").content.decode()


def test_a_lock_that_cannot_be_had_is_said_in_words(at_owner, rates, monkeypatch):
    from studio.kit.locks import TooBusy

    def busy(*_: object) -> None:
        raise TooBusy("Wait a moment.")

    monkeypatch.setattr(views, "gather", busy)
    response = at_owner.get("/")
    assert response.status_code == 503
    assert "Somebody else is saving" in response.content.decode()


def test_a_locked_write_is_tried_three_times():
    from django.db import OperationalError

    from studio.kit.locks import TooBusy, tried_three_times

    tries = []

    @tried_three_times
    def write() -> str:
        tries.append(1)
        if len(tries) < 3:
            raise OperationalError("locked")
        return "written"

    assert write() == "written"
    tries[:] = [1, 1, 1][:0]

    @tried_three_times
    def never() -> None:
        raise OperationalError("locked")

    with pytest.raises(TooBusy, match="counts once"):
        never()


def test_every_guide_can_be_read(client, rates):
    for name in ("a-job", "sizes", "price", "cautions", "sources"):
        assert client.get(f"/guides/{name}/").status_code == 200
    shown = client.get("/guides/cautions/").content.decode()
    assert "5.0 mg/L" in shown
    assert "no drain limit" in shown


def test_find_keeps_customers_from_helpers(owner, rates, at_owner, at_helper):
    builders.Workshop(owner).order()
    assert "Hall mirror" in at_owner.get("/find/?q=fenwick").content.decode()
    assert "Hall mirror" not in at_helper.get("/find/?q=fenwick").content.decode()
    assert "Silver <mark>nitrate</mark>" in at_helper.get("/find/?q=nitrate").content.decode()


def test_a_new_studio_counts_mixing_as_work(client, db):
    """Ten minutes a batch, and the rest as is common, until its owner says otherwise; rates that name none have none."""
    client.post("/first-owner/", {"house_name": "Tinwhistle", "time_zone": "Europe/London", "currency": "GBP", "username": "nell",
                                   "secret": new_secret(), "password1": "quiet-mirror-9", "password2": "quiet-mirror-9"})
    assert HouseRates.objects.get().mixing_minutes_per_batch == 10
    assert HouseRates().mixing_minutes_per_batch == 0


@pytest.mark.parametrize("hours", ["8-17", "08:30 to 17:30", "24:00-25:00", "08:60-17:30", "17:30-08:30", "08:30-08:30",
                                   "morning", "08:30-17:3o", "08:30-17:30 ", "0८:30-17:30"])
def test_what_the_database_keeps_of_working_hours_can_be_read(house, hours):
    with pytest.raises(IntegrityError, match="Working hours are kept"), transaction.atomic():
        House.objects.update(hours_wednesday=hours)
    for readable in ("", "00:00-23:59", "08:30-17:30"):
        House.objects.update(hours_wednesday=readable)
        assert show_hours(House.objects.get().working_hours[2]) == readable


def test_hours_of_before_are_rewritten_and_what_cannot_be_read_is_as_if_nobody_had_said(house):
    database_rules.lift(connection)
    House.objects.update(hours_monday="8 to 17.30", hours_tuesday="by arrangement", hours_sunday="")
    import_module("studio.house.migrations.0008_working_hours_are_readable").rewrite_hours(apps, None)
    database_rules.install(connection)
    saved = House.objects.get()
    assert (saved.hours_monday, saved.hours_tuesday, saved.hours_sunday) == ("08:00-17:30", "", "")


def test_hours_that_cannot_be_read_are_printed_before_they_count_as_not_given(house, capsys):
    database_rules.lift(connection)
    House.objects.update(hours_monday="from eight", hours_tuesday="8-17")
    import_module("studio.house.migrations.0008_working_hours_are_readable").rewrite_hours(apps, None)
    database_rules.install(connection)
    assert "hours of Monday, “from eight”, cannot be read" in capsys.readouterr().out
    saved = House.objects.get()
    assert (saved.hours_monday, saved.hours_tuesday) == ("", "08:00-17:00")
