"""A double click: the same form twice at the same moment, at every door with a key. One row, and the same answer twice."""

from __future__ import annotations

import re
import sqlite3
import threading
from collections import Counter
from contextlib import closing
from pathlib import Path
from uuid import UUID, uuid4

import psycopg
import pytest
from django.apps import apps
from django.db import models

from studio.whole.demo import PASSWORDS
from tests.attack.bad_inputs import Browser
from tests.attack.walk import Form, walk
from tests.serving import served
from tests.whole.test_bad_inputs import pattern_of

#: what is typed where a form comes empty, by the name of its field
TYPED = {
    "supplier": "Ridley", "cost_with_carriage": "12.50", "carriage": "0", "why": "a double click", "text": "a double click", "because": "a double click",
    "took": "5 min", "helper": "5", "owner": "5", "volume": "50 mL", "size": "300 x 400 mm", "what": "first rinse", "silver": "0", "ph": "7",
    "note": "a double click",
}
#: and where it is another amount
AMOUNTS = {"/stockroom/lots/": "1 g", "/receive/": "500 mL", "/came-in/": "5", "/buying/": "500 g"}
#: doors that must have been taken; the rest may refuse, both times alike
TAKEN = {
    "/stockroom/<slug:code>/receive/", "/stockroom/receive/", "/stockroom/counts/", "/stockroom/lots/<int:pk>/hold/", "/stockroom/lots/<int:pk>/discard/",
    "/stockroom/buying/ordered/", "/stockroom/offcuts/", "/stockroom/waste/<int:pk>/put-in/", "/finishes/solutions/<slug:code>/<int:number>/mix-ahead/",
    "/jobs/<int:number>/again/", "/jobs/<int:number>/came-in/<slug:what>/", "/jobs/<int:number>/quote/", "/jobs/<int:number>/undo/<int:pk>/",
    "/bench/<int:pk>/steps/record/", "/bench/<int:pk>/conditions/", "/bench/<int:pk>/mixes/<slug:key>/", "/bench/<int:pk>/note/", "/bench/<int:pk>/time/",
    "/finishes/trials/<int:number>/note/", "/finishes/trials/<int:number>/timing/", "/finishes/trials/<int:number>/stock/", "/jobs/new/",
}
#: so many forms of one address, for one server and for two: a run has a form for each of its mixes
A_PATTERN = {1: 3, 2: 1}
#: a part of a page that is worked out again, and keeps nothing
NO_DOORS = ("/jobs/price", "/jobs/lines/", "/week/ready/", "/check/")


def filled(form: Form, at: int, orders: dict[str, str]) -> list[tuple[str, str]]:
    fields = []
    for name, value, _ in form.fields:
        if name == "key":
            value = str(uuid4())
        elif not value.strip():
            value = TYPED.get(name, "")
            if name == "amount":
                value = next((amount for part, amount in AMOUNTS.items() if part in form.path), "")
            elif name == "lot_number":
                value = f"D{at}"
            elif name == "table":
                value = f"Silver nitrate\tE{at}\t500 g\t350.00"
            elif form.pattern == "/jobs/new/" or form.pattern.endswith("/offcuts/"):
                value = orders.get(name, value)
        fields.append((name, value))
    return [*fields, ("none_apply", "on")] if form.pattern.endswith("/put-in/") else fields


def rows_of(environment: dict[str, str], *keys: str) -> dict[str, int]:
    """Return by table how many rows carry a form's key; of several keys, how many the most carried one has."""
    found = {}
    url = environment.get("DATABASE_URL")
    asked_for = [UUID(key) if url else UUID(key).hex for key in keys]
    marks = ", ".join(["%s" if url else "?"] * len(keys))
    with closing(psycopg.connect(url) if url else
                 sqlite3.connect(Path(environment["DAYBOOK_DATA"]) / "daybook.sqlite3")) as there:
        for model in apps.get_models():
            for column in (field.column for field in model._meta.local_fields if isinstance(field, models.UUIDField) and "key" in field.name):
                counts = there.execute(f'SELECT count(*) FROM "{model._meta.db_table}" WHERE "{column}" IN ({marks}) '
                                       f'GROUP BY "{column}"', asked_for).fetchall()
                if counts:
                    found[f"{model._meta.db_table}.{column}"] = max(count for (count,) in counts)
    return found


@pytest.mark.parametrize("processes", [1, 2])
def test_a_double_click_is_one_row_and_the_same_answer_twice(demo, processes):
    """Of two servers of one studio each knows its own turns: there is one row, but the second may be told so."""
    address, environment = demo
    if processes == 1:
        assert _click_twice_everywhere(environment, address, address, A_PATTERN[1]) == []
    else:
        with served(environment) as another:
            _click_twice_everywhere(environment, address, another, A_PATTERN[2])


def _click_twice_everywhere(environment: dict[str, str], one: str, other: str, of_a_pattern: int) -> list[tuple[str, ...]]:
    """Send every keyed form twice at once; return where the two answers differ. Never two rows, never a broken page."""
    owner = Browser(one)
    owner.log_in("maud", PASSWORDS["maud"])
    _, forms = walk(owner, pattern_of, more={"/jobs/<int:number>/": 12})
    orders = {"new_customer": "Ida Moss", "title": "Twice", "lines-0-size_text": "610 x 915 mm", "lines-0-quantity": "1", **_chosen(owner)}
    hands = [Browser(one, owner.cookies), Browser(other, owner.cookies)]
    unlike, wrong, taken = [], [], set()
    doors = [form for form in forms if form.method == "post" and any(name == "key" for name, _, _ in form.fields)
             and not form.path.startswith(NO_DOORS) and not form.path.split("#")[0].endswith("/check/")]
    seen: Counter[str] = Counter()
    for at, form in enumerate(doors):
        seen[form.pattern] += 1
        if seen[form.pattern] > of_a_pattern:
            continue
        fields = [("csrfmiddlewaretoken", owner.cookies["csrftoken"]), *((name, value) for name, value in filled(form, at, orders) if name != "csrfmiddlewaretoken")]
        answers = {}
        together = threading.Barrier(2)

        def press(hand: int, path: str = form.path, fields: list[tuple[str, str]] = fields, answers: dict = answers, together: threading.Barrier = together) -> None:
            together.wait()
            answers[hand] = hands[hand].post(path, fields)

        threads = [threading.Thread(target=press, args=(hand,)) for hand in (0, 1)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        first, second = answers[0], answers[1]
        rows = rows_of(environment, dict(fields)["key"])
        if {first.status, second.status} - {200, 302, 405, 422, 503} or max(rows.values(), default=1) > 1:
            wrong.append((form.path, first.status, second.status, rows))
        if (first.status, first.moved) != (second.status, second.moved):
            unlike.append((form.path, first.status, first.moved, second.status, second.moved))
        if 302 in (first.status, second.status) and rows:
            taken.add(form.pattern)
    for hand in (*hands, owner):
        hand.close()
    assert wrong == []
    assert taken >= TAKEN, sorted(TAKEN - taken)
    return unlike


def _chosen(owner: Browser) -> dict[str, str]:
    """Return the first of each list that an order's line and an offcut choose from."""
    chosen = {}
    for path, names in (("/jobs/new/", ("recipe_version", "glass", "edge")), ("/stockroom/offcuts/", ("material",))):
        page = owner.get(path).text
        for name in names:
            field = f"lines-0-{name}" if path == "/jobs/new/" else name
            options = re.search(rf'<select[^>]*name="{field}".*?</select>', page, re.S)
            values = re.findall(r'<option value="([^"]+)"', options[0]) if options else [""]
            chosen[field] = values[0] if values else ""
    return chosen
