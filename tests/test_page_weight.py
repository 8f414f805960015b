"""What a browser fetches for a page: all of it the first time, and only the page itself after that."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from tests.chromium import at_desk

COLD_BYTES, WARM_BYTES = 150_000, 30_000


def fetched_bytes(page: Page, address: str) -> int:
    """Return how many bytes came over the network for one page, heads included."""
    sizes: list[float] = []
    seen = page.context.new_cdp_session(page)
    seen.send("Network.enable")
    seen.on("Network.loadingFinished", lambda told: sizes.append(told["encodedDataLength"]))
    page.goto(address)
    page.wait_for_load_state("networkidle")
    page.evaluate("document.fonts.ready")
    seen.detach()
    return int(sum(sizes))


def test_a_page_is_light_and_the_next_one_lighter(demo, browser):
    address, _ = demo
    page = at_desk(browser, address, "maud")
    asked = page.context.new_cdp_session(page)
    for path in ("/", "/jobs/new/", "/jobs/", "/stockroom/"):
        asked.send("Network.clearBrowserCache")
        cold = fetched_bytes(page, f"{address}{path}")
        warm = fetched_bytes(page, f"{address}{path}")
        assert WARM_BYTES / 100 < warm < WARM_BYTES, (path, cold, warm)
        assert WARM_BYTES < cold < COLD_BYTES, (path, cold, warm)


@pytest.mark.parametrize(("path", "pressed"), [("/", True), ("/quotes/7/paper.pdf", False)])
def test_text_is_compressed_and_papers_are_sent_as_they_are(demo, browser, path, pressed):
    address, _ = demo
    page = at_desk(browser, address, "maud")
    answer = page.context.request.get(f"{address}{path}", headers={"Accept-Encoding": "gzip"})
    assert ("content-encoding" in answer.headers) == pressed
