"""A recipe walked through its steps: every rule that is broken, in the order of the steps. Pure: no Django."""

from __future__ import annotations

import pickle
from collections import OrderedDict
from hashlib import sha256

from recipes.facts import RecipeFacts, Shelf
from recipes.finishes.bench_rules.cautions import CAUTIONS
from recipes.finishes.bench_rules.pane import Surface, at_each_step
from recipes.finishes.bench_rules.rules import BenchRule, Finding
from recipes.finishes.bench_rules.stops import STOPS
from studio.kit.errors import DaybookError

RULES: list[BenchRule] = [*STOPS, *CAUTIONS]
#: the rule of what nobody has classed: not broken, but not known yet
UNCLASSED_RULE = "everything is classed"


#: walks that were done, by all that they read: pages ask of every recipe in use, and little of it changes in between
_WALKED: OrderedDict[bytes, tuple[Finding, ...]] = OrderedDict()
_MOST_WALKED = 4000


def walk(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Walk a recipe through its steps and return every rule that is broken, in the order of the steps.

    The same facts are walked once: what was found is kept by a digest of the recipe and the whole shelf.
    """
    facts = sha256(pickle.dumps(recipe) + shelf.digest).digest()
    found = _WALKED.get(facts)
    if found is None:
        found = _WALKED[facts] = tuple(_walked(recipe, shelf))
        while len(_WALKED) > _MOST_WALKED:
            _WALKED.popitem(last=False)
    return list(found)


def _walked(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    pane = Surface()
    found: list[Finding] = []
    for at in at_each_step(recipe, shelf):
        for rule in RULES:
            if sentence := rule.check(at):
                found.append(Finding(
                    rule=rule.name, step=at.step.number, sentence=sentence, reason=rule.reason, stops=rule.stops
                ))
        pane = at.after
    found += _owed_at_the_end(recipe, pane)
    if pane.silvered and not pane.sealed:
        found.append(Finding(
            rule="silver is sealed on the back", step=recipe.steps[-1].number, stops=False,
            sentence="The silver has no seal on its back.",
            reason="A clear seal goes on the back.",
        ))
    return found


def first_stop(recipe: RecipeFacts, shelf: Shelf) -> Finding | None:
    """Return the first stop that stands against a recipe; None where it is sound."""
    return next((finding for finding in walk(recipe, shelf) if finding.stops), None)


def _owed_at_the_end(recipe: RecipeFacts, pane: Surface) -> list[Finding]:
    """Return what ammoniacal silver still asks for when a recipe ends."""
    sentences = []
    if pane.ammoniacal:
        sentences.append("Ammoniacal silver is never fully rinsed off and its first water collected.")
    if pane.owes_making_safe:
        sentences.append("No step makes the ammoniacal silver safe: leftovers, first rinse, guns, trays and rags.")
    return [
        Finding(rule="ammoniacal silver is made safe", step=recipe.steps[-1].number, stops=True, sentence=sentence,
                reason="Ammoniacal silver turns explosive on standing and on drying: made safe in the same shift.")
        for sentence in sentences
    ]


class BenchRulesStop(DaybookError):
    """A recipe that may not be put in use."""

    def __init__(self, recipe: RecipeFacts, stops: list[Finding]) -> None:
        sentences = " ".join(f"Step {finding.step}: {finding.sentence}" for finding in stops)
        super().__init__(f"{recipe.finish}, version {recipe.version_number}, cannot be put in use. {sentences}")
        self.stops = stops


def refuse_stops(recipe: RecipeFacts, shelf: Shelf) -> list[Finding]:
    """Raise BenchRulesStop while a stop stands; return the cautions, which are acknowledged by name."""
    found = walk(recipe, shelf)
    stops = [finding for finding in found if finding.stops]
    if stops:
        raise BenchRulesStop(recipe, stops)
    return found
