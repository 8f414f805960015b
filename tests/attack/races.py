"""Six hands at one moment: `python -m tests.attack.races`.

On the database the environment names (SQLite without DATABASE_URL), in a demo studio of its own, on loopback. At every
keyed door of every page six browsers send at the same moment, first one form six times (one key: one row, one answer),
then six forms of the same page (six keys: as many rows as the rules allow, the others told why). Then races with a right
number of winners: the last of a lot, the number of a quote. No broken page, and the audit finds nothing after.
"""

from __future__ import annotations

import re
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from uuid import uuid4

from tests.attack.bad_inputs import Answer, Browser, form_to, reads_as
from tests.attack.walk import Fields, Form, private_address, walk
from tests.serving import Environment, manage, own_database, served

HANDS = 6
#: so many forms of one kind of address
AN_ADDRESS = 2
FINE = {200, 302, 405, 422, 503}
_LOT = """
from studio.stockroom.models import Lot
lot = Lot.objects.filter(material__stock_unit="mL", state="usable", level__on_hand__gt=10).order_by("level__on_hand").first()
print(lot.pk, lot.level.on_hand)
"""
_LEFT = "from studio.stockroom.models import Lot\nprint(Lot.objects.get(pk={lot}).level.on_hand)"
_ANSWERS = ("from jobs.models import CustomerAnswer, QuoteLink\n"
            "newest = QuoteLink.objects.order_by('-pk').first()\nprint(CustomerAnswer.objects.filter(link=newest).count())")
_NUMBERS = "from jobs.models import Quote\nprint(*Quote.objects.order_by('pk').values_list('number', 'revision'), sep='|')"


def at_once(hands: Sequence[Browser], sends: Sequence[Callable[[Browser], Answer]]) -> list[Answer]:
    """Let each hand send at one moment; return their answers in the order of the hands."""
    together = threading.Barrier(len(hands))
    answers: dict[int, Answer] = {}

    def press(at: int) -> None:
        together.wait(60)
        answers[at] = sends[at](hands[at])

    threads = [threading.Thread(target=press, args=(at,)) for at in range(len(hands))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [answers[at] for at in range(len(hands))]


def _posts(path: str, fields: Fields) -> Callable[[Browser], Answer]:
    return lambda hand: hand.post(path, fields)


def _keyed(fields: Fields, key: str) -> Fields:
    return [(name, key if name == "key" else value) for name, value in fields]


def doors_of(owner: Browser) -> list[tuple[Form, Fields]]:
    """Return a studio's keyed forms, each filled in as somebody would."""
    from tests.whole import test_sent_twice as pressed
    from tests.whole.test_bad_inputs import pattern_of

    _, forms = walk(owner, pattern_of, more={"/jobs/<int:number>/": 12})
    orders = {"new_customer": "Ida Moss", "title": "Raced", "lines-0-size_text": "610 x 915 mm", "lines-0-quantity": "1", **pressed._chosen(owner)}
    seen: Counter[str] = Counter()
    found = []
    for at, form in enumerate(forms):
        keyed = form.method == "post" and any(name == "key" for name, _, _ in form.fields)
        if not keyed or form.path.startswith(pressed.NO_DOORS) or form.path.split("#")[0].endswith("/check/"):
            continue
        seen[form.pattern] += 1
        if seen[form.pattern] <= AN_ADDRESS:
            typed = [(name, value) for name, value in pressed.filled(form, at, orders) if name != "csrfmiddlewaretoken"]
            found.append((form, [("csrfmiddlewaretoken", owner.cookies["csrftoken"]), *typed]))
    return found


def every_door(environment: Environment, owner: Browser, hands: Sequence[Browser], say: Callable[[str], None]) -> list[str]:
    """Race six-fold at every keyed door; return what went wrong."""
    from tests.whole.test_sent_twice import rows_of

    wrong: list[str] = []
    counts: Counter[str] = Counter()
    doors = doors_of(owner)
    for form, fields in doors:
        key = dict(fields)["key"]
        same = at_once(hands, [_posts(form.path, fields)] * HANDS)
        rows = rows_of(environment, key)
        ends = {(answer.status, answer.moved) for answer in same}
        if {answer.status for answer in same} - FINE or max(rows.values(), default=1) > 1:
            wrong.append(f"one form at {form.path}: {sorted(ends)}, rows {rows}")
        elif len(ends) > 1:
            wrong.append(f"one form at {form.path} was answered in {len(ends)} ways: {sorted(ends)}")
        counts["the same form"] += HANDS
        keys = [str(uuid4()) for _ in hands]
        other = at_once(hands, [_posts(form.path, _keyed(fields, mine)) for mine in keys])
        if {answer.status for answer in other} - FINE or max(rows_of(environment, *keys).values(), default=1) > 1:
            wrong.append(f"six forms at {form.path}: {sorted((answer.status, answer.moved) for answer in other)}")
        counts["forms of their own"] += HANDS
        counts["busy, in words"] += sum(answer.status == 503 for answer in (*same, *other))
    say(f"{len(doors)} doors: " + ", ".join(f"{number} {name}" for name, number in counts.items()))
    return wrong


def last_of_a_lot(environment: Environment, hands: Sequence[Browser], say: Callable[[str], None]) -> list[str]:
    """Six take 0.3 of what is left of a lot at one moment: three get it, and the level is what they left."""
    lot, level = manage(environment, "shell", "--no-imports", "-c", _LOT).split()
    on_hand = float(level)
    each = round(on_hand * 0.3, 3)
    where = f"/stockroom/lots/{lot}/discard/"
    forms = [form_to(hand.get(f"/stockroom/lots/{lot}/").text, where) for hand in hands]
    answers = at_once(hands, [_posts(where, [*form.items(), ("amount", f"{each} mL"), ("why", "raced")]) for form in forms])
    left = float(manage(environment, "shell", "--no-imports", "-c", _LEFT.format(lot=lot)))
    won = sum(answer.status == 302 for answer in answers)
    say(f"the last of a lot: {won} of {HANDS} got 0.3 of it, {left:g} of {on_hand:g} mL left")
    right = won <= 3 and abs(on_hand - won * each - left) < 0.001
    return [] if right and (won == 3 or any(answer.status == 503 for answer in answers)) else [
        f"the last of a lot: {won} got it, {left} of {on_hand} mL are left"]


def numbers_of_quotes(environment: Environment, say: Callable[[str], None]) -> list[str]:
    numbers = manage(environment, "shell", "--no-imports", "-c", _NUMBERS).strip().split("|")
    say(f"{len(numbers)} quotes, {len(set(numbers))} numbers")
    return [] if len(numbers) == len(set(numbers)) else ["two quotes have one number"]


def one_answer(environment: Environment, address: str, owner: Browser, say: Callable[[str], None]) -> list[str]:
    """Six answer one quote at its private address at one moment, some yes and some no: one answer is kept."""
    path = private_address(owner, owner.cookies["csrftoken"])
    hands = [Browser(address) for _ in range(HANDS)]  # customers: without a cookie
    text = hands[0].get(path).text
    form = form_to(text, f"{path}#answer")
    choice = re.search(r'name="choice" value="([^"]+)"', text)
    answers = at_once(hands, [_posts(path, [
        *form.items(), ("name", f"Customer {at}"), ("said", ""), ("answer", "accept" if at % 2 else "decline"),
        ("choice", choice[1] if choice else ""),
    ]) for at in range(HANDS)])
    kept = int(manage(environment, "shell", "--no-imports", "-c", _ANSWERS).split()[-1])
    statuses = sorted(answer.status for answer in answers)
    say(f"one quote answered by {HANDS} at once: {statuses}, {kept} kept")
    fine = kept == 1 and set(statuses) <= {302, 409, 422, 503} and statuses.count(302) == 1
    return [] if fine else [f"one quote answered by {HANDS} at once: {statuses}, {kept} kept"]


def main() -> int:
    with tempfile.TemporaryDirectory() as folder, own_database(Path(folder), "daybook_races", "demo") as environment:
        reads_as(environment)
        import django

        django.setup()
        from studio.whole.demo import PASSWORDS

        def say(line: str) -> None:
            print(line, flush=True)

        with served(environment) as address:
            owner = Browser(address)
            owner.log_in("maud", PASSWORDS["maud"])
            hands = [Browser(address, owner.cookies) for _ in range(HANDS)]
            wrong = last_of_a_lot(environment, hands, say)
            wrong += one_answer(environment, address, owner, say)
            wrong += every_door(environment, owner, hands, say)
            wrong += numbers_of_quotes(environment, say)
        for line in wrong:
            print(line)
        print(manage(environment, "audit").strip())
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
