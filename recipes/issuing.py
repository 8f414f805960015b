"""Issue and withdraw recipes: the bench rules' stops hold here, and what is issued is frozen."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from recipes.bench_rules import Finding, refuse_stops
from recipes.facts import RecipeFacts, Shelf
from recipes.mixing import walk_solutions
from recipes.models import IssueEvent, RecipeIssue, Solution, SolutionIssue
from recipes.reading import EVER, recipe_facts, shelf_for
from recipes.solution_rules import check_may_be_stored, findings, unpriced_within
from studio.clock import now, today
from studio.errors import DaybookError
from studio.inventory.models import Material
from studio.models import HouseRates, Person


class NotAcknowledged(DaybookError):
    """A caution stands that nobody has acknowledged by name."""

    def __init__(self, cautions: Iterable[Finding]) -> None:
        told = " ".join(f"Step {one.step}: {one.sentence} ({one.rule})" for one in cautions)
        super().__init__(f"Acknowledge these cautions by name before issuing. {told}", "acknowledged")


class SolutionRefused(DaybookError):
    """A solution that breaks a rule of its own."""


class Unpriced(DaybookError):
    """An ingredient that nobody knows the cost of: what is issued is quoted."""

    def __init__(self, materials: Iterable[str]) -> None:
        super().__init__(
            f"Nobody knows what {', '.join(materials)} costs: it has never been received and has no list price. "
            "Receive it, or give it a list price, then issue the recipe."
        )


def check_priced(recipe: RecipeFacts, shelf: Shelf) -> None:
    """Refuse a recipe with an ingredient, at any depth, that has no cost. Raises Unpriced."""
    names = [name for step in recipe.steps for part in step.parts for name in unpriced_within(part.solution, shelf)]
    if names:
        raise Unpriced(dict.fromkeys(names))


def freeze_solutions(solution_issue_ids: Iterable[int], at: datetime) -> None:
    """Freeze solution issues and all that is nested in them, the innermost first."""
    shelf = shelf_for(solution_issue_ids, today())
    for key in reversed(walk_solutions(list(shelf.solutions), shelf)):
        code, number = key.rsplit("/", 1)
        SolutionIssue.objects.filter(solution__code=code, number=number, frozen_at=None).update(frozen_at=at)


@transaction.atomic
def issue_recipe(
    *, issue: RecipeIssue, by: Person, acknowledged: Iterable[str] = (), note: str = "", at: datetime | None = None
) -> IssueEvent:
    """Issue a draft: every stop refuses it, every caution is acknowledged by its rule's name, then it is frozen.

    Raises BenchRulesStop or NotAcknowledged.
    """
    moment, known = at or now(), set(acknowledged)
    recipes, shelf = recipe_facts([issue.pk], EVER)
    cautions = refuse_stops(recipes[issue.key], shelf)
    check_priced(recipes[issue.key], shelf)
    unknown = [finding for finding in cautions if finding.rule not in known]
    if unknown:
        raise NotAcknowledged(unknown)
    freeze_solutions(
        SolutionIssue.objects.filter(used_in__step__recipe_issue=issue).values_list("pk", flat=True), moment
    )
    return IssueEvent.objects.create(
        recipe_issue=issue, kind=IssueEvent.Kind.ISSUED, at=moment, by=by, note=note,
        acknowledged=sorted({finding.rule for finding in cautions}),
    )


def withdraw_recipe(*, issue: RecipeIssue, by: Person, note: str, at: datetime | None = None) -> IssueEvent:
    """Withdraw an issued recipe: nothing new is quoted from it; what was quoted stays."""
    return IssueEvent.objects.create(
        recipe_issue=issue, kind=IssueEvent.Kind.WITHDRAWN, at=at or now(), by=by, note=note
    )


def check_solution_issue(issue: SolutionIssue) -> None:
    """Refuse a solution issue that breaks a rule: cycles, never stored, keeping, endangering pairs.

    Raises NeverStored or SolutionRefused.
    """
    shelf = shelf_for([issue.pk], today())
    facts = shelf.solutions[issue.key]
    stops = [finding for finding in findings(facts, shelf) if finding.stops]
    owns_a_place = issue.solution.material_id is not None
    if facts.keeps or owns_a_place:
        check_may_be_stored(facts, shelf)
    rates = HouseRates.objects.first()
    if rates is not None and issue.minimum_batch_ml > rates.largest_vessel_ml:
        raise SolutionRefused(
            f"{issue.solution.name}: its minimum batch is more than the largest vessel holds.", "minimum_batch_ml"
        )
    if stops:
        raise SolutionRefused(" ".join(finding.sentence for finding in stops))


def give_place_on_shelf(solution: Solution, material: Material) -> None:
    """Let a keeping solution have lots. Raises NeverStored for one that holds a silver salt and ammonia."""
    for issue in solution.issues.all():
        shelf = shelf_for([issue.pk], today())
        check_may_be_stored(shelf.solutions[issue.key], shelf)
        if issue.keeps_minutes is None:
            raise SolutionRefused(f"{solution.name} is used at once: it has no place on the shelf.")
    Solution.objects.filter(pk=solution.pk).update(material=material)


def solutions_with(material: Material) -> set[int]:
    """Return the ids of solution issues that hold a material, at any depth."""
    above = set(SolutionIssue.objects.filter(ingredients__material=material).values_list("pk", flat=True))
    grown = True
    while grown:
        more = set(SolutionIssue.objects.filter(ingredients__nested__in=above).values_list("pk", flat=True)) - above
        above |= more
        grown = bool(more)
    return above


def recheck_solutions_with(material: Material) -> None:
    """Check every solution that holds a material, at any depth, after its agent classes changed."""
    for issue in SolutionIssue.objects.filter(pk__in=solutions_with(material)).select_related("solution"):
        check_solution_issue(issue)
