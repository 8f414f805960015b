"""Every page of caution ends on who comes first; first aid stands where it is looked for."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pytest
from pypdf import PdfReader

from studio.stockroom.models import WasteContainer
from studio.stockroom.places import make_place
from tests import builders

pytestmark = pytest.mark.django_db
LAST = "The supplier's safety data sheets, local codes and licensed practice come first."


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def container(workshop):
    return WasteContainer.objects.create(name="S-1", meant_for=f"rinse of {workshop.silver}", opened_on=date(2026, 11, 1))


def words_of(answer) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages).split())


#: pages that caution a helper, then those of the owner alone
FOR_ALL = (
    "/", "/bench/", "/bench/{run}/", "/guides/cautions/", "/guides/fluoride/", "/guides/the-stockroom/", "/stockroom/",
    "/stockroom/silver-nitrate/", "/stockroom/lots/{lot}/", "/stockroom/labels/", "/stockroom/waste/",
    "/stockroom/waste/{container}/", "/stockroom/storage/", "/finishes/plain-silver/1/", "/finishes/trials/{trial}/",
    "/finishes/plain-silver/1/try/", "/finishes/solutions/reducer/1/",
)
FOR_THE_OWNER = (
    "/stockroom/receive/", "/stockroom/new/", "/stockroom/silver-nitrate/edit/", "/stockroom/storage/place/?name=shelf",
    "/stockroom/starting-shelf/", "/stockroom/unclassed/", "/finishes/solutions/new/", "/finishes/plain-silver/2/edit/",
)


def test_every_page_of_caution_ends_on_who_comes_first(at_helper, at_owner, workshop, container, owner):
    run, trial = workshop.run(), builders.trial(workshop.recipe, owner)
    builders.recipe("Plain silver", workshop.steps(), number=2)
    make_place("shelf")
    named = {"run": run.pk, "lot": workshop.silver_lot.pk, "trial": trial.number, "container": container.pk}
    for client, addresses in ((at_helper, FOR_ALL), (at_owner, FOR_THE_OWNER)):
        for address in addresses:
            answer = client.get(address.format(**named))
            assert answer.status_code == 200, address
            main = answer.content.decode().partition("</main>")[0]
            assert LAST in main[-400:], address


def test_a_job_whose_silver_stands_ends_on_it_too(at_owner, workshop, owner):
    run = builders.worked(workshop.run(), owner, safe=False)
    page = at_owner.get(f"/jobs/{run.ticket.job.number}/").content.decode().partition("</main>")[0]
    assert "has stood" in page
    assert LAST in page[-400:]


def test_every_paper_of_caution_ends_on_who_comes_first(at_owner, workshop):
    run, size = workshop.run(), "tag-a6"
    workshop.silver.hazard_statements = ["H272", "H314", "H410"]
    workshop.silver.save()
    papers = {
        f"/tickets/{run.ticket.pk}/paper.pdf": "Before you leave",
        "/finishes/solutions/silver-part/1/bench-card.pdf?volume=1+L": "Mixed by",
        "/finishes/solutions/silver-part/1/label.pdf?volume=1+L": "Hazards of what is in it.",
        f"/stockroom/labels/labels.pdf?size={size}&lot={workshop.silver_lot.pk}": "Very toxic to aquatic life",
    }
    for address, before in papers.items():
        words = words_of(at_owner.get(address))
        assert before in words, address
        assert LAST in words[words.rindex(before):], address


def test_first_aid_stands_in_short_lines_for_anybody(client, house):
    page = " ".join(client.get("/guides/cautions/").content.decode().split())
    for line in ("Eyes:", "Caustic on skin:", "Acid on skin:", "Silver on skin:", "Ammonia breathed:", "Broken glass:", "Fluoride:"):
        assert line in page
    assert 'href="/guides/fluoride/"' in page
    fluoride = " ".join(client.get("/guides/fluoride/").content.decode().split())
    assert "never alone" in fluoride
    assert "calcium gluconate gel" in fluoride
    for shown in (page, fluoride):
        assert "from memory" not in shown
    assert "public first-aid guidance, from memory" in " ".join(client.get("/guides/sources/").content.decode().split())
