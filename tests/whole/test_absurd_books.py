"""A book that was written by hand: what cannot be is refused by its row, what is unusual is listed, nothing is guessed."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command

from recipes.models import Ingredient
from studio.whole.book.save import book
from tests.whole.test_book import FILES, without_jobs

pytestmark = pytest.mark.django_db


@pytest.fixture
def load(tmp_path, capsys):
    """Load a book; return what the command says."""
    def loaded(document):
        path = tmp_path / "book.json"
        path.write_text(json.dumps(document), encoding="utf-8")
        (tmp_path / "book.files").symlink_to(FILES)
        call_command("load_book", str(path))
        return capsys.readouterr().out
    return loaded


def ingredients(document, code):
    return next(row for row in document["solutions"] if row["code"] == code)["versions"][0]["ingredients"]


def offcut(document, width, height):
    """Return the demo's own first offcut at another size."""
    return {**document["offcuts"][0], "width": width, "height": height}


def kept(offcut):
    return {name: value for name, value in offcut.items() if name not in ("promised_to_job", "left_by", "came_from")}


def test_what_cannot_be_is_refused_with_its_row(load):
    document = without_jobs()
    document["offcuts"] = [kept(offcut(document, "600 mm", "1 mm"))]
    with pytest.raises(CommandError, match=r"^/offcuts/0: That is 1 mm, and no pane is under 2 mm"):
        load(document)


@pytest.mark.parametrize(("change", "why"), [
    ({"amount_per_litre": "20000 g"}, "A litre cannot hold 20000 g of"),
    ({"keeps": "99999999 min"}, "Nothing keeps for 190 years"),
])
def test_a_solution_that_cannot_be_is_refused_with_its_row(change, why, load):
    document = without_jobs()
    at, version = next((at, row["versions"][0]) for at, row in enumerate(document["solutions"])
                       if row["versions"][0].get("keeps") and any(
                           entry.get("amount_per_litre", "").endswith(" g") for entry in row["versions"][0]["ingredients"]))
    if "keeps" in change:
        version |= change
    else:
        next(entry for entry in version["ingredients"] if entry.get("amount_per_litre", "").endswith(" g")).update(change)
    with pytest.raises(CommandError, match=f"^/solutions/{at}/versions/0.*{why}"):
        load(document)


def test_what_is_unusual_is_loaded_and_listed(load):
    document = without_jobs()
    document["offcuts"] = [kept(offcut(document, "600 mm", "12 mm"))]
    version = next(row["versions"][0] for row in document["solutions"] if row["versions"][0].get("keeps"))
    version["keeps"] = "6000000 min"
    document["materials"][0]["shelf_life_days"] = 4000
    said = load(document)
    assert "Unusual, and taken as it stands in the book:" in said
    assert "12 mm, a side under 20 mm: is the unit right?" in said
    assert "11.4 years: does it really keep for more than 10?" in said
    assert "11 years: does it really keep for more than 10?" in said


def test_an_ingredient_that_does_not_say_whether_it_scales_does_not(load):
    """Books say it where one scales: those of before new ingredients scaled by default mean what they meant."""
    document = without_jobs()
    code, rows = next((row["code"], row["versions"][0]["ingredients"]) for row in document["solutions"]
                      if any(entry.get("scales_with_strength") for entry in row["versions"][0]["ingredients"]))
    scaled = next(entry for entry in rows if entry.get("scales_with_strength"))
    del scaled["scales_with_strength"]
    load(document)
    row = Ingredient.objects.get(solution_version__solution__code=code, solution_version__number=1,
                                 number=scaled["number"])
    assert not row.scales_with_strength
    again = next(entry for entry in ingredients(book(), code) if entry["number"] == scaled["number"])
    assert "scales_with_strength" not in again
    assert Ingredient().scales_with_strength  # a new one does
