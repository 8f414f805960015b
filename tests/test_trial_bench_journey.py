"""A trial in a browser on a phone: the network goes in the middle, and nothing that it showed as recorded is lost."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from tests.chromium import at_desk
from tests.test_bench_journey import PHONE, go, tick_all


def wait_until_kept(page: Page) -> None:
    """Wait until the phone holds the page, and the script that gives it without a network is at work."""
    there = "caches.match(location.pathname).then(page => Boolean(page && navigator.serviceWorker.controller))"
    for _ in range(150):
        if page.evaluate(there):
            return
        page.wait_for_timeout(100)
    raise AssertionError("the page was not kept")


def test_the_network_is_lost_in_the_middle_of_a_trial_and_nothing_else_is(browser, demo):
    address, _ = demo
    page = at_desk(browser, address, "teo", viewport=PHONE)
    page.goto(f"{address}/finishes/trials/?verdict=open")
    page.get_by_role("link", name=re.compile(r"^Trial \d+")).first.click()
    page.get_by_role("link", name="At the bench, one step at a time").click()
    expect(page.locator("[data-line]")).to_contain_text("Connected")
    wait_until_kept(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    step = page.locator("[data-kind='step']:has([data-begins])").first.get_attribute("id")
    mix = page.locator("[data-kind='mix']:has([data-silver])").first.get_attribute("id")
    page.context.set_offline(True)
    expect(page.locator("[data-line]")).to_contain_text("Not connected")

    # the ammoniacal mix: its clock runs on the phone from the tick at which silver and ammonia are both in
    tick_all(page, mix)
    expect(page.locator("#clock [data-stood]")).to_contain_text("0 min")
    page.locator(f"#{mix} .onward.when-open").click()
    expect(page.locator("[data-line]")).to_contain_text("ticks kept here")
    go(page, step)
    page.locator(f"#{step} [data-begins]").click()
    expect(page.locator(f"#{step} .timer")).to_have_class("timer runs")
    go(page, "photographs")
    page.locator("#photograph-front").set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": b"x"})
    page.get_by_role("button", name="Keep the front").click()
    expect(page.locator("#photographs [data-refusal]")).to_contain_text("A photograph needs the network")

    page.reload()
    go(page, step)
    expect(page.locator(f"#{step} .timer")).to_have_class("timer runs")
    expect(page.locator(f"[id='{mix}'] [data-words]").first).to_contain_text("kept here")

    page.context.set_offline(False)
    expect(page.locator("[data-line]")).to_contain_text("Connected")
    expect(page.locator("[data-line]")).not_to_contain_text("kept here")
    go(page, mix)
    expect(page.locator(f"#{mix} [data-words]").first).to_contain_text("Mixed as written")
    expect(page.locator("#clock .say")).to_contain_text("Made safe by")
    page.get_by_role("link", name="Made safe…").first.click()
    expect(page.locator("#made-safe")).to_contain_text("written procedure")
    page.context.close()
