"""A part of a page that cannot be had: the sentence stands above the page, what was typed stays, and it goes again."""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Browser, expect

from tests.chromium import at_desk
from tests.serving import Environment
from tests.whole.test_trouble import of_the_database


def test_while_the_database_is_gone_the_page_says_so_and_loses_nothing(
    browser: Browser, demo: tuple[str, Environment], tmp_path: Path,
) -> None:
    # given somebody at a narrow screen who receives a delivery while the database goes away
    address, environment = demo
    page = at_desk(browser, address, "maud", viewport={"width": 360, "height": 780})
    page.goto(f"{address}/stockroom/receive/")
    day, told = page.locator("[name=received_on]"), page.locator("#out-of-reach")
    page.locator("[name=supplier]").fill("Ridley")
    take_away, bring_back = of_the_database(tmp_path, environment)
    take_away()
    # when a part of the page is asked for
    day.fill("1 Feb")
    day.blur()
    # then the page says why it does not come, once, as an alert within the screen, and what was typed stays
    expect(told).to_contain_text("The database does not answer")
    assert told.get_attribute("role") == "alert"
    box = told.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 360
    day.fill("2 Feb")
    day.blur()
    expect(told).to_have_count(1)
    expect(page.locator("[name=supplier]")).to_have_value("Ridley")
    # and once it is back the next part takes the sentence away
    bring_back()
    day.fill("3 Feb")
    day.blur()
    expect(page.locator(".read-as").first).to_contain_text("3 Feb")
    expect(told).to_have_count(0)
    expect(page.locator("[name=supplier]")).to_have_value("Ridley")
