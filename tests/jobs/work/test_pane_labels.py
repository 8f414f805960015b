"""Labels for the backs: what was made, of what, when, and where its record is; nobody's name but the studio's."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader

from jobs.models import RunEntry
from jobs.work.bench import note
from jobs.work.finishing import finish_run
from jobs.work.pane_labels import pane_labels
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def words(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages)


def test_every_pane_that_was_made_has_its_label_and_no_customer_stands_on_it(workshop, helper, at_helper):
    run = workshop.run(workshop.line(quantity=2))
    note(run=run, by=helper, client_key=builders.key(), kind=RunEntry.Kind.PANE, subject="1.2",
         content={"outcome": "spoilt", "attempts": 1, "because": "a run in the silver"})
    page = at_helper.get(f"/bench/{run.pk}/")
    assert f"/bench/{run.pk}/pane-labels.pdf" in page.content.decode()
    answer = at_helper.get(f"/bench/{run.pk}/pane-labels.pdf")
    shown = words(answer.content)
    assert "1, pane 1.1" in shown
    assert "pane 1.2" not in shown
    assert "Made" in shown
    assert "Ada Fenwick" not in shown
    assert "Hall mirror" not in shown


def test_a_finished_run_says_when_and_each_code_opens_its_pane(workshop, helper, settings):
    settings.PUBLIC_URL = "https://daybook.example"
    run = builders.worked(workshop.run(workshop.line(quantity=1)), helper)
    finish_run(run=run, by=helper)
    run.refresh_from_db()
    labels = pane_labels(run)
    assert labels
    assert {label.made_on for label in labels} == {run.finished_at.date()}
    assert [label.address for label in labels] == [
        f"https://daybook.example/bench/{run.pk}/#pane-{label.label}" for label in labels]
