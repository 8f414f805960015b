"""A studio in doubt, the truth having been entered after the fact, is saved, audited and read back; a broken one is not."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from recipes.finishes.in_doubt import versions_in_doubt
from recipes.models import RecipeVersion, SolutionVersion, VersionDoubt
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom.materials import save_material
from studio.stockroom.models import Lot, Material
from studio.whole.audit import audit
from studio.whole.book.load import BookError, load_book, read_book
from studio.whole.book.save import book, canonical, save_book
from studio.whole.known_doubts import known_doubts
from tests import builders

pytestmark = pytest.mark.django_db


def put_in_doubt(owner):
    """A kept mix that turned out ammoniacal, a recipe in use that turned out to hold a fluoride, an open run of it."""
    workshop = builders.Workshop(owner)
    workshop.run()
    salt = builders.material("Lunar salt", reacts_as=["silver_salt"])
    odd = builders.material("Odd sugar", none_apply=True)
    kept = builders.solution("Kept", {"material": salt, "amount": 5, "unit": "g"}, {"material": odd, "amount": 5, "unit": "g"},
                             {"material": workshop.water})
    for row in (salt, odd):
        builders.lot(row, "5000", owner)
    mix_ahead(key=builders.key(), by=owner, version=kept, volume_ml=Fraction(500), day=today())
    odd.reacts_as, odd.none_apply = ["ammonia"], False
    save_material(odd, by=owner)
    workshop.sealer.reacts_as = ["fluoride"]
    save_material(workshop.sealer, by=owner)
    return workshop


@pytest.fixture
def in_doubt(owner, rates):
    return put_in_doubt(owner)


@pytest.fixture
def saved(db, tmp_path):
    """The book of a studio in doubt, where its files lie, and what it told; the studio itself is rolled back."""
    with transaction.atomic():
        builders.house()
        builders.rates()
        put_in_doubt(builders.person("maud", "owner"))
        save_book(tmp_path / "doubt.json")
        told = known_doubts()
        transaction.set_rollback(True)
    return json.loads((tmp_path / "doubt.json").read_text(encoding="utf-8")), tmp_path / "doubt.files", told


def test_known_doubts_are_told_and_are_no_failure(in_doubt, capsys):
    call_command("audit")
    said = capsys.readouterr().out
    assert "Everything ties." in said
    told, _, rest = said.partition("Known doubts: nothing new is made of these until they are looked at.")
    assert "Kept, version 1 is in doubt: Kept holds ammoniacal silver" in rest
    assert "Plain silver, version 1, is in doubt: step" in rest
    assert "is open and in doubt: record it" in rest
    assert told == ""


def test_its_book_is_read_back_as_it_is(saved, tmp_path):
    document, files, told = saved
    load_book(read_book(tmp_path / "doubt.json"), files)
    assert audit() == []
    assert known_doubts() == told
    assert canonical(book()) == canonical(document)


def test_a_book_that_does_not_hold_its_lots_is_refused(saved):
    document, files, _ = saved
    for lot in document["lots"]:
        if lot["material"] == "kept":
            del lot["state"], lot["hold_reason"]
    with pytest.raises(BookError, match="is not held"):
        load_book(document, files)


@pytest.mark.parametrize(("where", "sentence"), [("solutions", "never stored"), ("finishes", "cannot be put in use")])
def test_a_book_that_does_not_mark_its_versions_is_refused(saved, where, sentence):
    document, files, _ = saved
    for row in document[where]:
        for version in row["versions"]:
            version.pop("in_doubt", None)
    with pytest.raises(BookError, match=sentence):
        load_book(document, files)


def test_what_breaks_a_rule_without_a_mark_fails_the_audit(in_doubt):
    VersionDoubt.objects.all().delete()
    said = audit()
    assert any(sentence.startswith("Kept, version 1: Kept holds ammoniacal silver") for sentence in said)
    assert any("Plain silver, version 1 is in use and not marked in doubt: step" in sentence for sentence in said)
    with pytest.raises(CommandError, match="do not tie"):
        call_command("audit")


def test_the_mark_goes_when_the_version_is_sound_again(in_doubt, owner):
    assert RecipeVersion.objects.filter(doubt__isnull=False).exists()
    sealer = Material.objects.get(pk=in_doubt.sealer.pk)
    sealer.reacts_as, sealer.none_apply = [], True
    save_material(sealer, by=owner, why_taken_away="the sheet was another product's")
    assert versions_in_doubt() == []
    assert not RecipeVersion.objects.filter(doubt__isnull=False).exists()
    assert SolutionVersion.objects.get(doubt__isnull=False).solution.name == "Kept"


def unsaid(name: str) -> str:
    return f", and nobody has said what {name} in it reacts as, or that its data sheet was read and none apply."


def test_what_is_unclassed_and_in_use_kept_or_made_ahead_is_told(in_doubt, owner):
    for row in Material.objects.filter(name__in=["Lunar salt", "Dextrose"]):
        row.reacts_as = []
        save_material(row, by=owner, why_taken_away="the label came off")
    told = known_doubts()
    lot = Lot.objects.get(material__name="Kept")
    assert f"Kept, version 1 keeps{unsaid('Lunar salt')}" in told
    assert f"{lot} is mixed ahead{unsaid('Lunar salt')}" in told
    assert f"Plain silver, version 1 is in use{unsaid('Dextrose')}" in told
    assert not [sentence for sentence in audit() if "classed" in sentence]
