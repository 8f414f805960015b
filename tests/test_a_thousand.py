"""A studio some years old: above a thousand lots, postings, parts and versions, every list and page still answers."""

from __future__ import annotations

import ast
import json
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.apps import apps
from django.db import connection, models, transaction
from django.test.utils import CaptureQueriesContext

from recipes.models import Finish, Ingredient, Part, RecipeVersion, Solution, SolutionVersion, Step
from studio.house.clock import now, today
from studio.house.models import Person
from studio.stockroom.models import CountLine, CountSheet, Lot, Material, Posting, StockMovement
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from studio.whole.book.save import book, canonical, save_book
from tests import builders

MANY = 1100
ROOT = Path(__file__).resolve().parents[1]
pytestmark = pytest.mark.django_db


def take_in_a_thousand(owner: Person) -> Material:
    """Distilled water in 1,100 lots, each taken in by its own posting, all counted on one open sheet."""
    water = builders.material("Distilled water", "mL", kind="water")
    lots = Lot.objects.bulk_create([
        Lot(material=water, lot_number=f"W{at}", received_on=today() - timedelta(days=at), quantity_received=Decimal(500),
            cost_with_carriage=Decimal(1)) for at in range(MANY)
    ])
    postings = Posting.objects.bulk_create([
        Posting(key=builders.key(), kind="receipt", at=now(), by=owner) for _ in lots
    ])
    StockMovement.objects.bulk_create([
        StockMovement(posting=posting, line=1, lot=lot, kind="receipt", quantity=Decimal(500), unit_cost=lot.unit_cost)
        for posting, lot in zip(postings, lots, strict=True)
    ])
    sheet = CountSheet.objects.create(as_of=now(), by=owner, form_key=builders.key())
    CountLine.objects.bulk_create([CountLine(sheet=sheet, lot=lot, expected=Decimal(500)) for lot in lots])
    return water


@pytest.fixture
def many_lots(owner, rates) -> Material:
    return take_in_a_thousand(owner)


@pytest.fixture
def many_parts(owner, rates) -> SolutionVersion:
    """A solution in 1,100 steps, each of its own recipe version, which came from a version before it."""
    sugar = builders.material("Dextrose", reacts_as=["reducer"])
    water = builders.material("Distilled water", "mL", kind="water")
    reducer = builders.solution("Reducer", {"material": sugar, "amount": 9, "unit": "g", "scales_with_strength": True},
                                {"material": water})
    finish = Finish.objects.create(name="Plain silver")
    versions = RecipeVersion.objects.bulk_create([RecipeVersion(finish=finish, number=at + 1) for at in range(MANY)])
    for before, version in zip(versions, versions[55:], strict=False):
        version.came_from = before
    RecipeVersion.objects.bulk_update(versions, ["came_from"], batch_size=200)
    steps = Step.objects.bulk_create([
        Step(recipe_version=version, number=1, kind="silver", how="spray", coverage_ml_per_m2=Decimal(900))
        for version in versions
    ])
    Part.objects.bulk_create([Part(step=step, number=1, solution_version=reducer) for step in steps])
    nested = SolutionVersion.objects.bulk_create([
        SolutionVersion(solution=solution, number=1, keeps_minutes=Decimal(60)) for solution in
        Solution.objects.bulk_create([Solution(code=f"mix-{at}", name=f"Mix {at}") for at in range(MANY)])
    ])
    Ingredient.objects.bulk_create([
        Ingredient(solution_version=inner, number=1, nested=reducer, unit="mL", amount_per_litre=Decimal(5)) for inner in nested
    ])
    return reducer


def test_a_book_of_a_thousand_lots_is_written_and_read_in_bulk(db, tmp_path):
    with transaction.atomic():
        builders.rates()
        take_in_a_thousand(builders.person("maud", "owner"))
        save_book(tmp_path / "book.json")
        transaction.set_rollback(True)
    text = (tmp_path / "book.json").read_text(encoding="utf-8")
    written = json.loads(text)
    assert text == canonical(written)
    assert len(written["lots"]) == len(written["postings"]) == len(written["counts"][0]["lines"]) == MANY
    with CaptureQueriesContext(connection) as asked:
        load_file(tmp_path / "book.json")
    assert canonical(book()) == canonical(written)
    assert len(asked) < MANY  # row by row, 4,400 rows would ask ten times as often


def test_the_stockrooms_pages_show_a_thousand_lots(many_lots, at_owner):
    sheet, lot = CountSheet.objects.get().pk, Lot.objects.latest("pk").pk
    asked = [
        "", "distilled-water/", f"lots/{lot}/", "storage/", "counts/", f"counts/{sheet}/", "labels/", "receive/",
        "prices/", "tables/lots.csv", "tables/movements.csv", "buying/",
    ]
    assert {at: at_owner.get(f"/stockroom/{at}").status_code for at in asked} == dict.fromkeys(asked, 200)
    assert audit() == []


def test_the_librarys_pages_show_a_thousand_parts(many_parts, at_owner):
    asked = [
        "solutions/reducer/1/", "uses/dextrose/", "", "solutions/", "plain-silver/", "plain-silver/1100/",
        "solutions/reducer/1/edit/",
    ]
    assert {at: at_owner.get(f"/finishes/{at}").status_code for at in asked} == dict.fromkeys(asked, 200)


def test_no_forward_key_is_prefetched_past_the_chunks():
    """Wherever a path goes through a foreign key, it is `fetched`: prefetched, it breaks above a thousand."""
    forward = {field.name for model in apps.get_models() for field in model._meta.get_fields()
               if isinstance(field, models.ForeignKey) and field.concrete}
    wrong = []
    for file in [path for room in ("studio", "recipes", "jobs") for path in (ROOT / room).rglob("*.py")]:
        for call in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(call, ast.Call) and getattr(call.func, "attr", "") == "prefetch_related":
                wrong += [f"{file.name}:{call.lineno} {argument.value}" for argument in call.args
                          if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
                          and forward & set(argument.value.split("__"))]
    assert wrong == []
