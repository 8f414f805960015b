"""Books in and out; the published schema; the estimate from outside."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from jobs.models import Quote, Run
from recipes.models import RecipeVersion, SolutionVersion
from studio.house.kept_files import FileDamaged, keep
from studio.house.models import ChangeRecord, Person, StoredFile
from studio.kit.book_values import amount_text, read_amount
from studio.stockroom.hazards.trade import trade_materials
from studio.stockroom.listed import standing_for
from studio.stockroom.models import Lot, Material, StockMovement
from studio.whole.audit import audit
from studio.whole.book.load import BookError, load_book, load_file, read_book
from studio.whole.book.rooms import SECTIONS
from studio.whole.book.save import book, canonical, save_book
from studio.whole.book.schema import book_schema
from tests import builders
from tests.kept import path_of

BOOK = Path(__file__).resolve().parents[2] / "studio" / "whole" / "demo" / "book.json"
FILES = BOOK.with_suffix(".files")
DOCUMENT = json.loads(BOOK.read_text(encoding="utf-8"))
pytestmark = pytest.mark.django_db


def without_jobs() -> dict:
    """Return the demo's book without what moves: jobs, trials, lots and movements; quick to load."""
    small = copy.deepcopy(DOCUMENT)
    for name in ("jobs", "postings", "lots", "trials", "counts", "purchases", "waste_containers", "makings_safe",
                 "silver_clocks", "money_requests"):
        small[name] = []
    for solution in small["solutions"]:
        for version in solution["versions"]:
            version.pop("made_lots", None)
    for finish in small["finishes"]:
        for version in finish["versions"]:
            version.pop("came_from_trial", None)
    return small


def test_load_of_saved_demo_is_the_demo(tmp_path):
    load_file(BOOK)
    assert audit() == []
    again = book()
    again["written_on"] = DOCUMENT["written_on"]
    assert canonical(again) == canonical(DOCUMENT)
    save_book(tmp_path / "again.json")
    assert {path.name for path in (tmp_path / "again.files").iterdir()} == {f["sha256"] for f in DOCUMENT["files"]}


def test_a_book_that_cannot_be_saved_leaves_the_former_one(tmp_path):
    """Given a book; when saving it anew fails at a row or at a file; then the former stands, and nothing beside it."""
    stored = [keep(f"glass {number}".encode(), name=f"{number}.csv", media_type="text/csv", owner_only=False) for number in (1, 2)]
    target = tmp_path / "studio.json"
    with pytest.raises(FileDamaged), damaged(stored[1]):
        save_book(target)
    assert list(tmp_path.glob("*studio*")) == []
    save_book(target)
    former = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    keep(b"glass 3", name="3.csv", media_type="text/csv", owner_only=False)
    with pytest.raises(FileDamaged), damaged(stored[0]):
        save_book(target)
    assert {path: path.read_bytes() for path in former} == former
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []


@contextmanager
def damaged(stored: StoredFile) -> Iterator[None]:
    kept = path_of(stored.sha256)
    content = kept.read_bytes()
    kept.write_bytes(b"forged")
    try:
        yield
    finally:
        kept.write_bytes(content)


def test_that_a_book_was_loaded_is_one_line_of_the_record_of_changes(tmp_path):
    # given a book, loaded by command: its rows are written many at a time, and tell of themselves nothing
    small = tmp_path / "small.json"
    small.write_text(json.dumps(without_jobs()))
    small.with_suffix(".files").symlink_to(FILES)
    call_command("load_book", str(small))
    # then whoever asks later where all of it came from finds that, and that nobody here did it
    change = ChangeRecord.objects.get()
    assert (change.kind, change.subject, change.by, change.asked_from) == ("settings", "A book", None, "")
    assert change.what.startswith(f"loaded, by command: written on {DOCUMENT['written_on']}")
    # and a book that is refused is told nowhere
    with pytest.raises(CommandError, match="already holds something"):
        call_command("load_book", str(small))
    assert ChangeRecord.objects.count() == 1


def test_the_demo_is_as_large_as_promised():
    load_file(BOOK)
    assert Material.objects.count() >= 25
    assert Lot.objects.count() >= 60
    assert SolutionVersion.objects.count() >= 12
    versions = [len(finish["versions"]) for finish in DOCUMENT["finishes"]]
    assert len(versions) == 8
    assert all(2 <= count <= 4 for count in versions)
    assert {job.get("state", "enquiry") for job in DOCUMENT["jobs"]} == {
        "enquiry", "quoted", "booked", "on the bench", "finished", "delivered", "cancelled"}
    assert len(DOCUMENT["jobs"]) >= 10
    assert Lot.objects.filter(state="held").exists()
    assert any(lot.has_expired(date(2026, 11, 25)) for lot in Lot.objects.select_related("material"))


def test_the_demos_hazards_are_those_of_the_starting_shelf_and_complete():
    load_file(BOOK)
    listed = 0
    for row in Material.objects.exclude(kind="glass sheet"):
        assert row.precautions or not row.hazard_statements, row.name
        assert row.follows.undecided == (), row.name
        wanted = next((one for one in trade_materials() if standing_for(one, [row])), None)
        if wanted is not None:
            listed += 1
            assert (row.hazard_statements, row.statement_categories, row.precautions) == (
                list(wanted.statements), wanted.statement_categories, list(wanted.precautions)), row.name
    assert listed >= 12
    assert not SolutionVersion.objects.filter(mixing_minutes=None).exists()


def test_the_demo_never_grows_old():
    moved_to = date.fromisoformat(DOCUMENT["written_on"]) + timedelta(days=365)
    load_file(BOOK, moved_to)
    assert Quote.objects.get(number=7).valid_until == date.fromisoformat("2026-11-23") + timedelta(days=365)
    assert Quote.objects.get(number=1).basis["as_of"] == "2027-07-29"
    assert audit() == []


def test_a_studio_that_holds_something_is_refused(owner):
    with pytest.raises(BookError, match="already holds something"):
        load_book(without_jobs(), FILES)


@pytest.mark.parametrize(("change", "path"), [
    (lambda b: b["materials"][3].update(density="heavy"), "/materials/3"),
    (lambda b: b["materials"][0].update(cas_number="7732-18-6"), "/materials/0"),
    (lambda b: b["materials"][5].update(name=b["materials"][4]["name"]), "/materials/5"),
    (lambda b: b["materials"][2].update(precautions=["P999"]), "/materials/2"),
    (lambda b: b["materials"][2].update(hazard_statements=["H272"], statement_categories={"H272": "1"}), "/materials/2"),
    (lambda b: b["solutions"][0]["versions"][0]["ingredients"][0].update(material="no-such-thing"), "/solutions/0/versions/0"),
    (lambda b: b["finishes"][0]["versions"][0]["steps"][0].update(coats=0), "/finishes/0/versions/0/steps/0"),
    (lambda b: b["rates"][0].update(margin_share="1"), "/rates/0"),
    (lambda b: b["people"][0].update(role="king"), "/people/0/role"),
    (lambda b: b.update(surprise=1), "surprise"),
], ids=["amount", "check digit", "twice in one chunk", "precaution", "category", "reference", "constraint", "share", "schema", "unknown"])
def test_an_error_names_its_path_and_nothing_is_loaded(tmp_path, change, path):
    wrong = without_jobs()
    change(wrong)
    file = tmp_path / "wrong.json"
    file.write_text(json.dumps(wrong), encoding="utf-8")
    with pytest.raises(BookError) as refusal:
        load_book(read_book(file), FILES)
    assert path in str(refusal.value)
    assert not Person.objects.exists()
    assert not Material.objects.exists()


def test_precautions_and_categories_stand_in_a_book():
    told = {"hazard_statements": ["H272", "H332"], "statement_categories": {"H272": "3"},
            "precautions": ["P280", "P301+P330+P331"]}
    document = without_jobs()
    document["materials"][2].update(told)
    load_book(document, FILES)
    assert Material.objects.get(code=document["materials"][2]["code"]).label.signal_word == "Warning"
    again = next(row for row in book()["materials"] if row["code"] == document["materials"][2]["code"])
    assert {name: again[name] for name in told} == told


def test_bench_rules_stop_a_book():
    wrong = without_jobs()
    version = next(i for f in wrong["finishes"] for i in f["versions"] if i.get("events"))
    version["steps"] = [step for step in version["steps"] if step["kind"] != "rinse"]
    for number, step in enumerate(version["steps"], start=1):
        step["number"] = number
    with pytest.raises(BookError, match="is not fully rinsed"):
        load_book(wrong, FILES)
    assert not RecipeVersion.objects.exists()


def test_ammoniacal_silver_told_to_keep_stops_a_book():
    wrong = without_jobs()
    silver = next(mistake for mistake in wrong["solutions"] if mistake["code"] == "silver-part-sprayed")
    silver["versions"][0]["keeps"] = "1 day"
    with pytest.raises(BookError, match="never stored"):
        load_book(wrong, FILES)


def test_a_ledger_that_does_not_tie_stops_a_book():
    wrong = copy.deepcopy(DOCUMENT)
    receipt = next(p for p in wrong["postings"] if p["movements"][0]["lot"]["material"] == "sodium-chloride")
    receipt["movements"][0]["quantity"] = "999 g"
    with pytest.raises(BookError, match="does not tie"):
        load_book(wrong, FILES)
    assert not StockMovement.objects.exists()


def test_a_misplaced_thing_in_a_job_is_named_where_it_stands():
    wrong = copy.deepcopy(DOCUMENT)
    wrong["jobs"][2]["order"]["lines"][0]["recipe"] = "foxed-harbour/99"
    with pytest.raises(BookError, match=r"^/jobs/2/order/lines/0: “foxed-harbour/99” is named but not in the book"):
        load_book(wrong, FILES)
    assert not Lot.objects.exists()


#: what a model keeps for itself: no book tells it
NOT_IN_A_BOOK = {
    "id", "saves", "classes", "password", "must_change_password", "last_login", "is_superuser", "is_staff", "date_joined",
    "largest_mix_ml",  # of the plan
    "pin",  # it opens a tablet of this studio alone
    "email",  # a person's: only a customer's and the house's stand in a book
}


def test_every_column_stands_in_a_book_or_is_left_out_on_purpose():
    described = {}  # a model may stand in two places, of one parent in each
    for section in [inner for room in SECTIONS for inner in room.every()]:
        of_model = described.setdefault(section.model, set())
        of_model |= {column.attribute for column in section.columns} | {section.parent}
        of_model |= {name for name, _ in section.inside} | {link.attribute for link in section.through}
    left_out = {model: {kept.name for kept in model._meta.concrete_fields} - told - NOT_IN_A_BOOK for model, told in described.items()}
    assert {model: rest for model, rest in left_out.items() if rest} == {}


def test_what_waits_for_a_section_waits_for_one_that_is_read():
    top = [section.name for section in SECTIONS]
    for section in SECTIONS:
        for inner in section.every():
            waited_for = {inner.after, *inner.later.values()} - {""}
            assert all(top.index(name) >= top.index(section.name) for name in waited_for), inner.name


def test_published_schema_is_what_loads(tmp_path):
    published = json.loads(BOOK.parents[1].joinpath("book", "schema.json").read_text(encoding="utf-8"))
    assert published == book_schema()
    Draft202012Validator.check_schema(published)


def test_estimate_command_prints_what_the_schema_publishes(capsys):
    load_file(BOOK)
    call_command("estimate", str(BOOK.with_name("order.json")))
    printed = json.loads(capsys.readouterr().out)
    Draft202012Validator(book_schema()["$defs"]["estimate"]).validate(printed)
    price = printed["price"]
    assert sum(map(Decimal, price["line_prices"])) == Decimal(price["net"])
    assert Decimal(price["net"]) + Decimal(price["tax"]) == Decimal(price["total"])
    assert printed["lines"][0]["width_mm"] == "619.125"


def test_estimate_as_of_a_day_uses_that_days_rates(tmp_path, capsys):
    load_file(BOOK)
    order = json.loads(BOOK.with_name("order.json").read_text(encoding="utf-8"))
    file = tmp_path / "order.json"

    def margin_on(day: str) -> str:
        file.write_text(json.dumps({**order, "as_of": day}), encoding="utf-8")
        call_command("estimate", str(file))
        return json.loads(capsys.readouterr().out)["price"]["margin_share"]

    assert margin_on("2026-06-30") == "0.33"
    assert margin_on("2026-11-02") == "0.35"


def test_an_order_file_is_refused_in_words(tmp_path):
    load_book(without_jobs(), FILES)
    for change, sentence in (
        ({"size": "12 parsecs"}, "/lines/0: .*not understood"), ({"finish": "Nothing"}, "no finish called"),
        ({"glass": "Jelly"}, "no glass called"), ({"quantity": 0}, "/lines/0/quantity"), ({"size": "3000 x 2000"}, "bench"),
    ):
        order = json.loads(BOOK.with_name("order.json").read_text(encoding="utf-8"))
        order["lines"][0].update(change)
        file = tmp_path / "order.json"
        file.write_text(json.dumps(order), encoding="utf-8")
        with pytest.raises(CommandError, match=sentence):
            call_command("estimate", str(file))


@given(st.decimals("0.001", "99999", places=3), st.sampled_from(["g", "mL"]))
@settings(max_examples=60)
def test_amounts_round_trip(amount, unit):
    assert read_amount(amount_text(amount, unit), unit, 3) == amount
    assert read_amount(amount_text(-amount, unit), unit, 3) == -amount


@settings(max_examples=6, deadline=None)
@given(quantities=st.lists(st.integers(1, 4), min_size=1, max_size=2), worked=st.booleans())
def test_load_of_saved_is_the_same_for_any_small_studio(tmp_path_factory, quantities, worked):
    """load(save(x)) = x, over studios of different jobs, in a transaction that is rolled back."""
    from django.db import transaction

    from studio.whole.book import load as loading

    folder = tmp_path_factory.mktemp("book")
    with transaction.atomic():
        owner = builders.person("maud", "owner")
        builders.house()
        builders.rates()
        workshop = builders.Workshop(owner)
        for quantity in quantities:
            run = workshop.run(workshop.line(quantity=quantity))
        if worked:
            from jobs.work.finishing import finish_run

            finish_run(run=builders.worked(run, owner), by=owner)
        save_book(folder / "small.json")
        first = (folder / "small.json").read_text(encoding="utf-8")
        transaction.set_rollback(True)
    with transaction.atomic():
        loading.load_file(folder / "small.json")
        assert Run.objects.filter(finished_at__isnull=False).exists() is worked
        assert canonical(book()) == first
        transaction.set_rollback(True)


def test_a_further_ticket_and_a_count_half_done_come_back_as_they_were(tmp_path):
    """The rest of a short job is planned from a kept offcut that is promised to it; a count waits for its saving."""
    from django.db import transaction

    from jobs.work.finishing import finish_run
    from jobs.work.further_ticket import make_further_ticket
    from studio.stockroom.counts.counting import record_counts, start_count
    from studio.stockroom.offcuts.kept import keep_offcut

    with transaction.atomic():
        owner = builders.person("maud", "owner")
        builders.house()
        builders.rates()
        workshop = builders.Workshop(owner)
        run = workshop.run(workshop.line(quantity=1))
        builders.judge(builders.worked(run, owner), owner, 0)
        finish_run(run=run, by=owner)
        keep_offcut(key=builders.key(), by=owner, material=workshop.glass, width_mm=Decimal(700), height_mm=Decimal(1000))
        ticket = make_further_ticket(job=run.ticket.job, by=owner)
        assert ticket.run.reservation.offcuts.count() == 1
        sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
        record_counts(sheet, {sheet.lines.first().pk: Decimal(3)})
        save_book(tmp_path / "short.json")
        first = (tmp_path / "short.json").read_text(encoding="utf-8")
        transaction.set_rollback(True)
    load_file(tmp_path / "short.json")
    assert canonical(book()) == first
    assert audit() == []
