"""What is unusual in a studio that was read from a book: taken as it stands there, and listed to be looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any

from jobs.models import OrderLine, SiteRecord
from recipes.chemistry.plausible import strength_question
from recipes.models import Ingredient, Part, SolutionVersion, Trial
from recipes.solutions.forms import ingredient_question
from studio.kit.errors import DaybookError
from studio.kit.keeping_times import DAY_MINUTES, keeping_question
from studio.kit.pane_sizes import questions_of_row
from studio.stockroom.models import Material, Offcut


def unusual() -> list[str]:
    """Return what a form would have asked about, each with what it is of. A fixed number of queries."""
    return [*_sizes(), *_keeping(), *_amounts()]


def _sizes() -> Iterator[str]:
    lines = OrderLine.objects.select_related("order__job")
    yield from _asked((f"{line.order.job}, line {line.number}", questions_of_row(line)) for line in lines)
    records = SiteRecord.objects.select_related("order__job")
    yield from _asked((f"{record.order.job}, site record of line {record.line_number}", questions_of_row(record))
                      for record in records)
    yield from _asked((str(trial), questions_of_row(trial)) for trial in Trial.objects.all())
    yield from _asked((str(offcut), questions_of_row(offcut)) for offcut in Offcut.objects.select_related("material"))


def _keeping() -> Iterator[str]:
    for version in SolutionVersion.objects.select_related("solution").exclude(keeps_minutes=None):
        yield from _asked([(str(version), _one(keeping_question, Fraction(version.keeps_minutes or 0)))])
    for material in Material.objects.all():
        for days in (material.shelf_life_days, material.opened_life_days):
            yield from _asked([(str(material), _one(keeping_question, Fraction(days or 0) * DAY_MINUTES))])


def _amounts() -> Iterator[str]:
    rows = Ingredient.objects.filter(make_up=False).select_related("material", "nested__solution",
                                                                   "solution_version__solution")
    yield from _asked((str(row.solution_version), _one(ingredient_question, row)) for row in rows)
    parts = Part.objects.exclude(strength=1).select_related("step__recipe_version__finish",
                                                            "solution_version__solution")
    yield from _asked((f"{part.step.recipe_version}, step {part.step.number}, {part.solution_version}",
                       _one(strength_question, Fraction(part.strength))) for part in parts)


def _one(ask: Any, of: Any) -> Iterator[str]:
    yield ask(of)


def _asked(found: Iterable[tuple[str, Iterable[str]]]) -> Iterator[str]:
    """Give each question with its subject; what cannot be, and stands in the database, is said the same way."""
    for subject, questions in found:
        try:
            said = list(questions)
        except DaybookError as refusal:
            said = [str(refusal)]
        yield from (f"{subject}: {question}" for question in said if question)
