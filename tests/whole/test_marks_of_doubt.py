"""The mark of doubt says what is worked out: it is written wherever the truth changes, and opens no other door of a book."""

from __future__ import annotations

import json

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from recipes.finishes.bench_rules import RULES
from recipes.finishes.in_doubt import _OF_STEPS_ALONE, PROCEDURE_RULE, versions_in_doubt
from recipes.finishes.marking import mark_all_doubts
from recipes.models import RecipeVersion, VersionDoubt, VersionEvent
from studio.house.models import House
from studio.house.saving import save_house
from studio.kit import database_rules
from studio.stockroom.materials import save_material
from studio.whole.audit import audit
from studio.whole.book.load import BookError, load_book, read_book
from studio.whole.book.save import book, canonical, save_book
from studio.whole.known_doubts import known_doubts
from tests import builders

pytestmark = pytest.mark.django_db


def slow_silver(owner):
    """Silver that dwells 90 minutes, in use; the studio lets it stand two hours."""
    workshop = builders.Workshop(owner)
    steps = workshop.steps()
    steps[2]["dwell_minutes"] = 90
    return workshop, builders.put_version_in_use(builders.recipe("Slow silver", steps), owner)


def limit(minutes):
    house = House.objects.get()
    save_house(house.saves, {"ammoniacal_limit_minutes": minutes})


def in_doubt():
    return set(VersionDoubt.objects.filter(stops=True).values_list("recipe_version__finish__name", flat=True))


@pytest.fixture
def written(db, tmp_path):
    """Give a studio's book as it was left, and take the studio away."""
    def write(left):
        with transaction.atomic():
            builders.house()
            builders.rates()
            left(builders.person("maud", "owner"))
            save_book(tmp_path / "book.json")
            transaction.set_rollback(True)
        return json.loads((tmp_path / "book.json").read_text(encoding="utf-8")), tmp_path / "book.files"

    return write


def test_a_lowered_limit_marks_and_a_raised_one_takes_the_mark_off(owner, rates):
    _, slow = slow_silver(owner)
    limit(60)
    mark = VersionDoubt.objects.get(recipe_version=slow)
    assert mark.rules == ["ammoniacal silver does not stand"]
    assert "longer than 60 minutes" in mark.why
    assert [version for version, _ in versions_in_doubt()] == [slow]
    assert audit() == []
    limit(120)
    assert not VersionDoubt.objects.exists()
    assert audit() == []


def test_the_book_of_a_studio_that_lowered_its_limit_is_read_back(written, tmp_path):
    def left(owner):
        slow_silver(owner)
        limit(60)

    document, files = written(left)
    load_book(read_book(tmp_path / "book.json"), files)
    assert in_doubt() == {"Slow silver"}
    assert canonical(book()) == canonical(document)


def test_an_upgraded_studio_is_marked_when_it_migrates_and_asks_no_more_for_more(owner, rates):
    """Given versions of an earlier program's rules: a silver rinse that collects nothing, and no procedure written."""
    workshop, _ = slow_silver(owner)

    def earlier():
        """Let what is in use be as an earlier program let it: its rules are lifted while it is written."""
        version = RecipeVersion.objects.latest("pk")
        with connection.cursor() as cursor:
            database_rules.lift(connection)
            cursor.execute("UPDATE recipes_step SET rinse_collected = %s WHERE recipe_version_id = %s", [False, version.pk])
            database_rules.install(connection)
        return version

    old = earlier()
    assert any("is in use and not marked in doubt" in sentence for sentence in audit())
    call_command("migrate", verbosity=0)
    assert in_doubt() == {str(old.finish)}
    assert audit() == []

    def asked():
        VersionDoubt.objects.all().delete()
        with CaptureQueriesContext(connection) as queries:
            mark_all_doubts()
        return len(queries)

    few = asked()
    for number in range(6):
        builders.put_version_in_use(builders.recipe(f"Finish {number}", workshop.steps()), owner)
    limit(1)
    assert asked() == few
    assert len(in_doubt()) == 8


def test_what_house_says_of_procedures_is_a_doubt_and_marked(owner, rates):
    builders.Workshop(owner)
    House.objects.update(making_safe_procedure="")
    assert any("not marked in doubt" in sentence and "making-safe procedure" in sentence for sentence in audit())
    mark_all_doubts()
    assert VersionDoubt.objects.get().rules == [PROCEDURE_RULE]
    assert audit() == []
    house = House.objects.get()
    save_house(house.saves, {"making_safe_procedure": "Written procedure 2, by the sink."})
    assert not VersionDoubt.objects.exists()


MARK = {"why": "the owner is not sure", "since": "2026-01-01T10:00:00+00:00"}


def test_a_mark_in_a_hand_written_book_opens_no_other_door(written):
    document, files = written(builders.Workshop)
    (version,) = (row for finish in document["finishes"] for row in finish["versions"])
    version["in_doubt"] = dict(MARK)
    acknowledged = version["events"][0].pop("acknowledged")
    assert acknowledged
    with pytest.raises(BookError, match="Acknowledge these cautions"):
        load_book(document, files)
    version["events"][0]["acknowledged"] = acknowledged
    procedure = document["house"].pop("making_safe_procedure")
    with pytest.raises(BookError, match="Write the studio's making-safe procedure first"):
        load_book(document, files)
    document["house"]["making_safe_procedure"] = procedure
    cleaning = version["steps"].pop(0)
    assert cleaning["kind"] == "clean"
    with pytest.raises(BookError, match="not cleaned before this step"):
        load_book(document, files)
    version["steps"].insert(0, cleaning)
    load_book(document, files)
    assert in_doubt() == set()  # nothing stands against it: the mark says what is worked out
    assert audit() == []


def test_rules_of_steps_alone_are_rules():
    assert {rule.name for rule in RULES if rule.stops} >= _OF_STEPS_ALONE


def test_a_caution_that_came_later_stops_nothing_is_told_and_is_read_back(written):
    """Given that everybody acknowledged but one caution, which the truth about a material brought since."""
    def left(owner):
        builders.Workshop(owner)
        VersionDoubt.objects.all().delete()
        event = VersionEvent.objects.get(kind="in use")
        later.extend(event.acknowledged[:1])
        with connection.cursor() as cursor:
            database_rules.lift(connection)
            cursor.execute("UPDATE recipes_versionevent SET acknowledged = %s WHERE id = %s",
                           [json.dumps(event.acknowledged[1:]), event.pk])
            database_rules.install(connection)
        mark_all_doubts()

    later: list[str] = []
    document, files = written(left)
    load_book(document, files)
    mark = VersionDoubt.objects.get()
    assert (mark.rules, mark.stops) == (later, False)
    assert versions_in_doubt() == audit() == []
    assert any("that nobody acknowledged: Step" in sentence for sentence in known_doubts())
    assert canonical(book()) == canonical(document)


def test_one_version_is_told_once(owner, rates):
    workshop, _ = slow_silver(owner)
    workshop.sealer.reacts_as = ["fluoride"]
    save_material(workshop.sealer, by=owner)
    limit(60)
    told = known_doubts()
    for name in ("Slow silver, version 1", "Plain silver, version 1"):
        assert len([sentence for sentence in told if sentence.startswith(name)]) == 1
