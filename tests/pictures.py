"""Photograph every page at three widths, light and dark, and every paper in colour and grey, into .pictures.

    python -m tests.pictures

It serves a demo of its own, in a folder that is thrown away.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.request import urlopen

from playwright.sync_api import Browser, Page

from studio.demo import PASSWORDS
from tests.chromium import chromium, log_in

HOME = Path(__file__).resolve().parent.parent
OUT = HOME / ".pictures"
WIDTHS = (1280, 768, 360)
OWNER_PAGES = {
    "today": "/", "jobs": "/jobs/", "new-order": "/jobs/new/", "enquiry": "/jobs/9/", "order": "/jobs/9/order/",
    "quoted": "/jobs/7/", "booked": "/jobs/5/", "on-the-bench": "/jobs/4/", "finished": "/jobs/3/",
    "finishes": "/finishes/", "finish": "/finishes/foxed-harbour/", "recipe": "/finishes/foxed-harbour/3/",
    "draft": "/finishes/smoke-veil/3/", "solutions": "/finishes/solutions/",
    "solution": "/finishes/solutions/silver-part-sprayed/1/", "stockroom": "/stockroom/",
    "material": "/stockroom/silver-nitrate/", "lot": "/stockroom/lots/6/", "house": "/house/", "rates": "/house/rates/",
    "people": "/house/people/", "find": "/find/?q=salt", "guides": "/guides/", "cautions": "/guides/cautions/",
    "guide": "/guides/sizes/", "missing": "/nothing-here/",
}
HELPER_PAGES = {"helper-today": "/", "bench": "/bench/", "run": "/bench/4/", "run-finished": "/bench/1/",
                "not-yours": "/jobs/"}
PAPERS = {"quote": "/quotes/7/paper.pdf", "quote-lines": "/quotes/3/paper.pdf", "ticket": "/tickets/4/paper.pdf"}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def manage(environment: dict[str, str], *words: str) -> None:
    subprocess.run([sys.executable, "manage.py", *words], cwd=HOME, env=environment, check=True)


def serve(folder: str) -> tuple[subprocess.Popen[bytes], str, dict[str, str]]:
    """Serve a fresh demo from a data folder; return the server, its address and its environment."""
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    environment = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "SECRET_KEY")}
    environment |= {"DAYBOOK_DATA": f"{folder}/.daybook-demo", "PUBLIC_URL": address}
    for command in (("migrate", "--verbosity", "0"), ("load_demo",), ("demo_people",)):
        manage(environment, *command)
    server = subprocess.Popen(
        [sys.executable, "-m", "waitress", f"--listen=127.0.0.1:{port}", "studio.wsgi:application"], cwd=HOME,
        env=environment,
    )
    for _ in range(100):
        try:
            urlopen(f"{address}/health/", timeout=1).close()
            return server, address, environment
        except OSError:
            time.sleep(0.2)
    raise RuntimeError("The demo server does not answer.")


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
    with tempfile.TemporaryDirectory() as folder:
        server, address, environment = serve(folder)
        try:
            with chromium() as browser:
                pages(browser, address, "maud", OWNER_PAGES)
                pages(browser, address, "teo", HELPER_PAGES)
                papers(browser, address)
            manage(environment, "audit")
        finally:
            server.terminate()
            server.wait(10)
    print(f"{len(list(OUT.glob('*.png')))} pictures in {OUT.name}")


if __name__ == "__main__":
    main()
