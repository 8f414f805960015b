"""What of the house itself is kept in the record of changes: its settings, its rates and who works here."""

from __future__ import annotations

from typing import Any

from studio.house.changes import listen, watch
from studio.house.models import ChangeRecord, GunCalibration, House, HouseRates, Person
from studio.house.week_models import DayApart, StudioWeek
from studio.kit.locks import column_in_words


def _rate(row: Any, name: str) -> tuple[str, str]:
    from studio.house.rates_forms import LABELS  # forms are made after the apps are ready
    from studio.house.rates_words import rate_in_words

    return (LABELS[name], rate_in_words(row, name)) if name in LABELS else column_in_words(row, name)


def _rates_before(row: HouseRates) -> HouseRates | None:
    return HouseRates.objects.filter(effective_from__lt=row.effective_from).first()


def _columns(model: Any, *but: str) -> list[str]:
    return [field.name for field in model._meta.concrete_fields if field.name not in ("id", "saves", *but)]


def watch_the_house() -> None:
    listen()
    watch(House, kind=ChangeRecord.Kind.SETTINGS, subject=lambda row: "Studio settings", columns=_columns(House))
    watch(HouseRates, kind=ChangeRecord.Kind.RATES, subject=str, columns=_columns(HouseRates, "effective_from"),
          in_words=_rate, follows=_rates_before)
    watch(GunCalibration, kind=ChangeRecord.Kind.RATES, subject=str, columns=_columns(GunCalibration))
    watch(StudioWeek, kind=ChangeRecord.Kind.SETTINGS, subject=str, columns=_columns(StudioWeek))
    watch(DayApart, kind=ChangeRecord.Kind.SETTINGS, subject=str, columns=_columns(DayApart, "key"))
    watch(Person, kind=ChangeRecord.Kind.PEOPLE, subject=lambda row: row.username, secret=("password",),
          columns=("username", "first_name", "last_name", "role", "is_active", "password"), told_by_acts=True)
