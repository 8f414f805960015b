"""Bad inputs at every kind of door of a real server: no 500, no answer over five seconds, and clean books after.

    python -m tests.attack.bad_inputs [COUNT]

COUNT (10,000 unless said) is how many go to each kind: ids in addresses, what addresses ask for, forms, pasted text, and
what a bench screen sends. A demo of its own is made for it, in a throw-away folder and, on PostgreSQL, a throw-away
database; its server listens on this machine alone. Ends with 1 where something is wrong.
"""

from __future__ import annotations

import http.client
import json
import random
import re
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote, urlencode, urlsplit
from uuid import uuid4

from tests.attack.walk import Answer, Fields, Form, parameters, private_address, walk
from tests.serving import HOME, Environment, manage, own_database, served

COUNT, SLOW_SECONDS, WORKERS, SEED = 10_000, 5.0, 6, 15

#: what is no number, no amount, no date and no name of anything here
NASTY = (
    "1e40000000", "1e-40000000", "9" * 5000, "9" * 30, "-" + "9" * 400, "²", "½²", "１２", "NaN", "Infinity", "-1", "1\x002", "1\r\n2", "0x10",
    "1_000", "--5", "5 kg", "5 sheets", "O.5", "l2", "1/0", "0/0", "31/02/2027", "2027-13-45", "99999-01-01", "0000-00-00", "€ 5", "5 %%",
    "1.000.000,5,5", "' OR 1=1 --", "<script>alert(1)</script>", "{{ 7*7 }}", "%s%n", "../../etc/passwd", "\u202e", "\ufeff", "🪞" * 50, "a" * 100_000,
    "x" * 300, "", " ", "\t", "None", "true", "[]", "{}", "00000000-0000-0000-0000-000000000000",
)


def spoilt(value: str, dice: random.Random) -> str:
    """Return a value as a slip of the hand, or ill will, makes it."""
    if not value or dice.random() < 0.4:
        return dice.choice(NASTY)
    at = dice.randrange(len(value) + 1)
    return dice.choice((
        value[:at] + dice.choice("0Ol1²，,.-+/%'\"\x00\n ½eE×x") + value[at:], value[:at] + value[at + 1:], value * 2, value[::-1],
        value.replace("0", "O"), value.replace("1", "l"), value.replace(".", ","), value + " or so", "-" + value, value + dice.choice(NASTY)[:200],
        value.translate(str.maketrans("0123456789", "０１２３４５６７８９")), value.upper(), value + " kg", dice.choice(NASTY) + value,
    ))


@dataclass
class Tally:
    sent: int = 0
    broken: Counter[str] = field(default_factory=Counter)
    slow: Counter[str] = field(default_factory=Counter)
    slowest: float = 0.0
    statuses: Counter[int] = field(default_factory=Counter)

    def take(self, where: str, answer: Answer) -> None:
        self.sent += 1
        self.statuses[answer.status] += 1
        self.slowest = max(self.slowest, answer.seconds)
        if answer.status == 500:
            self.broken[where] += 1
        if answer.seconds > SLOW_SECONDS:
            self.slow[where] += 1


class Browser:
    """One person's browser at a server, with its cookies; for one thread."""

    def __init__(self, address: str, cookies: dict[str, str] | None = None) -> None:
        self.netloc = urlsplit(address).netloc
        self.cookies = dict(cookies or {})
        self.there: http.client.HTTPConnection | None = None

    def _send(self, method: str, path: str, body: bytes | None = None, kind: str = "") -> Answer:
        heads = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
                 "X-CSRFToken": self.cookies.get("csrftoken", "")}
        heads |= {"Content-Type": kind} if kind else {}
        begun = time.monotonic()
        for again in (True, False):
            try:
                self.there = self.there or http.client.HTTPConnection(self.netloc, timeout=60)
                self.there.request(method, path, body, heads)
                came = self.there.getresponse()
                text = came.read().decode("utf-8", "replace")
                break
            except (http.client.HTTPException, ConnectionError):
                self.close()
                self.there = None
                if not again:
                    return Answer(status=0, text="the server hung up", seconds=time.monotonic() - begun)
            except TimeoutError:
                self.there = None
                return Answer(status=0, text="no answer", seconds=time.monotonic() - begun)
        for head in came.headers.get_all("Set-Cookie") or []:
            name, _, value = head.partition(";")[0].partition("=")
            self.cookies[name] = value
        return Answer(status=came.status, text=text, seconds=time.monotonic() - begun, moved=came.headers.get("Location", ""))

    def get(self, path: str) -> Answer:
        return self._send("GET", path)

    def post(self, path: str, fields: Fields) -> Answer:
        return self._send("POST", path, urlencode(fields).encode("utf-8", "surrogatepass"), "application/x-www-form-urlencoded")

    def post_json(self, path: str, body: str) -> Answer:
        return self._send("POST", path, body.encode("utf-8", "surrogatepass"), "application/json")

    def close(self) -> None:
        if self.there is not None:
            self.there.close()

    def log_in(self, name: str, password: str) -> None:
        page = self.get("/log-in/")
        token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page.text)
        assert token is not None, page.status
        came = self.post("/log-in/", [("csrfmiddlewaretoken", token[1]), ("username", name), ("password", password)])
        if came.status != 302:
            raise RuntimeError(f"{name} was not let in: {came.status}")


def form_to(text: str, address: str) -> dict[str, str]:
    """Return the hidden values of a page's form that posts to an address; nothing where the page shows none."""
    at = text.find(f'action="{address}"')
    form = text[max(text.rfind("<form", 0, at), 0):text.find("</form>", at)] if at >= 0 else ""
    return dict(re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', form))


class Doors:
    """The kinds of door of a studio, each a function that sends one bad input and says where."""

    def __init__(self, there: dict[str, str], forms: list[Form], patterns: list[str], source: list[str]) -> None:
        self.there, self.patterns = there, patterns
        self.forms = [form for form in forms if form.method == "post" and form.fields]
        self.pasted = [form for form in self.forms if any(kind == "textarea" for _, _, kind in form.fields)]
        self.asked, self.sent = parameters(iter(source))
        self.benches = [path for pattern, path in there.items() if pattern.endswith("/steps/")]

    def ids(self, browser: Browser, dice: random.Random) -> tuple[str, Answer]:
        pattern = dice.choice([pattern for pattern in self.patterns if "<" in pattern])
        path = re.sub(r"<[^>]+>", lambda _: quote(dice.choice(NASTY)[:2000], safe="", errors="replace"), pattern)
        return pattern, browser.get(path) if dice.random() < 0.5 else browser.post(path, self._loose(browser, dice))

    def questions(self, browser: Browser, dice: random.Random) -> tuple[str, Answer]:
        pattern = dice.choice(list(self.there))
        names = dice.sample(self.asked, min(len(self.asked), dice.randint(1, 12)))
        asked = urlencode([(name, dice.choice(NASTY)[:2000]) for name in names], errors="replace")
        return pattern, browser.get(f"{self.there[pattern]}?{asked}")

    def typed(self, browser: Browser, dice: random.Random) -> tuple[str, Answer]:
        if dice.random() < 0.2:
            pattern = dice.choice(list(self.there))
            return pattern, browser.post(self.there[pattern], self._loose(browser, dice))
        form = dice.choice(self.forms)
        return form.pattern, browser.post(form.path, self._spoilt(form, browser, dice, dice.choice((1, 1, 1, 2, 5))))

    def pastes(self, browser: Browser, dice: random.Random) -> tuple[str, Answer]:
        form = dice.choice(self.pasted)
        lines = ["Silver nitrate\tL1\t500 g\t24.00\t2027-03-31", "2 x 4 mm clear float, 3210 x 2250 mm, £210.00", "3 no 610 x 915 mm antique mirror",
                 "Carriage 12.50", "Total 1,234.50", "material;lot;amount;price"]
        text = "\n".join(spoilt(dice.choice(lines), dice)[:3000] for _ in range(dice.randint(1, 12)))
        fields = [(name, text if kind == "textarea" else value) for name, value, kind in form.fields]
        return form.pattern, browser.post(form.path, self._with_token(fields, browser))

    def benches_send(self, browser: Browser, dice: random.Random) -> tuple[str, Answer]:
        path = dice.choice(self.benches)
        one = {"key": str(uuid4()), "at": datetime.now(UTC).isoformat(), "kind": dice.choice(("mixed", "pane", "note", "time", "sheets", "added")),
               "subject": dice.choice(("m1b1", "1.1", "m1b1-²", "m1b1-" + "9" * 5000, "\ud800", "")), "after": "", "by": "teo", "live": True,
               "fields": {name: [dice.choice(NASTY)[:5000] for _ in range(dice.randint(0, 3))]
                          for name in dice.sample(("number", "amount_1", "printed", "outcome", "attempts", "helper", "owner", "put_in", "lot"), 4)}}
        body = {"now": datetime.now(UTC).isoformat(), "records": [one] * dice.randint(0, 3)}
        way = dice.randrange(6)
        if way == 0:
            one[dice.choice(list(one))] = dice.choice((None, 5, [], {}, 1e300, "²", "9" * 5000))  # type: ignore[assignment]
        text = json.dumps(body)
        if way == 1:
            text = text[:dice.randrange(len(text))]
        if way == 2:
            text = dice.choice(("[" * 50_000, '{"now": ' + "9" * 50_000 + "}", "null", "5", '"x"', "NaN", '{"now": 1e999, "records": {}}', ""))
        return f"{path}records/", browser.post_json(f"{path}records/", text)

    def _spoilt(self, form: Form, browser: Browser, dice: random.Random, how_many: int) -> Fields:
        fields = list(form.as_it_stands)
        for _ in range(how_many):
            at = dice.randrange(len(fields))
            fields[at] = (fields[at][0], spoilt(fields[at][1], dice))
        return self._with_token(fields, browser)

    def _loose(self, browser: Browser, dice: random.Random) -> Fields:
        names = dice.sample(self.sent, min(len(self.sent), dice.randint(0, 8)))
        key = [("key", str(uuid4()))] if dice.random() < 0.7 else []
        return self._with_token([*key, *((name, dice.choice(NASTY)[:3000]) for name in names)], browser)

    @staticmethod
    def _with_token(fields: Fields, browser: Browser) -> Fields:
        token = browser.cookies.get("csrftoken", "")
        return [("csrfmiddlewaretoken", token), *((name, value.encode("utf-8", "replace").decode()) for name, value in fields
                                                  if name != "csrfmiddlewaretoken")]


def sources() -> list[str]:
    return [path.read_text(encoding="utf-8") for room in ("studio", "recipes", "jobs") for path in sorted((HOME / room).rglob("*.py"))]


def attack(address: str, count: int, say: Callable[[str], None]) -> dict[str, Tally]:
    """Send so many bad inputs to every kind of door; return a tally of each."""
    import django

    django.setup()
    from django.urls import Resolver404, resolve

    from studio.kit.access import every_address
    from studio.whole.demo import PASSWORDS

    def pattern_of(path: str) -> str:
        try:
            return "/" + str(resolve(urlsplit(path).path).route)
        except Resolver404:
            return ""

    first = Browser(address)
    first.log_in("maud", PASSWORDS["maud"])
    there, forms = walk(first, pattern_of)
    customers = private_address(first, first.cookies["csrftoken"])
    theirs, answers = walk(Browser(address), pattern_of, begins=customers)  # a customer has no cookie
    there, forms = {**there, **theirs}, [*forms, *answers]
    doors = Doors(there, forms, [pattern for pattern, _, _ in every_address() if "log-out" not in pattern], sources())
    say(f"{len(there)} addresses, {len(doors.forms)} forms, {len(doors.pasted)} of them with room for pasted text")
    kinds = {"ids in addresses": doors.ids, "questions of addresses": doors.questions, "forms": doors.typed,
             "pasted text": doors.pastes, "records of the bench": doors.benches_send}
    tallies: dict[str, Tally] = {}
    for kind, send in kinds.items():
        tally = tallies[kind] = Tally()
        lock = threading.Lock()

        def work(worker: int, send: Callable[[Browser, random.Random], tuple[str, Answer]] = send, tally: Tally = tally,
                 lock: threading.Lock = lock, kind: str = kind) -> None:
            dice, browser = random.Random(f"{SEED}/{kind}/{worker}"), Browser(address, first.cookies)
            for _ in range(count // WORKERS + (worker < count % WORKERS)):
                where, answer = send(browser, dice)
                with lock:
                    tally.take(where, answer)
            browser.close()

        threads = [threading.Thread(target=work, args=(worker,)) for worker in range(WORKERS)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        say(f"{kind}: {tally.sent} sent, {sum(tally.broken.values())} broken, {sum(tally.slow.values())} over five seconds")
    first.close()
    return tallies


def table(tallies: dict[str, Tally]) -> str:
    rows = [f"{'door':<24}{'sent':>8}{'500':>6}{'over 5 s':>10}{'slowest s':>11}  answers"]
    for kind, tally in tallies.items():
        answers = ", ".join(f"{status}: {number}" for status, number in sorted(tally.statuses.items()))
        rows.append(f"{kind:<24}{tally.sent:>8}{sum(tally.broken.values()):>6}{sum(tally.slow.values()):>10}{tally.slowest:>11.1f}  {answers}")
        rows += [f"    500 at {where}: {number}" for where, number in tally.broken.most_common(20)]
        rows += [f"    slow at {where}: {number}" for where, number in tally.slow.most_common(20)]
    return "\n".join(rows)


def attack_a_demo(folder: Path, count: int, say: Callable[[str], None]) -> tuple[dict[str, Tally], str]:
    """Attack a demo of its own; return the tallies, and what the audit says after ("" where it is clean)."""
    with own_database(folder, "daybook_bad_inputs", "demo") as environment:
        reads_as(environment)
        with served(environment) as address:
            tallies = attack(address, count, say)
        try:
            manage(environment, "audit")
        except RuntimeError as wrong:
            return tallies, str(wrong)[:4000]
        return tallies, ""


def reads_as(environment: Environment) -> None:
    """Read the program's addresses in this process as that server does, without its database being touched."""
    import os

    os.environ.update({name: environment[name] for name in ("DAYBOOK_DATA", "DJANGO_SETTINGS_MODULE")})


def main() -> int:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else COUNT
    with tempfile.TemporaryDirectory() as folder:
        tallies, audit = attack_a_demo(Path(folder), count, lambda line: print(line, flush=True))
    print(table(tallies))
    print(f"audit: {audit or 'clean'}")
    wrong = audit or any(tally.broken or tally.slow or tally.statuses[0] for tally in tallies.values())
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
