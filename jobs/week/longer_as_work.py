"""The longer search for a plan of the week, as long work: it takes a minute, and only offers what it finds."""

from __future__ import annotations

from studio.house.long_work.kinds import Came, Course, Inputs, Kind
from studio.kit.roles import May


def look_longer(course: Course, inputs: Inputs) -> Came:
    """Look for a better plan, as `manage.py plan_week` does; one that is found is offered on the week's page."""
    from jobs.calendar.effort import LONG  # the solver is slow to load: by a worker alone
    from jobs.week.offers import look_for_better, put_forward

    course.at(0, 1, "other orders of the jobs")
    better = look_for_better(LONG)
    course.at(1, 1, "")
    if better is None:
        return Came(said="Nothing better was found: the plan of the week stands as it is.")
    return Came(said="A better plan is offered on the week's page.", also=lambda: put_forward(better))


LONGER = Kind(name="week", title=lambda inputs: "A better plan of the week", needs=May.ORDERS, do=look_longer,
              button="Look for a better plan of the week",
              lead="Looks longer than the week's page does. What it finds is offered there, to take or to leave.")
