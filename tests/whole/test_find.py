"""Find: a number leads to its thing, a size to its panes, a word to whatever holds it, and each row says why."""

from __future__ import annotations

import re
from decimal import Decimal
from urllib.parse import quote

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import Customer, CustomerContact, Job, PaneResult, RunEntry
from jobs.money.requests import ask_deposit
from jobs.quotes.quoting import decide, save_quote
from jobs.work.bench import note
from jobs.work.finishing import finish_run
from recipes.trials.conducting import add_note
from studio.house.clock import now, today
from studio.stockroom.lots.keeping import discard, hold_lot
from studio.stockroom.models import Lot, Material, Offcut, Purchase, WasteContainer, WasteEntry
from studio.whole.find.everything import KINDS, everything
from studio.whole.find.wanted import read_wanted
from studio.whole.find.why import marked, why, whys
from tests import builders

Kind = RunEntry.Kind

# What was typed, and why it matched: pure


@pytest.mark.parametrize(("typed", "width", "height", "is_round"), [
    ("610 x 915", "610", "915", False), ("610x915mm", "610", "915", False), ("24 x 36 in", "609.6", "914.4", False),
    ("61 by 91.5 cm", "610", "915", False), ("24 3/8 x 36", "619.125", "914.4", False), ("2' x 3'", "609.6", "914.4", False),
    ("Ø 762 mm", "762", "762", True), ("1.2m x 400", "1200", "400", False),
])
def test_a_size_is_read_as_an_order_reads_it(typed, width, height, is_round):
    size, *_ = read_wanted(typed).sizes
    assert (size.width_mm, size.height_mm, size.is_round) == (Decimal(width), Decimal(height), is_round)


@pytest.mark.parametrize("typed", ["4-1", "L1008", "job 4", "silver", "610", "64-17-5", "box x", "x", "by", "", "   ", "ø", "9 x 0", "1e5 x 3e9 q"])
def test_what_is_no_size_is_read_as_words(typed):
    wanted = read_wanted(typed)
    assert wanted.sizes == ()
    assert wanted.words == tuple(typed.casefold().split())


@given(st.text(max_size=300))
def test_anything_can_be_typed(text):
    wanted = read_wanted(text)
    assert len(wanted.words) <= 8
    assert all(any(part in word for word in wanted.words) and part.isascii() for part in wanted.asked)
    assert wanted.number is None or wanted.number < 10 ** 9


@pytest.mark.parametrize(("units", "width"), [("metric", "24"), ("US", "609.6")])
def test_a_bare_size_is_in_what_the_studio_measures_in(units, width):
    sizes = read_wanted("24 x 36", units).sizes
    assert sizes[0].width_mm == Decimal(width)
    assert {size.width_mm for size in sizes} == {Decimal("24"), Decimal("240"), Decimal("609.6")}, "and in the others"
    assert len(read_wanted("24 x 36 cm", units).sizes) == 1


@given(st.decimals(min_value=-3, max_value=3, places=3), st.booleans())
def test_a_size_holds_either_way_round_within_a_millimetre(off, turned):
    size, pane = read_wanted("610 x 915").sizes[0], (Decimal(610) + off, Decimal(915))
    assert size.holds(*(reversed(pane) if turned else pane), is_round=False) == (abs(off) <= 1)


@given(st.text(max_size=80), st.lists(st.text(min_size=1, max_size=4).map(str.casefold), max_size=4))
def test_pieces_put_together_are_the_text_and_what_is_marked_holds_the_words(text, words):
    pieces = marked(text, words)
    assert "".join(piece for piece, _ in pieces) == text
    for word in words:
        if word and word in text.casefold():
            assert any(is_marked for _, is_marked in pieces)
    for piece, is_marked in pieces:
        assert not is_marked or any(word in piece.casefold() for word in words if word)


def test_marks_go_by_folded_letters():
    assert marked("Straße nach CAFÉ", ["ss", "café"]) == (("Stra", False), ("ß", True), ("e nach ", False), ("CAFÉ", True))


def test_of_a_long_text_the_words_around_are_shown():
    text = " ".join(["before"] * 40 + ["smelled of ammonia at the rim"] + ["after"] * 40)
    shown = why("note", text, ["ammonia"])
    assert ("ammonia", True) in shown.pieces
    assert shown.text.startswith("… before")
    assert shown.text.endswith("after …")
    assert len(shown.text) < 120


def test_the_fewest_fields_that_hold_every_word_say_why():
    fields = [("name", "grey rim"), ("place", "cabinet"), ("note", "rim in the cabinet")]
    assert [one.where for one in whys(fields, ["rim", "cabinet"])] == ["name", "place"]
    assert [one.where for one in whys(fields, ["rim"])] == ["name"]
    assert whys(fields, []) == ()


# Rows, of both databases alike

pytest_db = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def found(typed: str, *, runs_desk: bool = True, **more: object) -> dict[str, list[str]]:
    """Return what is found by group, as titles; under “exact” what a number names."""
    answer = everything(read_wanted(typed), runs_desk=runs_desk, **more)
    groups = {group.key: [hit.title for hit in group.rows] for group in answer.groups}
    return groups | ({"exact": [hit.title for hit in answer.exact]} if answer.exact else {})


def reasons(typed: str, key: str, *, runs_desk: bool = True) -> list[tuple[str, str]]:
    group = next(group for group in everything(read_wanted(typed), runs_desk=runs_desk).groups if group.key == key)
    return [(one.where, one.text) for hit in group.rows for one in hit.why]


@pytest_db
def test_a_number_leads_to_its_thing(shop, owner):
    run = shop.run()
    builders.trial(shop.recipe, owner)
    number = run.ticket.job.number
    job, ticket = f"Job {number}: Hall mirror", f"Ticket {number}-1: Hall mirror"
    assert found(f"job {number}")["exact"] == [job]
    assert found(f"JOB #{number}")["exact"] == [job]
    assert found(f"{number}-1")["exact"] == found(f"Ticket {number}-1")["exact"] == [ticket]
    assert found(f"{number}-1", runs_desk=False)["exact"] == [ticket]
    assert found(f"job {number}", runs_desk=False)["exact"] == [ticket]
    assert found("quote 1")["exact"] == ["Quote 1: Hall mirror"]
    assert "exact" not in found("quote 1", runs_desk=False)
    assert found("s1")["exact"] == found("lot S1")["exact"] == ["Lot S1, Silver nitrate"]
    assert found("trial 1")["exact"] == ["Trial 1, Plain silver"]
    assert found("1")["exact"] == [job, "Quote 1: Hall mirror", "Trial 1, Plain silver"]
    assert found("1", runs_desk=False)["exact"] == [ticket, "Trial 1, Plain silver"]
    assert "exact" not in found("9-9")
    assert "exact" not in found("job 99")


@pytest_db
def test_a_replaced_ticket_leads_to_the_run_that_goes_on(shop, owner, at_owner):
    run = shop.run()
    number = run.ticket.job.number
    Lot.objects.filter(lot_number="S1").update(state="held", hold_reason="looks grey")
    builders.lot(shop.silver, "500", owner, "S2")
    at_owner.post(f"/jobs/{number}/ticket/anew/", {"ticket": 1})
    assert found(f"{number}-1")["exact"] == found(f"{number}-2")["exact"] == [f"Ticket {number}-2: Hall mirror"]


@pytest_db
def test_a_size_finds_panes_and_offcuts_either_way_round(shop, owner):
    on_bench = shop.run(shop.line("610 x 915 mm", 2)).ticket.job
    asked = shop.order(shop.line("914.4 x 609.6 mm", 1), shop.line("700 x 700 mm", 1, number=2))
    shop.order(shop.line("Ø 610 mm", 1))
    Offcut.objects.create(number=3, material=shop.glass, width_mm=Decimal("915.1"), height_mm=Decimal("609.8"), kept_at=now(),
                          kept_by=owner, form_key=builders.key(), place="rack")
    line = f"Job {on_bench.number}, line 1: 610 × 915 mm, Hall mirror"
    other = f"Job {asked.job.number}, line 1: 914.4 × 609.6 mm, Hall mirror"
    for typed in ("610 x 915", "915x610mm", "24 x 36 in", "36 by 24 in", "61 x 91.5", "24 x 36"):
        groups = found(typed)
        assert groups["panes"] == [other, line], typed
        assert groups["offcuts"] == ["Offcut 3, 915.1 × 609.8 mm of Clear 4 mm"], typed
        assert found(typed, runs_desk=False)["panes"] == [line], typed
    assert reasons("610 x 915", "panes")[0] == ("size", "914.4 × 609.6 mm")
    assert "panes" not in found("611.5 x 915")
    assert found("Ø 610 mm")["panes"] == ["Job 3, line 1: Ø 610 mm, Hall mirror"]


@pytest_db
def test_words_are_found_in_every_room_and_the_row_says_where(shop, owner):
    shop.silver.cas_number, shop.silver.storage_place = "7761-88-8", "dark cupboard"
    shop.silver.save()
    job = shop.order(note="Hang it by Lady Day").job
    Customer.objects.update(note="pays late", phone="01234 567890")
    hold_lot(key=builders.key(), lot=shop.silver_lot, by=owner, why="grey specks in the jar")
    Purchase.objects.create(material=shop.water, quantity=Decimal(5000), supplier="Pellworth", ordered_on=today(), form_key=builders.key())
    box = WasteContainer.objects.create(name="Black drum", meant_for="silver rinse", place="yard", opened_on=today())
    WasteEntry.objects.create(container=box, key=builders.key(), at=now(), by=owner, what="first rinse of the foyer", source="Ticket 1-1")
    trial = builders.trial(shop.recipe, owner, question="Softer at the rim?")
    add_note(key=builders.key(), trial=trial, by=owner, text="Hazy along one edge")
    for typed, key, reason in (
        ("lady day", "jobs", ("note", "Hang it by Lady Day")), ("PAYS LATE", "customers", ("note", "pays late")),
        ("567890", "customers", ("telephone", "01234 567890")), ("88-8", "materials", ("CAS number", "7761-88-8")),
        ("dark cupb", "materials", ("place", "dark cupboard")), ("specks", "lots", ("held because", "grey specks in the jar")),
        ("pellworth", "ordered", ("supplier", "Pellworth")), ("foyer", "waste", ("went in", "first rinse of the foyer")),
        ("yard", "waste", ("place", "yard")), ("softer", "trials", ("about it", "Softer at the rim?")),
        ("seamed", "panes", ("edge", "seamed")),
    ):
        assert reason in reasons(typed, key), typed
    assert "hazy along one edge" in dict(reasons("hazy", "trials"))["about it"]
    assert "sprayed" in dict(reasons("sprayed", "versions"))["its values"]
    assert found("plain silv")["finishes"] == ["Plain silver"]
    assert found("plain silv")["versions"] == ["Plain silver, version 1"]
    assert found("just clear")["solutions"] == ["Silver part, version 1"]
    assert found("fenwick hall")["jobs"] == [f"Job {job.number}: Hall mirror"]
    assert found("fenwick nowhere") == {}
    assert found("_") == {}  # no wildcard of the database
    assert found("28 %")["materials"] == ["Ammonia 28 %"]


@pytest_db
def test_a_price_finds_the_quote_and_says_which_sum_it_is(shop, owner, at_owner, at_helper):
    kept = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    save_quote(order=shop.order(shop.line("900 x 915 mm", 3)), by=owner, form_key=builders.key())
    shown = f"{kept.total:,.2f}"
    for typed in (shown, f"€{shown}", f"{kept.total:.2f} EUR", f"{kept.total:.2f}".replace(".", ",")):
        answer = everything(read_wanted(typed, currency="EUR"), runs_desk=True)
        rows = [hit for group in answer.groups if group.key == "quotes" for hit in group.rows]
        assert [(hit.title, hit.why[0].where, hit.why[0].text) for hit in rows] == [
            ("Quote 1: Hall mirror", "total", f"€{shown}")], typed
    assert reasons(str(kept.deposit), "quotes")[0][0] == "deposit"
    assert f"<mark>€{shown}</mark>" in at_owner.get(f"/find/?q={quote(f'€{shown}')}").content.decode()
    assert "€" not in at_helper.get(f"/find/?q={shown}").content.decode()
    assert "quotes" not in found(f"£{shown}")


@pytest_db
def test_states_and_reasons_of_discard_are_found(shop, owner):
    run = shop.run()
    booked, given_up = shop.booked(), shop.order().job
    Job.objects.filter(pk=run.ticket.job_id).update(state="on the bench")
    Job.objects.filter(pk=given_up.pk).update(state="cancelled", cancelled_because="moved abroad")
    Purchase.objects.create(material=shop.water, quantity=Decimal(5), ordered_on=today(), form_key=builders.key(),
                            cancelled_because="too dear")
    Offcut.objects.create(number=3, material=shop.glass, width_mm=Decimal(915), height_mm=Decimal(610), kept_at=now(), kept_by=owner,
                          form_key=builders.key(), gone_at=now(), gone_by=owner, gone_because="Scratched by the trolley")
    discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(1), why="Knocked over at the window")
    name = f"Job {{}}: {run.ticket.job.order.title}"
    for typed, number in (("on the bench", run.ticket.job.number), ("BOOKED", booked.number), ("cancelled", given_up.number)):
        assert found(typed).get("jobs") == [name.format(number)], typed
        assert reasons(typed, "jobs") == [("state", typed.casefold())], typed
    assert reasons("on the bench", "tickets", runs_desk=False) == [("state", "on the bench")]
    assert reasons("cancelled", "ordered") == [("state", "cancelled")]
    assert reasons("accepted", "quotes")[0] == ("state", "accepted")
    assert reasons("window knocked", "lots") == [("discarded because", "Knocked over at the window")]
    assert reasons("trolley", "offcuts") == [("gone because", "Scratched by the trolley")]
    hold_lot(key=builders.key(), lot=shop.silver_lot, by=owner, why="grey")
    assert reasons("held", "lots") == [("state", "held")]


@pytest_db
def test_spoilage_and_notes_of_the_bench(shop, owner):
    run = shop.run(shop.line(quantity=2))
    label = run.ticket.plan["panes"][0]["label"]
    note(run=run, by=owner, client_key=builders.key(), kind=Kind.PANE, subject=label,
         content={"outcome": "spoilt", "attempts": 1, "because": "pinholes near the clip"})
    note(run=run, by=owner, client_key=builders.key(), kind=Kind.NOTE, content={"text": "The kettle tripped the fuse."})
    pane = f"Pane {label}, {run.ticket}: Hall mirror"
    assert found("pinholes", runs_desk=False) == {"spoilt": [pane]}
    assert reasons("pinholes", "spoilt") == [("spoilt because", "pinholes near the clip")]
    assert found("FUSE")["notes"] == [f"{run.ticket}: Hall mirror"]
    note(run=run, by=owner, client_key=builders.key(), kind=Kind.PANE, subject=label,
         content={"outcome": "good", "attempts": 1, "because": ""})
    assert found("pinholes") == {}  # it was recorded anew
    builders.worked(run, owner)
    note(run=run, by=owner, client_key=builders.key(), kind=Kind.PANE, subject=label,
         content={"outcome": "spoilt", "attempts": 1, "because": "a scratch from the rack"})
    finish_run(run=run, by=owner)
    assert PaneResult.objects.filter(label=label, good=False).exists()
    assert found("scratch") == {"spoilt": [pane]}


@pytest_db
def test_letters_outside_the_plain_alphabet_are_found_alike(owner, rates):
    for name in ("Émail blanc", "Weißkreide", "ÄTHANOL"):
        builders.material(name, none_apply=True)
    builders.lot(Material.objects.get(name="ÄTHANOL"), "5", owner, "É-7")
    assert found("émail")["materials"] == found("ÉMAIL BLANC")["materials"] == ["Émail blanc"]
    assert found("äthanol")["materials"] == found("Äthanol")["materials"] == ["ÄTHANOL"]
    assert found("weiß")["materials"] == found("WEISSKREIDE")["materials"] == ["Weißkreide"]
    assert found("ä")["materials"] == ["ÄTHANOL"]
    assert found("é-7")["lots"] == ["Lot É-7, ÄTHANOL"]


@pytest_db
def test_a_helper_finds_no_customer_quote_or_price(shop, owner, at_helper):
    run = shop.run()
    shop.order(note="secret discount")
    Purchase.objects.create(material=shop.water, quantity=Decimal(5000), supplier="Pellworth", ordered_on=today(), form_key=builders.key())
    for typed in ("fenwick", "secret", "ada@fenwick.example", "pellworth"):
        assert found(typed, runs_desk=False) == {}, typed
        page = at_helper.get(f"/find/?q={quote(typed)}").content.decode()
        assert "Nothing holds" in page
    hall = found("hall", runs_desk=False)
    assert hall == {"tickets": [f"{run.ticket}: Hall mirror"]}
    page = at_helper.get("/find/?q=hall").content.decode()
    assert "Ada Fenwick" not in page
    assert "/jobs/" not in page[page.index("<main"):page.index("</main")]
    for kind in (kind.key for kind in KINDS if kind.of_desk):
        assert at_helper.get(f"/find/?q=hall&in={kind}").content.decode().count("<mark>") == 0


@pytest_db
def test_fifty_rows_a_group_and_the_rest_by_address(shop, owner, at_owner):
    for at in range(120):
        builders.lot(shop.water, "5", owner, f"B{at:03}")
    answer = everything(read_wanted("distilled"), runs_desk=True)
    lots = next(group for group in answer.groups if group.key == "lots")
    assert (len(lots.rows), lots.more) == (50, True)
    page = at_owner.get("/find/?q=distilled").content.decode()
    assert "?q=distilled&amp;in=lots&amp;page=2#lots" in page
    seen = [title for number in (1, 2, 3) for title in found("distilled", only="lots", page=number)["lots"]]
    assert len(seen) == len(set(seen)) == 121
    third = at_owner.get("/find/?q=distilled&in=lots&page=3").content.decode()
    assert "page=2#lots" in third
    assert "page=4" not in third
    assert third.count("<li>") >= 21
    for odd in ("0", "-3", "x", "99999", "9" * 30):
        assert at_owner.get(f"/find/?q=distilled&in=lots&page={odd}").status_code == 200
    assert at_owner.get("/find/?q=distilled&in=nothing").status_code == 200


@pytest_db
def test_the_page_marks_what_matched_and_keeps_what_was_typed(shop, at_owner):
    page = at_owner.get("/find/?q=NITRATE").content.decode()
    assert "Silver <mark>nitrate</mark>" in page
    assert 'value="NITRATE"' in page
    assert len(re.findall(r"<h1", page)) == 1
    odd = at_owner.get("/find/?q=%3Cscript%3E%22").content.decode()
    assert "Nothing holds “&lt;script&gt;&quot;”." in odd
    assert "What can be found" in odd
    empty = at_owner.get("/find/").content.decode()
    assert "“610 x 915”" in empty
    assert "Read as 610 × 915 mm" not in empty


@pytest_db
def test_queries_do_not_grow(shop, owner, at_owner, at_helper):
    def asked(client, typed: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            client.get(f"/find/?q={quote(typed)}")
        return len(seen)

    def more() -> None:
        run = shop.run(shop.line("305 x 305 mm", 1))
        note(run=run, by=owner, client_key=builders.key(), kind=Kind.NOTE, content={"text": "silver"})
        save_quote(order=shop.order(), by=owner, form_key=builders.key())
        builders.trial(shop.recipe, owner)
        builders.lot(shop.silver, "5", owner)

    typed = ("silver", "hall", "305 x 305", "1", "job 1", "on the bench", "held", "708.00")
    more()
    for one in typed:
        asked(at_owner, one)
    few = [asked(client, one) for client in (at_owner, at_helper) for one in typed]
    for _ in range(3):
        more()
    asked(at_owner, "silver")  # words of what is new are written at the first search
    assert [asked(client, one) for client in (at_owner, at_helper) for one in typed] == few
    assert max(few) < 50
    assert Job.objects.count() == 8


@pytest_db
def test_a_request_is_found_by_its_number_or_sum_and_a_contact_by_name_for_the_desk_alone(shop, owner, at_helper):
    builders.house(request_prefix="R-", request_first_number=41)
    order = shop.order()
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    row = ask_deposit(job=order.job, by=owner, key=builders.key(), amount=Decimal("105.50"))
    CustomerContact.objects.create(customer=order.customer, name="Marisol Tavarone", role="bills", phone="0100 77")
    named = "Deposit request R-41: Hall mirror"
    for typed in ("R-41", "r-41", "41", "request 41", "request R-41", "deposit request r-41", "deposit 41"):
        assert named in found(typed)["exact"], typed
        assert "exact" not in found(typed, runs_desk=False), typed
    for typed in ("105.50", "r-4", "deposit fenwick", "r-41 hall"):
        assert found(typed)["requests"] == [named], typed
    assert str(row) in named
    assert found("tavarone")["contacts"] == found("0100 77")["contacts"] == ["Marisol Tavarone"]
    for typed in ("R-41", "105.50", "tavarone", "0100 77"):
        page = at_helper.get(f"/find/?q={quote(typed)}").content.decode()
        assert "Nothing holds" in page, typed
        assert found(typed, runs_desk=False) == {}, typed
    assert "exact" not in found("x41")
