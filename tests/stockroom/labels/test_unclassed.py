"""What nobody has read the data sheet of shows as unknown: on every label, on pages, on the ticket's wear line."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import pytest
from pypdf import PdfReader

from jobs.work.ticketing import make_ticket
from recipes.finishes.in_doubt import InDoubt
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.stockroom.labels.sizes import SIZES
from studio.stockroom.labels.wording import lot_wording
from studio.stockroom.materials import save_material
from studio.stockroom.models import Material
from tests import builders

pytestmark = pytest.mark.django_db
SENTENCE = "Unknown how it reacts: Old syrup. Keep it apart until its data sheet is read."


@pytest.fixture
def syrup(shop, owner):
    """A jar that nobody has read the data sheet of."""
    row = builders.material("Old syrup", "mL", storage_place="Low shelf")
    builders.lot(row, "500", owner, "O1")
    return row


@pytest.fixture
def mixed(shop, syrup, owner):
    """A lot mixed while the jar still counted as read; then the tick was taken back."""
    Material.objects.filter(pk=syrup.pk).update(none_apply=True)
    wash = builders.solution("Syrup wash", {"material": syrup, "amount": 20}, {"material": shop.water})
    lot = mix_ahead(key=builders.key(), by=owner, version=wash, volume_ml=Fraction(500), day=today())
    Material.objects.filter(pk=syrup.pk).update(none_apply=False)
    Material.objects.filter(pk=lot.material_id).update(storage_place="Mixes")
    return lot


def words_of(answer) -> str:
    assert answer.status_code == 200, answer.content.decode()[:2000]
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages).split())


@pytest.mark.parametrize("size", SIZES)
def test_no_label_size_hides_that_it_is_unknown(at_owner, syrup, mixed, size):
    """A size prints it in full, or is refused with those that do."""
    for lot in (syrup.lots.get(), mixed):
        answer = at_owner.get("/stockroom/labels/labels.pdf", {"size": size, "lot": lot.pk})
        if answer.status_code == 422:
            assert f"is too small for {lot.material.name}" in answer.content.decode()
        else:
            assert SENTENCE in words_of(answer)
            assert "local codes and licensed practice come first" in words_of(answer)


def test_beside_the_suppliers_label_it_is_unknown_too(at_owner, syrup):
    said = words_of(at_owner.get("/stockroom/labels/labels.pdf", {"size": "roll-57", "lot": syrup.lots.get().pk, "suppliers_label": "on"}))
    assert f"{SENTENCE} See supplier's label." in said


def test_the_vessel_and_its_card_say_it(at_owner, mixed):
    for more in ("volume=1+L", f"lot={mixed.pk}"):
        assert SENTENCE in words_of(at_owner.get(f"/finishes/solutions/syrup-wash/1/label.pdf?{more}"))
    assert "unknown: goggles, gloves, apron, extraction" in words_of(
        at_owner.get("/finishes/solutions/syrup-wash/1/bench-card.pdf?volume=1+L"))


def test_pages_of_solution_lot_and_storage_say_it(at_owner, mixed):
    solution = at_owner.get("/finishes/solutions/syrup-wash/1/").content.decode()
    assert "unknown how it reacts" in solution
    assert "Unknown how it reacts: Old syrup." in solution
    assert "Unknown how it reacts: Old syrup" in at_owner.get(f"/stockroom/lots/{mixed.pk}/").content.decode()
    storage = at_owner.get("/stockroom/storage/").content.decode()
    assert storage.count("unknown how it reacts") == 2
    for name, place in (("Old syrup", "Low shelf"), ("Syrup wash", "Mixes")):
        assert f"How {name} reacts is unknown: keep it apart from everything in {place}" in storage


def test_no_ticket_is_printed_with_it_and_an_open_run_says_so(at_owner, shop, owner):
    """Put in use while it counted as read; then the tick was taken back."""
    job, run = shop.booked(), shop.run()
    shop.sugar.refresh_from_db()
    shop.sugar.reacts_as = []
    save_material(shop.sugar, by=owner, why_taken_away="the label came off")
    with pytest.raises(InDoubt, match="Dextrose"):
        make_ticket(job=job, by=owner)
    page = at_owner.get(f"/bench/{run.pk}/").content.decode()
    assert "is in doubt" in page
    assert "Dextrose" in page


def test_a_lot_that_is_ammoniacal_silver_after_all_leads_with_it_and_has_no_date(at_owner, shop, owner):
    """Given a silver mix ahead that nobody knew to hold ammonia, when the truth is entered, then no page calls it ordinary."""
    drops = builders.material("Clearing drops", "mL", none_apply=True)
    builders.lot(drops, "100", owner)
    bath = builders.solution("Drops bath", {"material": shop.silver, "amount": 12, "unit": "g"}, {"material": drops, "amount": 9},
                             {"material": shop.water})
    lot = mix_ahead(key=builders.key(), by=owner, version=bath, volume_ml=Fraction(500), day=today())
    label = f"/stockroom/labels/labels.pdf?size=a4-a7&lot={lot.pk}"
    assert "Discard by" in words_of(at_owner.get(label))
    drops.none_apply, drops.cas_number = False, "1336-21-6"
    save_material(drops, None, owner)
    said = words_of(at_owner.get(label))
    assert said.index("Explosive if it stands or dries") < said.index("Lot ")
    assert "Held: nobody takes of it" in said
    assert "Discard by" not in said
    page = at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "explosive if it stands or dries" in page
    for ordinary in ("Discard by", "Mark as opened today", "Use it in a trial"):
        assert ordinary not in page
    today_page = at_owner.get("/").content.decode()
    assert "held:" in today_page
    assert f"expires {lot.until}" not in today_page


def test_a_label_says_that_hazards_were_not_entered(owner, rates):
    """Known by its number alone: how it reacts is told, and its label is not white for that."""
    salt = builders.material("Lunar salt", cas_number="7761-88-8", formula="AgNO3")
    lot = builders.lot(salt, "100", owner, "L1", "50")
    said = [words for words, _ in lot_wording(lot, suppliers_label_stays=False).lines]
    assert "Hazards not entered: read its data sheet." in said
    salt.refresh_from_db()
    salt.hazard_statements = ["H272", "H314", "H410"]
    save_material(salt, by=owner)
    lot.refresh_from_db()
    said = [words for words, _ in lot_wording(lot, suppliers_label_stays=False).lines]
    assert "Hazards not entered: read its data sheet." not in said
