"""Coverage from a gun: the newest calibration on the day, by flow or by stroke."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from recipes.models import Step
from recipes.reading import GunNotCalibrated, recipe_facts
from studio.house.models import GunCalibration
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def sprayed(rates):
    version = builders.recipe("Sprayed", [{"kind": "silver", "how": "spray", "gun": "pair"}])
    assert Step.objects.get(recipe_version=version).coverage_ml_per_m2 == 0
    return version


def coverage(version, day):
    recipes, _ = recipe_facts([version.pk], day)
    return recipes[version.key].steps[0].coverage_ml_per_m2


def test_the_newest_calibration_on_the_day_counts(sprayed):
    GunCalibration.objects.create(gun="pair", measured_on=date(2026, 1, 1), flow_ml_per_minute=Decimal(300),
                                  passes=Decimal(3), traverse_m2_per_minute=Decimal("1.5"))
    GunCalibration.objects.create(gun="pair", measured_on=date(2026, 6, 1), stroke_ml=Decimal("0.9"),
                                  strokes_per_m2=Decimal(700))
    assert coverage(sprayed, date(2026, 5, 31)) == 600
    assert coverage(sprayed, date(2026, 6, 1)) == Fraction(630)
    with pytest.raises(GunNotCalibrated, match="no calibration yet"):
        coverage(sprayed, date(2025, 12, 31))
