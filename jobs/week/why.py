"""Why a job is ready on its day and no sooner, in a sentence that a person can say on the phone."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

from jobs.calendar.asked import CalendarAsked, FurtherJob
from jobs.calendar.because import because
from jobs.calendar.planned import Plan
from studio.house.clock import today

if TYPE_CHECKING:
    from jobs.week.kept import Standing


def day_in_words(day: date) -> str:
    """Return a day as it is said: “Thu 10 Dec”, with its year where it is another."""
    return f"{day:%a} {day.day} {day:%b}" + (f" {day.year}" if day.year != today().year else "")


def why_then(standing: Standing, job: str) -> str:
    """Return when a job is ready and what holds it until then: “Ready Thu 10 Dec: the bench is full until Mon.”"""
    return why_placed(standing.asked, standing.plan, job)


def why_placed(asked: CalendarAsked, plan: Plan, job: str, further: FurtherJob | None = None) -> str:
    """Return when a job of a plan is ready, and why not sooner."""
    return because(asked, plan, job, lambda day: day_in_words(asked.first_day + timedelta(days=day)), further)
