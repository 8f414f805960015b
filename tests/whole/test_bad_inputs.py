"""Every address of the studio, asked and sent what nobody should: always a page with words, never one that broke."""

from __future__ import annotations

import re
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import quote, urlencode, urlsplit

from django.urls import Resolver404, resolve

from studio.kit.access import every_address
from studio.whole.demo import PASSWORDS
from tests.attack.bad_inputs import Browser, sources
from tests.attack.walk import parameters, walk

#: as many as matter: each must be refused by whatever reads it
BAD = ("1e40000000", "9" * 5000, "²", "5 kg", "NaN", "1\x002", "31/02/2027", "１２", "1\r\n2", "-1", "a" * 20_000, "9" * 19, "")
#: what a form needs to be taken for itself
KEPT = {"csrfmiddlewaretoken", "key", "saves", "opened"}
#: single fields of a form that are spoilt, spread over all of them
FIELDS_A_FORM = 3


def pattern_of(path: str) -> str:
    try:
        return "/" + str(resolve(urlsplit(path).path).route)
    except Resolver404:
        return ""


def test_no_address_breaks_whatever_it_is_asked_or_sent(demo):
    address, environment = demo
    owner = Browser(address)
    owner.log_in("maud", PASSWORDS["maud"])
    there, forms = walk(owner, pattern_of)
    asked, sent = parameters(iter(sources()))
    assert len(there) > 120
    assert {"page", "q", "in", "of", "lot"} <= set(asked)

    token = ("csrfmiddlewaretoken", owner.cookies["csrftoken"])
    doors: list[tuple[str, str, list[tuple[str, str]] | None]] = []
    for at, (pattern, _, _) in enumerate(every_address()):
        path = there.get(pattern) or re.sub(r"<int[^>]+>", "1", re.sub(r"<(?!int)[^>]+>", "a", pattern))
        if "log-out" in pattern or pattern == "/password/":
            continue
        query = urlencode([(name, BAD[(at + turn) % len(BAD)][:3000]) for turn, name in enumerate(asked)])
        doors.append((pattern, f"{path}?{query}", None))
        doors.append((pattern, path, [token, *((name, BAD[(at + turn) % len(BAD)]) for turn, name in enumerate(sent))]))
        if "<" in pattern:
            doors.append((pattern, re.sub(r"<[^>]+>", lambda _: quote(BAD[at % len(BAD)][:3000], safe=""), pattern), None))  # noqa: B023
    for at, form in enumerate(form for form in forms if form.method == "post"):
        own = [(name, value) for name, value in form.as_it_stands if name != "csrfmiddlewaretoken"]
        doors.append((form.pattern, form.path, [token, *((name, value if name in KEPT else BAD[(at + turn) % len(BAD)])
                                                        for turn, (name, value) in enumerate(own))]))
        spoilt = [turn for turn, (name, _) in enumerate(own) if name not in KEPT]
        for step, turn in enumerate(spoilt[::max(len(spoilt) // FIELDS_A_FORM, 1)][:FIELDS_A_FORM]):
            fields = list(own)
            fields[turn] = (own[turn][0], BAD[(at + step) % len(BAD)])
            doors.append((form.pattern, form.path, [token, *fields]))

    own_browser, browsers = threading.local(), {owner}

    def knock(door: tuple[str, str, list[tuple[str, str]] | None]) -> str:
        pattern, path, fields = door
        browser = own_browser.it = getattr(own_browser, "it", None) or Browser(address, owner.cookies)
        browsers.add(browser)
        answer = browser.get(path) if fields is None else browser.post(path, fields)
        wrong = answer.status in (0, 500) or answer.status > 503
        return f"{answer.status} {pattern} {path[:80]} {[(name, value[:12]) for name, value in fields or ()][:40]}" if wrong else ""

    with ThreadPoolExecutor(4) as crowd:
        broken = [said for said in crowd.map(knock, doors) if said]
    for browser in browsers:
        browser.close()
    assert len(doors) > 600
    log = Path(environment["DAYBOOK_DATA"]) / "log" / "daybook.log"
    assert broken == [], log.read_text().rpartition(" ERROR ")[2][:6000] if log.exists() else "no log"
