"""Trouble at the bench: what to do first stands there, and what happened is recorded."""

from __future__ import annotations

import pytest

from jobs.models import RunEntry
from studio.house.form_keys import NAME
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def run(owner, rates):
    return builders.Workshop(owner).run()


def test_a_spill_is_told_and_stands_on_the_run(run, at_helper):
    page = at_helper.get(f"/bench/{run.pk}/").content.decode()
    assert "keep it from the drain" in page
    answer = at_helper.post(f"/bench/{run.pk}/trouble/", {
        NAME: str(builders.key()), "what": "Spill", "text": "half a litre of tin stock, taken up"})
    assert answer.status_code in (200, 302)
    entry = RunEntry.objects.get(run=run, kind=RunEntry.Kind.NOTE)
    assert entry.content["text"] == "Spill: half a litre of tin stock, taken up"
    assert "Spill: half a litre of tin stock, taken up" in at_helper.get(f"/bench/{run.pk}/").content.decode()


def test_what_is_no_trouble_is_refused_and_nothing_is_recorded(run, at_helper):
    refused = at_helper.post(f"/bench/{run.pk}/trouble/", {NAME: str(builders.key()), "what": "Rain", "text": "outside"})
    assert refused.status_code == 422
    assert "outside" in refused.content.decode()
    assert not run.entries.exists()
