"""The week in a real browser: what is done when, a day off that moves it, a load tried elsewhere, a day asked for a quote."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}


def test_a_week_of_the_studio(browser, demo):
    address, _ = demo
    page = at_desk(browser, address, "maud")
    look_at_the_week(page, address)
    a_load_is_tried_and_left(page, address)
    a_day_is_asked_for(page, address)
    without_javascript(browser, address)
    the_helper_on_a_phone(browser, address)


def look_at_the_week(page: Page, address: str) -> None:
    page.goto(f"{address}/week/")
    expect(page.locator("h1")).to_have_text("The week")
    expect(page.locator(".lead")).to_contain_text("jobs in the plan")
    for way in ("By job", "As a table", "By day"):
        page.get_by_role("link", name=way).click()
        expect(page.get_by_role("link", name=way)).to_have_attribute("aria-current", "page")
    while page.locator(".is-mix").count() == 0:
        page.get_by_role("link", name="The week after").click()
    # a mix says until when it must be made safe
    expect(page.locator(".is-mix", has_text="Made safe by").first).to_be_visible()
    page.get_by_role("button", name="Look for a better plan").click()
    expect(page.locator("body")).to_contain_text(re.compile("Nothing better was found|A better plan was found"))


def a_load_is_tried_and_left(page: Page, address: str) -> None:
    page.goto(f"{address}/week/jobs/5/")
    form = page.locator(".place-form").first
    form.get_by_label("Day").fill("in 9 days")
    form.get_by_role("button", name="Try: the load begins that day").click()
    expect(page.get_by_text("Tried, not saved").or_(page.locator(".place .notice-error")).first).to_be_visible()
    page.goto(f"{address}/week/jobs/5/")
    expect(page.get_by_role("heading", name="Pinned")).to_have_count(0)


def a_day_is_asked_for(page: Page, address: str) -> None:
    page.goto(f"{address}/jobs/9/")
    page.get_by_role("link", name="When could it be ready?").click()
    expect(page.locator("#honest-day")).to_contain_text(re.compile("A quote may say|No |no place|not in use"))


def without_javascript(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", java_script_enabled=False)
    page.goto(f"{address}/studio/week/")
    page.get_by_label("From").fill("tomorrow")
    page.get_by_label("Why").fill("the boiler is swept")
    page.get_by_role("button", name="Add these days").click()
    expect(page.get_by_text("the boiler is swept").first).to_be_visible()
    page.goto(f"{address}/week/?by=table")
    expect(page.locator("caption")).to_contain_text("in the order of the hand")


def the_helper_on_a_phone(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "teo", **PHONE)
    for way in ("day", "job", "table"):
        page.goto(f"{address}/week/?by={way}")
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), way
        assert "Brannock" not in page.content()
    page.get_by_role("link", name="The week in your own calendar").click()
    page.get_by_role("button", name="Make a link").click()
    link = page.locator("code.link").inner_text()
    assert re.search(r"/week/feed/[0-9a-f]{64}\.ics$", link)
    text = page.context.request.get(address + "/week/feed/" + link.rpartition("/")[2]).text()
    assert text.startswith("BEGIN:VCALENDAR")
    assert "Brannock" not in text


def test_the_day_asked_for_stays_beside_the_price_until_something_else_is_typed(demo, browser):
    address, _ = demo
    page = at_desk(browser, address, "maud")
    page.goto(f"{address}/jobs/new/")
    line, day = page.locator("#line-1"), page.locator(".ready-of-typed")
    line.get_by_label("Finish", exact=True).select_option(label="Foxed Harbour 3")
    line.get_by_label("Glass", exact=True).select_option(label="Clear float 4 mm")
    line.get_by_label("Size", exact=True).fill("24 3/8 x 36")
    expect(page.locator("#price .figure")).to_contain_text("£")
    # the size is left by the press itself, so that the price is worked out once more
    line.get_by_label("Size", exact=True).focus()
    with page.expect_response("**/jobs/price-now/"):
        day.get_by_role("button", name="When could it be ready?").click()
    expect(day).to_contain_text("A quote may say")
    expect(day).to_contain_text("sample approved and deposit in by")
    with page.expect_response("**/jobs/price-now/"):
        line.get_by_label("Quantity").fill("3")
    expect(day.get_by_role("button", name="When could it be ready?")).to_be_visible()
