"""Every page of an empty studio says what would be here and offers a step in the app, never a command line."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from jobs.models import Customer
from studio.house.clock import today
from studio.house.models import House, HouseRates

pytestmark = pytest.mark.django_db

TEMPLATES = Path(__file__).resolve().parents[3] / "templates"
#: pages that hold a list, and what leads on from each
EMPTY = {
    "/": "/start/", "/finishes/": "/start/finishes/", "/finishes/solutions/": "/start/finishes/",
    "/finishes/trials/": "/finishes/", "/stockroom/": "/stockroom/starting-shelf/",
    "/stockroom/counts/": "/stockroom/receive/note/", "/stockroom/labels/": "/stockroom/receive/note/",
    "/stockroom/buying/": "/stockroom/", "/bench/": "/jobs/", "/swatch-book/": "/finishes/",
    "/stockroom/waste/": "", "/stockroom/offcuts/": "", "/jobs/customers/": "/jobs/new/",
    "/bench/runs/": "/bench/", "/stockroom/buying/awaited/": "/stockroom/buying/",
    "/stockroom/deliveries/": "/stockroom/receive/note/",
}


@pytest.fixture
def new_studio(db) -> None:
    House.objects.create(name="Lark Lane Glass", time_zone="Europe/London")
    HouseRates.objects.create(effective_from=today(), currency="GBP")


@pytest.mark.parametrize(("address", "leads_to"), EMPTY.items())
def test_an_empty_page_says_what_would_be_here_and_leads_on(at_owner, new_studio, address, leads_to):
    html = at_owner.get(address).content.decode()
    main = html[html.index("<main"):html.index("</main>")]
    empty = re.search(r'<div class="empty">(.*?)</div>', main, re.DOTALL)
    assert empty, "nothing says that it is empty"
    assert len(re.sub(r"<[^>]+>|\s+", " ", empty[1]).split()) > 8, "a sentence says what it is for"
    if leads_to:
        assert f'href="{leads_to}"' in empty[1]
        assert at_owner.get(leads_to).status_code in (200, 302)
    else:
        assert "<form" in main, "what is entered first is entered on this page"


@pytest.mark.parametrize("address", [
    "/", "/finishes/", "/finishes/solutions/", "/finishes/trials/", "/stockroom/", "/stockroom/counts/",
    "/stockroom/labels/", "/bench/", "/stockroom/waste/", "/stockroom/offcuts/",
])
def test_a_helper_is_led_nowhere_that_is_not_theirs(at_helper, new_studio, address):
    html = at_helper.get(address).content.decode()
    for empty in re.findall(r'<div class="empty">(.*?)</div>', html, re.DOTALL):
        for link in re.findall(r'href="([^"#]+)"', empty):
            assert at_helper.get(link).status_code == 200, link


def test_a_customer_without_orders(at_owner, new_studio):
    customer = Customer.objects.create(name="Ines Marchetti")
    assert 'href="/jobs/new/"' in at_owner.get(f"/jobs/customers/{customer.pk}/").content.decode()


def test_an_order_in_an_empty_studio_leads_to_the_next_step(at_owner, new_studio):
    page = at_owner.get("/jobs/new/").content.decode()
    assert "An order needs a finish and a glass first." in page
    assert 'href="/start/"' in page[page.index("<main"):]


#: for whoever looks after the server, where there is nothing else but a command line
FOR_THE_SERVER = {"backups.html"}


def test_no_page_shows_a_command_line():
    shown = [path for path in TEMPLATES.rglob("*.html") if re.search(r"manage\.py|\bmake (demo|start)", path.read_text())]
    assert {path.name for path in shown} == FOR_THE_SERVER
