"""A page that is left open: its clocks of ammoniacal silver tick, change colour and word, and its alarm comes up."""

from __future__ import annotations

from datetime import timedelta

import pytest

from studio.house.clock import pretend
from tests import builders
from tests.chromium import chromium
from tests.jobs.work.test_clock import TEN, mixed
from tests.serving import HOME

# Playwright's loop is no request's: what the test asks of the database stands outside any
pytestmark = pytest.mark.django_db


@pytest.fixture
def pages(owner, helper, rates, at_helper):
    """Today and the stockroom, 50 minutes after silver was mixed: words of pages that nobody loads again."""
    with pretend(TEN - timedelta(hours=1)):
        run = builders.Workshop(owner).run()
    mixed(run, helper)
    with pretend(TEN + timedelta(minutes=50)):
        return [at_helper.get(address).content.decode() for address in ("/", "/stockroom/")]


def test_a_page_that_is_left_open_ticks_to_amber_and_to_red_and_raises_the_alarm(pages):
    today, stockroom = pages
    with chromium() as browser:
        page = browser.new_page()
        page.clock.install(time=TEN + timedelta(minutes=50))
        page.set_content(today)
        page.add_script_tag(path=str(HOME / "static/studio/standing.js"))
        row, alarm = page.locator(".standing").first, page.locator(".alarm")
        seen = []
        for minutes in (0, 9, 1, 59, 1):  # at 50, 59, 60, 119 and 120 minutes
            page.clock.run_for(minutes * 60_000)
            seen.append((row.locator("[data-stood]").inner_text(), row.locator("[data-word]").inner_text(),
                         row.locator("[data-word]").get_attribute("class"), alarm.is_visible()))
        assert seen == [
            ("50 min", "fresh", "state", False), ("59 min", "fresh", "state", False),
            ("1 h 0 min", "make it safe soon", "state is-attention", False),
            ("1 h 59 min", "make it safe soon", "state is-attention", False),
            ("2 h 0 min", "past its limit", "state is-danger", True),
        ]
        page.set_content(stockroom)
        alarm = page.locator(".alarm")
        assert alarm.get_attribute("role") is None
        page.clock.run_for(15_000)
        assert alarm.get_attribute("role") == "alert"
        assert "2 h 0 min, unless it was made safe since" in alarm.inner_text()
