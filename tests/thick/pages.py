"""Every page of the two studios that are measured: addresses that both have, and what is sent while somebody types."""

from __future__ import annotations

from tests.pictures import HELPER_PAGES, OWNER_PAGES, PAPERS

#: pages that render, solve or estimate, each with the most CPU it may take, in milliseconds
LIMITS = {
    "price while typing, one line": 100,
    **dict.fromkeys(PAPERS, 6000),
    "bigger": 400, "swatch-book": 400, "sooner": 3000, "readable-day": 3000, "matched-order": 400, "order": 400,
    "photographs-of-trial": 400,
}
MORE = {
    "jobs-page-2": "/jobs/?page=2", "jobs-of-a-customer": "/jobs/?customer=1", "jobs-delivered": "/jobs/?state=delivered",
    "jobs-asked": "/jobs/?q=mirror", "jobs-quoted": "/jobs/?state=quoted", "week": "/week/", "week-seen": "/week/seen/",
    "week-job": "/week/jobs/5/", "week-away": "/week/away/", "week-feed": "/week/feed/",
    "owed-csv": "/jobs/money/owed.csv", "customer-merge": "/jobs/customers/1/merge/", "export": "/jobs/customers/1/export.zip",
    "read-back": "/studio/read-back/", "price-contents": "/guides/sizes/", "prices": "/stockroom/prices/",
    "runs": "/bench/runs/", "runs-ended": "/bench/runs/?state=ended", "steps": "/bench/4/steps/",
    "steps-state": "/bench/4/steps/state/", "trial-steps": "/finishes/trials/9/steps/", "correct": "/bench/1/correct/",
    "leftover": "/bench/1/leftover/", "mix-ahead": "/finishes/solutions/tin-stock/1/mix-ahead/",
    "one-change-2": "/finishes/ridge-water/one-change/", "water": "/stockroom/distilled-water/",
    "month-jobs": "/jobs/money/month/requests/?first=2026-10-01&last=2026-10-31", "undo": "/jobs/1/undo/",
    "lots-csv": "/stockroom/tables/lots.csv", "movements-csv": "/stockroom/tables/movements.csv",
    "find-words": "/find/?q=mirror+bar", "find-number": "/find/?q=4", "find-name": "/find/?q=harbour", "find-empty": "/find/",
    "solution-edit": "/finishes/solutions/silvering-pour/1/edit/", "health": "/health/", "revise": "/jobs/5/order/",
    "receive-one": "/stockroom/silver-nitrate/receive/", "compare-none": "/finishes/compare/",
}
PAGES = {**OWNER_PAGES, **HELPER_PAGES, **MORE, **PAPERS}
