"""A quote on its way to a customer and back, in a browser: sent, read on a telephone, answered once, in two tabs."""

from __future__ import annotations

import quopri
import re
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk

TELEPHONE = {"width": 360, "height": 740}


def open_quotes(desk: Page, address: str) -> list[str]:
    """Return the pages of the demo's quotes that a customer can still be asked about."""
    pages = [f"{address}/quotes/{pk}/" for pk in range(1, 25)]
    return [page for page in pages if "Make a private link" in desk.context.request.get(page).text()]


def private_link(desk: Page, quote: str) -> str:
    desk.goto(quote)
    desk.get_by_role("button", name="Make a private link").click()
    return desk.locator(".private-address").inner_text()


def on_telephone(browser: Browser, link: str, **more: object) -> Page:
    page = browser.new_context(viewport=TELEPHONE, **more).new_page()
    page.goto(link)
    return page


def sent_letter(environment: dict[str, str]) -> str:
    letter, = (Path(environment["DAYBOOK_DATA"]) / "mail").iterdir()
    return quopri.decodestring(letter.read_bytes().replace(b"=\n", b"")).decode("utf-8", "replace")


def test_a_quote_goes_out_and_comes_back(demo, browser):
    address, environment = demo
    desk = at_desk(browser, address, "maud")
    quote, = open_quotes(desk, address)
    desk.goto(f"{address}/jobs/9/")
    desk.get_by_role("button", name="Save as quote").click()
    expect(desk.get_by_text("is saved and frozen")).to_be_visible()
    other = next(page for page in open_quotes(desk, address) if page != quote)

    # sent by e-mail, into the demo's folder
    desk.goto(quote)
    desk.get_by_role("link", name="Send it by e-mail").click()
    desk.get_by_label("To", exact=True).fill("rose@askew.example")
    desk.get_by_role("button", name="Send it").click()
    expect(desk.get_by_text("is sent to rose@askew.example")).to_be_visible()
    link = re.search(rf"{re.escape(address)}/q/[\w-]{{43}}/", sent_letter(environment))[0]

    # two tabs on a telephone; a look changes nothing
    first, second = (on_telephone(browser, link) for _ in range(2))
    for page in (first, second):
        assert page.evaluate("document.documentElement.scrollWidth") <= TELEPHONE["width"]
        expect(page.get_by_role("button", name="Accept what you chose")).to_be_visible()
        expect(page.get_by_role("link", name="Jobs")).to_have_count(0)
    desk.goto(quote)
    expect(desk.locator("#links .state").first).to_have_text("open")

    # no name, no option, then yes by name to one of them; the second tab gets the first's answer in words
    first.get_by_role("button", name="Accept what you chose").click()
    expect(first.get_by_text("Write your name")).to_be_visible()
    first.locator("#answer").get_by_label("Your name").fill("Rose Askew")
    first.get_by_role("button", name="Accept what you chose").click()
    expect(first.get_by_text("say which of them is accepted")).to_be_visible()
    first.get_by_label("Option B:").check()
    first.get_by_role("button", name="Accept what you chose").click()
    expect(first.get_by_text("Rose Askew accepted option B of this quote on")).to_be_visible()
    second.locator("#answer").get_by_label("Your name").fill("Rose Askew")
    second.get_by_role("button", name="Decline it").click()
    expect(second.get_by_text("what you sent just now changed nothing")).to_be_visible()
    expect(second.get_by_text("Rose Askew accepted option B of this quote on")).to_be_visible()
    desk.goto(quote)
    expect(desk.get_by_text("accepted there")).to_be_visible()

    # declined; made anew; withdrawn; tampered with
    old, link = private_link(desk, other), private_link(desk, other)
    expect(on_telephone(browser, old).get_by_text("The studio has withdrawn it.")).to_be_visible()
    page = on_telephone(browser, link, java_script_enabled=False)
    desk.goto(other)
    desk.get_by_role("button", name="Withdraw it").click()
    page.get_by_label("Your name").fill("Orla")
    page.get_by_role("button", name="Decline it").click()
    expect(page.get_by_text("This link is closed")).to_be_visible()
    page.goto(link[:-2] + ("A" if link[-2] != "A" else "B") + "/")
    expect(page.get_by_text("This address opens nothing")).to_be_visible()
    page.goto(private_link(desk, other))
    page.get_by_label("Your name").fill("Orla")
    page.get_by_label("Anything to say with it").fill("Another time")
    page.get_by_role("button", name="Decline it").click()
    expect(page.get_by_text("Orla declined this quote on")).to_be_visible()
    desk.goto(other)
    expect(desk.get_by_text("“Another time”")).to_be_visible()
