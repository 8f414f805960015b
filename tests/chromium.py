"""Debian's headless Chromium, driven by Playwright: its own download is not to be had everywhere."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO

from playwright.sync_api import Browser, Page, expect, sync_playwright
from pypdf import PdfReader

from studio.whole.demo import PASSWORDS

expect.set_options(timeout=60_000)

QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]


@contextmanager
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        yield browser
        browser.close()


def log_in(page: Page, address: str, name: str, password: str) -> None:
    page.goto(f"{address}/log-in/")
    page.get_by_label("Log-in name").fill(name)
    page.get_by_label("Password", exact=True).fill(password)
    page.get_by_role("button", name="Log in").click()
    page.wait_for_url(f"{address}/")


def at_desk(browser: Browser, address: str, name: str, **more: object) -> Page:
    """Log somebody in on a page of their own."""
    page = browser.new_context(**more).new_page()
    page.set_default_timeout(60_000)
    log_in(page, address, name, PASSWORDS[name])
    return page


def pdf_of(page: Page, address: str, path: str) -> tuple[str, int]:
    """Return a paper's text and its number of pages."""
    reader = PdfReader(BytesIO(page.context.request.get(address + path).body()))
    return " ".join(" ".join(sheet.extract_text().split()) for sheet in reader.pages), len(reader.pages)
