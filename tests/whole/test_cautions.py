"""Every page of caution ends on who comes first; first aid stands where it is looked for."""

from __future__ import annotations

from datetime import date

import pytest

from studio.stockroom.models import WasteContainer
from tests import builders

pytestmark = pytest.mark.django_db
LAST = "The supplier's safety data sheets, local codes and licensed practice come first."


@pytest.fixture
def container(owner, rates):
    workshop = builders.Workshop(owner)
    return WasteContainer.objects.create(name="S-1", meant_for=f"rinse of {workshop.silver}", opened_on=date(2026, 11, 1))


def test_every_page_of_caution_ends_on_who_comes_first(at_helper, at_owner, container):
    for address in ("/guides/cautions/", "/guides/fluoride/", "/stockroom/labels/", "/stockroom/waste/", f"/stockroom/waste/{container.pk}/",
                    "/stockroom/storage/", "/finishes/solutions/reducer/1/"):
        answer = at_helper.get(address)
        assert answer.status_code == 200, address
        main = answer.content.decode().partition("</main>")[0]
        assert LAST in main[-400:], address


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
