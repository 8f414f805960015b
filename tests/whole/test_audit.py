"""The audit prints nothing, always; and it would say what does not tie."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from jobs.models import Quote
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import save_quote
from jobs.work.finishing import finish_run
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.changing import Change
from recipes.trials.conducting import Taken, take_stock
from studio.house.clock import now, pretend, today
from studio.house.models import CleanPass, Person
from studio.kit import database_rules
from studio.stockroom.models import WasteContainer
from studio.stockroom.waste.containers import put_in
from studio.whole.audit import audit, audit_and_note
from tests import builders
from tests.kept import path_of
from tests.serving import manage, own_database

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def scene(django_db_setup, django_db_blocker):
    """One worked studio for all, in a transaction of its own: each test damages it inside, and is rolled back."""
    with django_db_blocker.unblock(), transaction.atomic():
        builders.house()
        builders.rates()
        yield _work(builders.person("maud", "owner"))
        transaction.set_rollback(True)


@pytest.fixture
def worked_studio(scene, db):
    return scene


def _work(owner):
    workshop = builders.Workshop(owner)
    finish_run(run=builders.worked(workshop.run(), owner), by=owner)
    workshop.booked()
    mix_ahead(key=builders.key(), by=owner, version=workshop.reducer, volume_ml=Fraction(500), day=today())
    drum = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["water"], volume_ml=Decimal(1))
    trial = builders.trial(workshop.recipe, owner, Change(step=3, part=1, what="strength", value="2"))
    take_stock(key=builders.key(), trial=trial, by=owner, day=today(),
               taken=[Taken(lot=workshop.silver_lot, amount=Decimal(1))])
    return workshop


def corrupt(statement: str) -> None:
    """Change rows behind the rules' back, as a damaged disk or a hand in the database would."""
    database_rules.lift(connection)
    with connection.cursor() as cursor:
        cursor.execute(statement)
    database_rules.install(connection)


def test_a_worked_studio_ties(worked_studio, capsys):
    call_command("audit")
    assert "Everything ties." in capsys.readouterr().out


@pytest.mark.parametrize(("statement", "sentence"), [
    ("UPDATE inventory_lotlevel SET on_hand = on_hand + 1", "movements sum to"),
    ("UPDATE inventory_stockmovement SET quantity = quantity - 1 WHERE kind = 'use'", "movements sum to"),
    ("UPDATE inventory_stockmovement SET unit_cost = unit_cost + 1", "is valued at"),
    ("UPDATE inventory_reservedamount SET quantity = quantity + 1", "does not promise what its quote needs"),
    ("UPDATE inventory_reservation SET released_at = NULL", "still promised"),
    ("UPDATE jobs_quote SET net = net + 10000", "its plan says"),
    ("UPDATE recipes_solutionversion SET keeps_minutes = 1000000", "never stored"),
    ("DELETE FROM recipes_trialuse", "belongs to no trial"),
    ("DELETE FROM recipes_madelot", "of no solution"),
    ("UPDATE inventory_stockmovement SET quantity = quantity - 5000 WHERE kind = 'make-up out'", "what went into it"),
    ("UPDATE inventory_wasteentry SET reacts_as = '[\"acid\", \"sulfide\"]'", "Container S-1 holds acid and sulfide"),
    ("UPDATE inventory_wasteentry SET source = 'trial 1', silver_g = 900", "it can have left 0.635 g"),
    ("UPDATE inventory_wastecontainer SET holds_most_ml = 500", "holds 1.000 mL of at most 0.500"),
    ("UPDATE inventory_lot SET made_here = false, made_at = NULL, discard_at = NULL WHERE made_here", "came in by delivery"),
    ("UPDATE recipes_trialchange SET step = 99", "do not fit its recipe"),
    ("UPDATE inventory_material SET silver_g_per_unit = 2000000 WHERE stock_unit = 'g'", "more silver than it weighs"),
    ("UPDATE inventory_material SET formula = 'NaCl', cas_number = '7761-88-8' WHERE stock_unit = 'g'", "is not silver nitrate"),
], ids=["level", "movement", "cost", "promise", "release", "quote", "never stored", "trial's stock",
        "lot mixed ahead", "cost mixed ahead", "waste", "waste silver", "waste limit", "delivered", "trial's change", "silver", "formula"])
def test_what_does_not_tie_is_said(worked_studio, statement, sentence):
    assert audit() == []
    corrupt(statement)
    assert any(sentence in found for found in audit())
    with pytest.raises(CommandError, match="do not tie"):
        call_command("audit")


def test_what_a_clean_pass_looked_at_and_nobody_can_change_is_reckoned_again_when_all_is_asked_for(worked_studio, capsys):
    """With --all, by a program that is another, and once a month; a damaged file and the ledger's sums are always said."""
    later = now() + timedelta(days=4)
    paper = quote_paper(Quote.objects.first())
    with pretend(later):
        call_command("audit")
        assert "tied then" not in capsys.readouterr().out, "the first pass looks at everything"
        corrupt("UPDATE jobs_quote SET net = net + 10000")
        call_command("audit")
        assert "tied then.\nEverything ties." in capsys.readouterr().out
        assert [one.everything for one in CleanPass.objects.all()] == [True, False]
        with pytest.raises(CommandError, match="do not tie"):
            call_command("audit", "--all")
        assert CleanPass.objects.count() == 2, "what does not tie is no clean pass"
    with pretend(later + timedelta(days=31)), pytest.raises(CommandError, match="do not tie"):
        call_command("audit")
    with pretend(later):
        corrupt("UPDATE studio_cleanpass SET program = 'of before'")
        with pytest.raises(CommandError, match="do not tie"):
            call_command("audit")
        corrupt("UPDATE jobs_quote SET net = net - 10000")
        call_command("audit")
        path_of(Quote.objects.first().paper.sha256).write_bytes(b"forged")
        with pytest.raises(CommandError, match="do not tie"):
            call_command("audit")
    assert paper


@pytest.mark.parametrize(("statement", "sentence"), [
    ("UPDATE inventory_lotlevel SET on_hand = on_hand + 1", "movements sum to"),
    ("UPDATE inventory_reservation SET released_at = NULL", "still promised"),
    ("UPDATE inventory_reservedamount SET quantity = quantity + 1", "does not promise what its quote needs"),
], ids=["level", "release", "an open promise"])
def test_what_goes_on_is_reckoned_after_a_clean_pass_too(worked_studio, statement, sentence):
    audit_and_note(lambda done, of, what: None, everything=False)
    corrupt(statement)
    found, since = audit_and_note(lambda done, of, what: None, everything=False)
    assert since.at is not None
    assert any(sentence in one for one in found)


def test_what_came_after_a_clean_pass_is_reckoned(worked_studio):
    audit_and_note(lambda done, of, what: None, everything=False)
    save_quote(order=worked_studio.order(worked_studio.line("300 x 300 mm")), by=worked_studio.owner, form_key=builders.key())
    corrupt("UPDATE jobs_quote SET net = net + 10000 WHERE id = (SELECT max(id) FROM jobs_quote)")
    found, _ = audit_and_note(lambda done, of, what: None, everything=False)
    assert any("its plan says" in one for one in found)


def test_a_damaged_paper_is_said(worked_studio):
    quote = Quote.objects.first()
    quote_paper(quote)
    assert audit() == []
    path_of(quote.paper.sha256).write_bytes(b"forged")
    assert audit() == [f"The file {quote.paper.name} is not as it was kept."]
    path_of(quote.paper.sha256).unlink()
    assert "is missing" in audit()[0]


def test_a_lost_rule_is_said(worked_studio):
    database_rules.lift(connection)
    try:
        assert any("does not keep the rule stockmovement" in sentence or "never_edited" in sentence for sentence in audit())
    finally:
        database_rules.install(connection)
    assert Person.objects.exists()


#: a delivery of a new lot comes in by another connection, while a table is read that tells what lots cost
WHILE_PEOPLE_WORK = """
import threading
from decimal import Decimal
from pathlib import Path
from studio.house.models import Person
from studio.whole import audit as audits
from studio.whole.book import save
from tests import builders

def meanwhile(work):
    def begun(*given):
        other = threading.Thread(target=deliver)
        other.start()
        other.join()
        yield from work(*given)
    return begun

def deliver():
    from django.db import connection
    of = builders.material(f"Tin chloride {threading.get_ident()} {builders.key()}")
    builders.lot(of, "5", Person.objects.get(), cost="7")
    connection.close()

builders.house()
builders.rates()
builders.Workshop(builders.person("maud", "owner"))
before = save.canonical(save.book())
book = Path(FOLDER) / "studio.json"
parts, save._entries = save._entries, meanwhile(save._entries)
save.save_book(book)
save._entries = parts
print("as it was" if book.read_text() == before else "of two moments")
audits.by_key = meanwhile(audits.by_key)
print("ties" if audits.audit() == [] else "does not tie")
assert save.canonical(save.book()) != before
"""


def test_the_audit_and_the_book_see_one_moment_while_people_work(tmp_path):
    """Given a studio in use; when lots come in between two of their questions; then neither mixes the moments."""
    with own_database(tmp_path, "daybook_one_moment") as environment:
        said = manage(environment, "shell", "--no-imports", "-v0", "-c",
                      f"FOLDER = {str(tmp_path)!r}\n{WHILE_PEOPLE_WORK}")
    assert said.splitlines() == ["as it was", "ties"]
