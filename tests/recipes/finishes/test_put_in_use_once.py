"""Two who put a version in use, or withdraw it, at one moment do it once."""

from __future__ import annotations

import pytest

from recipes.finishes.putting_in_use import put_in_use, withdraw_recipe
from recipes.models import VersionEvent

pytestmark = pytest.mark.django_db


def test_what_was_done_already_is_done_once(morning_workshop, owner):
    version = VersionEvent.objects.get().recipe_version
    first = VersionEvent.objects.get()
    assert put_in_use(version=version, by=owner) == first
    withdrawn = withdraw_recipe(version=version, by=owner, note="peels")
    assert withdraw_recipe(version=version, by=owner, note="peels, pressed twice") == withdrawn
    assert [event.kind for event in version.events.all()] == ["in use", "withdrawn"]
