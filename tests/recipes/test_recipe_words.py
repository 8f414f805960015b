"""What a step's values are called on its pages."""

from __future__ import annotations

from fractions import Fraction

import pytest

from recipes.facts import StepFacts
from recipes.models import Step
from recipes.templatetags.recipe_words import step_values_in_words, tried_step_in_words
from tests import builders


@pytest.mark.django_db
@pytest.mark.parametrize(("values", "attended"), [
    ({"kind": "make safe"}, True), ({"kind": "silver", "motion": "rocked"}, True),
    ({"kind": "silver", "dwell_attended": True}, True), ({"kind": "silver"}, False), ({"kind": "dry"}, False),
])
def test_a_dwell_that_somebody_stands_by_is_called_attended_on_recipe_and_trial_alike(owner, values, attended):
    """Making safe is attended work, whatever is ticked."""
    version = builders.recipe("Words", [{"kind": "clean"}])
    step = Step.objects.create(recipe_version=version, number=2, dwell_minutes=20, **values)
    facts = StepFacts(number=2, dwell_minutes=Fraction(20), **values)
    for words in (step_values_in_words(step, "metric"), tried_step_in_words(facts, "metric")):
        assert ("Dwell 20 min, attended." in words) == attended
        assert "Dwell 20 min" in words
