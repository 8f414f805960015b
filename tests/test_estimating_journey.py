"""Pricing in a real browser: an e-mail pasted, one line corrected, plan, timetable and what is in the price seen, quoted."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk, pdf_of
from tests.serving import manage

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
EMAIL = "Hello,\nwe talked about 3 @ 24 3/8 x 36, 2 no. 600x900mm, one round 30in\nand 600 x 900 x 6\nBest wishes\nInes"


def test_from_an_email_to_a_quote(browser, demo):
    address, environment = demo
    page = at_desk(browser, address, "maud")
    paste_and_correct(page, address)
    look_at_the_working(page)
    number = save_and_quote(page)
    what_moved(page, address, number)
    on_a_phone(browser, address, number)
    without_javascript(browser, address)
    assert "Everything ties." in manage(environment, "audit")


def paste_and_correct(page: Page, address: str) -> None:
    """Three sizes become lines; the fourth is asked about, and another text is read too."""
    page.goto(f"{address}/jobs/new/")
    page.locator("#id_customer").select_option(label="Ines Marchetti")
    page.locator("#id_title").fill("Stair landing")
    page.locator("#id_lines-0-recipe_version").select_option(label="Foxed Harbour 3")
    page.locator("#id_lines-0-glass").select_option(label="Clear float 4 mm")
    page.get_by_text("Read sizes from an e-mail").click()
    page.get_by_label("What the customer wrote").fill(EMAIL)
    page.get_by_role("button", name="Read the sizes").click()
    expect(page.locator(".read-sum")).to_contain_text("3 lines")
    expect(page.locator(".letter-read .is-question .as-written")).to_contain_text("600 x 900 x 6")
    expect(page.locator("#id_lines-2-shape")).to_have_value("circle")
    page.get_by_label("What the customer wrote").fill("6 @ 600 x 900 mm")
    page.get_by_role("button", name="Read the sizes").click()
    expect(page.locator("#id_lines-3-quantity")).to_have_value("6")
    # the last line is struck down to one by hand, and the price follows
    page.locator("#id_lines-3-quantity").fill("1")
    expect(page.locator("#line-4 .read")).to_contain_text("600 × 900")
    expect(page.locator("#line-4 .line-price")).to_contain_text("Price £")


def look_at_the_working(page: Page) -> None:
    price = page.locator("#working")
    page.get_by_role("link", name="How this price comes about").click()
    price.get_by_text("Glass", exact=True).first.click()
    price.get_by_text("Cutting plan, drawn to scale").click()
    expect(price.locator(".sheet-drawing svg").first).to_be_visible()
    expect(price.locator(".cuts li").nth(1)).to_contain_text("of the piece in hand")
    price.get_by_text("Bench timetable").click()
    expect(price.locator("svg.timeline")).to_be_visible()
    expect(price.locator("table.starts").first).to_contain_text(re.compile(r"\b\d:\d\d\b"))
    price.get_by_text("after go-ahead: sample approved and deposit in").click()
    expect(price).to_contain_text("24 h before packing")
    price.get_by_text("What if: silver dearer").click()
    expect(price.locator(".bars svg")).to_have_count(4)


def save_and_quote(page: Page) -> str:
    page.get_by_role("button", name="Save the order").click()
    expect(page.locator("h1")).to_have_text("Stair landing")
    number = page.url.rstrip("/").rsplit("/", 1)[1]
    page.get_by_role("button", name="Save as quote").click()
    expect(page.get_by_text("is saved and frozen")).to_be_visible()
    link = page.get_by_role("link", name="(PDF)").first.get_attribute("href") or ""
    text, _ = pdf_of(page, page.url.split("/jobs/")[0], link)
    assert "safety-glazing codes come first and decide what may be fitted" in " ".join(text.split())
    assert re.search(r"\w{3} \d+ \w{3}( \d{4})?, if the sample is approved and the deposit in by \w{3} \d+ \w{3}", " ".join(text.split()))
    return number


def what_moved(page: Page, address: str, number: str) -> None:
    """Rates change; the quote says what moved and offers a new revision, and stays as it was."""
    page.goto(f"{address}/studio/rates/")
    page.get_by_label("Helper, an hour").fill("30")
    page.get_by_role("button", name="Save these rates").click()
    page.goto(f"{address}/jobs/{number}/")
    warning = page.locator(".notice-warning", has_text="Costs have changed since")
    expect(warning).to_be_visible()
    warning.get_by_text("What changed").click()
    expect(warning).to_contain_text("Helper's hour")
    page.get_by_role("button", name="Save a new revision").click()
    expect(page.get_by_text("revision 2 is saved and frozen")).to_be_visible()
    expect(page.locator(".notice-warning", has_text="Costs have changed since")).to_have_count(0)


def on_a_phone(browser: Browser, address: str, number: str) -> None:
    page = at_desk(browser, address, "maud", **PHONE)
    for path in (f"/jobs/{number}/order/", f"/jobs/{number}/", f"/jobs/{number}/site/1/", "/stockroom/offcuts/",
                 f"/jobs/{number}/photographs/"):
        page.goto(address + path)
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), path


def without_javascript(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", java_script_enabled=False)
    page.goto(f"{address}/jobs/new/")
    page.locator("#id_lines-0-recipe_version").select_option(label="Foxed Harbour 3")
    page.locator("#id_lines-0-glass").select_option(label="Clear float 4 mm")
    page.get_by_text("Read sizes from an e-mail").click()
    page.get_by_label("What the customer wrote").fill("2 @ 300 x 400 mm\n1 @ 500 x 700 mm")
    page.get_by_role("button", name="Read the sizes").click()
    page.locator("#line-1 .drawer-of > summary").click()
    page.get_by_role("button", name="Down line 1", exact=True).click()
    expect(page.locator("#id_lines-0-size_text")).to_have_value("500 x 700 mm")
    page.locator("#working > summary").click()
    page.get_by_role("button", name="Show the working").click()
    expect(page.locator("#working")).to_contain_text("Cutting plan, drawn to scale")
