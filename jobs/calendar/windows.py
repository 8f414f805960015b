"""Which units of a plan are moved together: all of a small one, else a few near each other, late ones first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from jobs.calendar.effort import Effort
from jobs.calendar.first_come import Unit, UnitPlace
from jobs.calendar.ground import Ground
from jobs.calendar.solver import improved
from jobs.calendar.standing import Standing

WHOLE_UP_TO = 10


def span(unit: UnitPlace) -> tuple[int, int]:
    """Return from when to when a unit is worked on, in slots."""
    starts = [start for _, job in unit.jobs for start, _ in (*job.before, *job.after)]
    starts += [place.start for place in unit.stretches]
    return (min(starts), max(starts)) if starts else (0, 0)


def movable(unit: UnitPlace) -> bool:
    """Say whether the solver may move a unit: not one pinned off its grid."""
    return not any(place.shape.offset for place in unit.stretches)


def windows(standing: Standing, jobs: int) -> Iterator[list[Unit]]:
    """Yield windows of up to so many jobs: around each late unit, the latest first, then along the calendar."""
    units = {unit: place for unit, place in standing.units.items() if movable(place)}
    spans = {unit: span(place) for unit, place in units.items()}
    order = sorted(units, key=lambda unit: (spans[unit], unit))
    late = sorted((unit for unit in units if units[unit].late), key=lambda unit: (-units[unit].late, unit))
    along = [order[first:] for first in range(0, max(1, len(order) - 1), max(1, jobs // 2))]
    for some in (*(_near(unit, units, spans) for unit in late), *along):
        yield _filled(some, jobs)


def _near(unit: Unit, units: Mapping[Unit, UnitPlace], spans: Mapping[Unit, tuple[int, int]]) -> list[Unit]:
    """Return a unit and then the others, those first that are longest worked on at the same time."""
    low, high = spans[unit]
    return [unit, *sorted((other for other in units if other != unit), key=lambda other: (
        -max(0, min(high, spans[other][1]) - max(low, spans[other][0])), units[other].late, other,
    ))]


def _filled(units: list[Unit], jobs: int) -> list[Unit]:
    """Return the first units as long as they are no more jobs than said; one alone always."""
    found: list[Unit] = []
    for unit in units:
        if found and sum(map(len, found)) + len(unit) > jobs:
            continue
        found.append(unit)
        if sum(map(len, found)) >= jobs:
            break
    return found


def nearer(ground: Ground, standing: Standing, ask: Unit, until: Mapping[str, int], refused: frozenset[str],
           effort: Effort) -> Standing:
    """Return the plan with a further job ready sooner, or as it is. until: the last day of each other that has one."""
    name, tried = ask[0], set[tuple[Unit, ...]]()
    for _ in range(effort.ask_windows):
        units = {unit: place for unit, place in standing.units.items() if movable(place)}
        low, high = span(units[ask])
        near = sorted((unit for unit in units if unit != ask), key=lambda unit: (
            -max(0, min(high, span(units[unit])[1]) - max(low, span(units[unit])[0])), unit,
        ))
        window = next((some for first in range(0, len(near) + 1, effort.window_jobs - 1)
                       if tuple(sorted(some := _filled([ask, *near[first:]], effort.window_jobs))) not in tried), None)
        if window is None:
            break
        tried.add(tuple(sorted(window)))
        found = improved(ground, standing, window, refused, effort.window, name, until)
        if ready_on(found, ask) < ready_on(standing, ask):
            standing = found
    return standing


def ready_on(standing: Standing, unit: Unit) -> int:
    """Return the day on which a unit is ready."""
    return max(job.finish_day for _, job in standing.units[unit].jobs)


def better(ground: Ground, standing: Standing, refused: frozenset[str], effort: Effort) -> Standing:
    """Return the plan improved by the solver; never a worse one."""
    if sum(map(len, standing.units)) <= WHOLE_UP_TO and all(map(movable, standing.units.values())):
        found = improved(ground, standing, list(standing.units), refused, effort.whole)
        return min(standing, found, key=lambda one: one.value)
    tried: set[tuple[Unit, ...]] = set()
    for _ in range(effort.windows):
        new = (some for some in windows(standing, effort.window_jobs) if tuple(sorted(some)) not in tried)
        window = next(new, None)
        if window is None:
            break
        tried.add(tuple(sorted(window)))
        found = improved(ground, standing, window, refused, effort.window)
        if found.value < standing.value:
            standing = found
    return standing
