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

from studio.whole.demo import PASSWORDS
from tests.chromium import chromium, log_in
from tests.serving import manage, own_database, served

HOME = Path(__file__).resolve().parent.parent
OUT = HOME / ".pictures"
WIDTHS = (1280, 768, 360)
OWNER_PAGES = {
    "today": "/", "jobs": "/jobs/", "customers": "/jobs/customers/", "new-order": "/jobs/new/", "enquiry": "/jobs/9/", "order": "/jobs/9/order/",
    "customer": "/jobs/customers/7/", "contact": "/jobs/customers/7/contacts/1/", "forgotten": "/jobs/customers/3/",
    "merge": "/jobs/customers/1/merge/?into=7", "forget": "/jobs/customers/6/forget/",
    "sample-approved": "/jobs/6/samples/16/", "sample": "/jobs/7/samples/2/",
    "quoted": "/jobs/7/", "quote-page": "/quotes/7/", "matched": "/jobs/10/",
    "matched-order": "/jobs/10/order/", "site": "/jobs/10/site/2/", "photographs": "/jobs/10/photographs/", "offcuts": "/stockroom/offcuts/", "booked": "/jobs/5/", "on-the-bench": "/jobs/4/", "finished": "/jobs/3/",
    "finishes": "/finishes/", "finish": "/finishes/foxed-harbour/", "recipe": "/finishes/foxed-harbour/3/",
    "draft": "/finishes/smoke-veil/3/", "changes": "/finishes/foxed-harbour/1/3/", "solutions": "/finishes/solutions/",
    "solution": "/finishes/solutions/silver-part-sprayed/1/", "stockroom": "/stockroom/", "starting-shelf": "/stockroom/starting-shelf/", "unclassed": "/stockroom/unclassed/",
    "material": "/stockroom/silver-nitrate/", "lot": "/stockroom/lots/6/", "house": "/studio/", "rates": "/studio/rates/",
    "people": "/studio/people/", "person": "/studio/people/2/", "record-of-changes": "/studio/changes/", "going-on": "/going-on/", "find": "/find/?q=salt",
    "guides": "/guides/", "cautions": "/guides/cautions/",
    "guide": "/guides/sizes/", "guide-finish": "/guides/a-finish/", "new-material": "/stockroom/new/", "edit-material": "/stockroom/silver-nitrate/edit/", "missing": "/nothing-here/",
    "edit": "/finishes/ember-edge/4/edit/", "edit-step": "/finishes/ember-edge/4/edit/?step=5", "new-finish": "/finishes/new/",
    "finish-branches": "/finishes/smoke-veil/", "promoted": "/finishes/smoke-veil/4/", "solution-new": "/finishes/solutions/new/",
    "solution-tree": "/finishes/solutions/silvering-pour/1/?volume=750+mL", "strengths": "/finishes/strengths/?material=ammonia-solution-28&amount=28&way=%25+w%2Fw&wanted=1&wanted_way=mol%2FL&volume=750+mL",
    "ratio": "/finishes/strengths/?wanted=1%3A32&volume=750+mL", "used-by": "/finishes/foxed-harbour/2/used/",
    "silver": "/finishes/foxed-harbour/3/silver/", "job-silver": "/jobs/3/silver/", "bigger": "/finishes/foxed-harbour/3/bigger/?panes=2&size=1100+x+1900+mm&glass=clear-float-6-mm",
    **{f"start-{stage}": f"/start/{stage}/" for stage in ("studio", "rates", "hands", "materials", "delivery", "finishes")},
    "note": "/stockroom/receive/note/", "receive": "/stockroom/receive/", "deliveries": "/stockroom/deliveries/", "storage": "/stockroom/storage/", "counts": "/stockroom/counts/", "count": "/stockroom/counts/1/",
    "containers": "/stockroom/waste/", "container": "/stockroom/waste/2/", "labels": "/stockroom/labels/", "buying": "/stockroom/buying/", "awaited": "/stockroom/buying/awaited/",
    "silver-account": "/stockroom/silver-account/", "owed": "/jobs/money/owed/", "requests": "/jobs/money/requests/", "month": "/jobs/money/month/?first=2026-10-01&last=2026-10-31",
    "job-requests": "/jobs/3/requests/", "month-stock": "/jobs/money/month/stock/", "trace-lot": "/stockroom/lots/6/trace/", "trace-job": "/jobs/3/trace/",
    "uses": "/finishes/uses/silver-nitrate/", "swatch-book": "/swatch-book/", "one-change": "/finishes/smoke-veil/one-change/", "find-value": "/find/?q=double+strength",
}
HELPER_PAGES = {"helper-today": "/", "account": "/account/", "second-step": "/account/second-step/", "bench": "/bench/", "runs": "/bench/runs/", "run": "/bench/4/", "run-finished": "/bench/1/", "finish-run": "/bench/4/finish/", "from-paper": "/bench/4/from-paper/",
                "not-yours": "/jobs/", "trials": "/finishes/trials/", "try": "/finishes/smoke-veil/2/try/", "further": "/finishes/trials/6/further/",
                "trial-open": "/finishes/trials/9/", "trial-closed": "/finishes/trials/6/", "crop": "/finishes/trials/photographs/1/crop/",
                "compare": "/finishes/compare/?of=6&of=8&of=smoke-veil/2", "compare-pair": "/finishes/compare/?of=1&of=3"}
PAPERS = {"quote": "/quotes/7/paper.pdf", "samples": "/quotes/6/samples.pdf", "quote-lines": "/quotes/3/paper.pdf", "ticket": "/tickets/4/paper.pdf", "pane-labels": "/bench/4/pane-labels.pdf",
          "bench-card": "/finishes/solutions/silvering-pour/1/bench-card.pdf?volume=400+mL",
          "label-silver": "/finishes/solutions/silver-part-sprayed/1/label.pdf?volume=750+mL", "label-tin": "/finishes/solutions/tin-stock/1/label.pdf?volume=500+mL",
          "label-medium": "/finishes/solutions/antiquing-gel-diluted/1/label.pdf?volume=5+L", "swatch-paper": "/swatch-book/paper.pdf",
          "count-sheet": "/stockroom/counts/1/sheet.pdf", "labels-a4": "/stockroom/labels/labels.pdf?size=a4-21&suppliers_label=on&start=2&" + "&".join(f"lot={n}" for n in range(1, 25)),
          "labels-large": "/stockroom/labels/labels.pdf?size=tag-a6&lot=6&lot=7&lot=12&lot=20", "label-roll": "/stockroom/labels/labels.pdf?size=roll-74&suppliers_label=on&lot=6",
          "buying-paper": "/stockroom/buying/?as=pdf", "trace-paper": "/stockroom/lots/6/trace/?as=pdf", "request-paper": "/jobs/money/requests/1/paper.pdf",
          "trace-job-paper": "/jobs/3/trace/?as=pdf"}


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
        tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_pictures", "demo") as environment,
        served(environment) as address,
    ):
        with chromium() as browser:
            pages(browser, address, "maud", OWNER_PAGES)
            pages(browser, address, "teo", HELPER_PAGES)
            papers(browser, address)
        print(manage(environment, "audit"), end="")
    print(f"{len(list(OUT.glob('*.png')))} pictures in {OUT.name}")


if __name__ == "__main__":
    main()
