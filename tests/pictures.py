"""Photograph every page at three widths, light and dark, and every paper in colour and grey, into .pictures.

    python -m tests.pictures

It serves a demo of its own, in a folder that is thrown away.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, Page

from studio.demo import PASSWORDS
from tests.chromium import chromium, log_in
from tests.serving import demo_server, manage, own_database

HOME = Path(__file__).resolve().parent.parent
OUT = HOME / ".pictures"
WIDTHS = (1280, 768, 360)
OWNER_PAGES = {
    "today": "/", "jobs": "/jobs/", "new-order": "/jobs/new/", "enquiry": "/jobs/9/", "order": "/jobs/9/order/",
    "quoted": "/jobs/7/", "booked": "/jobs/5/", "on-the-bench": "/jobs/4/", "finished": "/jobs/3/",
    "finishes": "/finishes/", "finish": "/finishes/foxed-harbour/", "recipe": "/finishes/foxed-harbour/3/",
    "draft": "/finishes/smoke-veil/3/", "changes": "/finishes/foxed-harbour/1/3/", "solutions": "/finishes/solutions/",
    "solution": "/finishes/solutions/silver-part-sprayed/1/", "stockroom": "/stockroom/",
    "material": "/stockroom/silver-nitrate/", "lot": "/stockroom/lots/6/", "house": "/house/", "rates": "/house/rates/",
    "people": "/house/people/", "find": "/find/?q=salt", "guides": "/guides/", "cautions": "/guides/cautions/",
    "guide": "/guides/sizes/", "missing": "/nothing-here/",
}
HELPER_PAGES = {"helper-today": "/", "bench": "/bench/", "run": "/bench/4/", "run-finished": "/bench/1/",
                "not-yours": "/jobs/"}
PAPERS = {"quote": "/quotes/7/paper.pdf", "quote-lines": "/quotes/3/paper.pdf", "ticket": "/tickets/4/paper.pdf",
          "bench-card": "/finishes/solutions/silvering-pour/1/bench-card.pdf?volume=400+mL"}


def photograph(page: Page, name: str, address: str) -> None:
    page.goto(address, wait_until="networkidle")
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if wide > 0:
        print(f"{name}: the page scrolls sideways by {wide} px")
    page.screenshot(path=str(OUT / f"{name}.png"), full_page=True)


def pages(browser: Browser, address: str, person: str, wanted: dict[str, str]) -> None:
    for width in WIDTHS:
        for scheme in ("light", "dark"):
            context = browser.new_context(
                viewport={"width": width, "height": 900}, color_scheme="dark" if scheme == "dark" else "light"
            )
            page = context.new_page()
            log_in(page, address, person, PASSWORDS[person])
            for name, path in wanted.items():
                photograph(page, f"{name}-{width}-{scheme}", address + path)
            context.close()


def papers(browser: Browser, address: str) -> None:
    context = browser.new_context()
    page = context.new_page()
    log_in(page, address, "maud", PASSWORDS["maud"])
    for name, path in PAPERS.items():
        content = context.request.get(address + path).body()
        pdf = OUT / f"{name}.pdf"
        pdf.write_bytes(content)
        for grey in ((), ("-gray",)):
            subprocess.run(
                ["pdftoppm", "-r", "80", "-png", *grey, str(pdf), str(OUT / (name + ("-grey" if grey else "")))],
                check=True,
            )


def main() -> None:
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir()
    with (
        tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_pictures") as environment,
        demo_server(environment) as address,
    ):
        with chromium() as browser:
            pages(browser, address, "maud", OWNER_PAGES)
            pages(browser, address, "teo", HELPER_PAGES)
            papers(browser, address)
        print(manage(environment, "audit"), end="")
    print(f"{len(list(OUT.glob('*.png')))} pictures in {OUT.name}")


if __name__ == "__main__":
    main()
