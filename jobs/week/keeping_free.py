"""Hours of a day that the owner keeps free of bench work: tried first, then taken off what the day has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from uuid import UUID

from django.db import transaction

from jobs.week.placing import CannotPlace, Effect, tried_out, with_a_place_for_all
from studio.house.clock import today
from studio.house.week import days_from, without
from studio.house.week_changes import week_changed
from studio.house.week_models import DayApart
from studio.kit.locks import one_by_one
from studio.kit.working_hours import show_spells


@dataclass(frozen=True, kw_only=True)
class Free:
    """Hours of one person on a day: owner or helper, from a time up to another."""

    who: str
    on: date
    begins: time
    ends: time
    because: str = ""


def _row(free: Free, key: UUID) -> DayApart:
    """Return what is kept free. Raises CannotPlace where nothing is worked in these hours anyway."""
    if free.on < today():
        raise CannotPlace("That day is past: choose one to come.", "on")
    begins, ends = (at.hour * 60 + at.minute for at in (free.begins, free.ends))
    (day,) = days_from(free.on, 1)
    if without(day.spells[free.who], begins, ends) == day.spells[free.who]:
        raise CannotPlace(f"The {free.who} does not work in these hours anyway.", "begins")
    return DayApart(key=key, who=free.who, first_on=free.on, last_on=free.on, because=free.because or "kept free",
                    spells=show_spells(((free.begins, free.ends),)), kept_free=True)


def try_free(free: Free, key: UUID) -> Sequence[Effect]:
    """Return what keeping hours free would do to each job. Raises CannotPlace where a job would find no place."""
    tried = tried_out(lambda: _row(free, key).save(), CannotPlace(
        "No plan keeps every rule with that: choose other hours.", "begins"))
    return with_a_place_for_all(*tried, "begins")


@transaction.atomic
def keep_free(free: Free, key: UUID) -> DayApart:
    """Keep hours free; sent twice with one key it counts once. Raises CannotPlace."""
    one_by_one("plan of the week")
    known = DayApart.objects.filter(key=key).first()
    if known is not None:
        return known
    row = _row(free, key)
    row.save()
    week_changed()
    return row
