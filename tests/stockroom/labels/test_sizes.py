"""Labels: each size fits its page, each label is laid once, and what it says is on it or it is refused."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from studio.stockroom.labels.sizes import SIZES, VESSEL_SIZES, sheets
from studio.stockroom.labels.wording import lot_wording
from studio.stockroom.models import Lot
from tests import builders

pytestmark = pytest.mark.django_db
MM = 25.4 / 72


def pdf_of(client, size: str, *lots: Lot, **more: str) -> PdfReader:
    asked = {"lot": [lot.pk for lot in lots], "size": size, **more}
    answer = client.get("/stockroom/labels/labels.pdf", asked)
    assert answer.status_code == 200, answer.content.decode()[:3000]
    return PdfReader(BytesIO(answer.content))


def text_of(pdf: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)


@pytest.fixture
def silver(shop):
    shop.silver.hazard_statements, shop.silver.precautions = ["H272", "H314", "H410"], ["P280", "P310"]
    shop.silver.save()
    return shop.silver


@pytest.mark.parametrize("size", SIZES.values(), ids=lambda size: size.key)
def test_labels_fit_their_page(at_helper, shop, size):
    """Harmless lots go on any size; each label on its place, each page as large as it says."""
    pages = {"A4": (210, 297), "letter": (215.9, 279.4), "roll": (size.width, size.height)}
    width, height = pages[size.page]
    assert size.left + size.across * (size.columns - 1) + size.width <= width
    assert size.top + size.down * (size.rows - 1) + size.height <= height
    lots = list(Lot.objects.all())
    pdf = pdf_of(at_helper, size.key, *lots, start="1")
    assert len(pdf.pages) == -(-len(lots) // size.a_page)
    assert abs(float(pdf.pages[0].mediabox.width) * MM - width) < 0.5
    assert text_of(pdf).count("Lot ") == len(lots)


@pytest.mark.parametrize("size", SIZES.values(), ids=lambda size: size.key)
def test_a_size_too_small_for_its_package_is_refused(at_helper, rates, owner, size):
    """Up to 3 L a label of 52 × 74 mm (CLP Annex I, table 1.3): every word is on it, or a sentence says what would do."""
    lot = builders.lot(builders.material("Odd acid", "mL", hazard_statements=["H319"]), "3000", owner)
    answer = at_helper.get("/stockroom/labels/labels.pdf", {"lot": lot.pk, "size": size.key})
    if min(size.width, size.height) >= 52 and max(size.width, size.height) >= 74:
        pdf = PdfReader(BytesIO(answer.content))
        assert len(pdf.pages) == 1
        assert all(words in text_of(pdf) for words in ("WARNING", "Causes serious eye irritation."))
    else:
        assert answer.status_code == 422
        sentence = f"{size.name}, is too small for Odd acid with all that the label must say. Large enough are "
        assert sentence in answer.content.decode()
        assert f'id="lot-{lot.pk}" checked' in answer.content.decode()


def test_a_label_too_small_is_never_emptied(at_helper, silver):
    """The size that once hid its statements is refused, and a tie-on tag is offered."""
    lot = silver.lots.first()
    answer = at_helper.get("/stockroom/labels/labels.pdf", {"lot": lot.pk, "size": "a4-21"}).content.decode()
    assert "tie-on tag or fold-out" in answer
    assert "Where the supplier&#x27;s own label stays on, tick that" in answer
    text = text_of(pdf_of(at_helper, "tag-a6", lot))
    for words in ("Silver nitrate", "DANGER", "May intensify fire; oxidiser.", "Causes severe skin burns and eye damage.",
                  "Very toxic to aquatic life with long lasting effects.", "Wear protective gloves", f"Lot {lot.lot_number}"):
        assert words in text, words


def test_beside_the_suppliers_label_a_small_one_points_to_it(at_helper, silver):
    lot = silver.lots.first()
    text = text_of(pdf_of(at_helper, "a4-21", lot, suppliers_label="on"))
    assert "DANGER See supplier's label." in text
    assert "Causes severe skin burns" not in text
    assert f"Lot {lot.lot_number}" in text


def test_what_was_made_here_has_no_suppliers_label(silver):
    lot = silver.lots.first()
    assert lot_wording(lot, suppliers_label_stays=True).see_supplier
    lot.made_here = True
    wording = lot_wording(lot, suppliers_label_stays=True)
    assert not wording.see_supplier
    assert "Causes severe skin burns and eye damage." in wording.paragraphs[0]


def test_the_pack_is_what_carries_the_label(at_helper, rates, owner):
    """Ten litres that came in one-litre bottles need a bottle's label."""
    acid = builders.material("Odd acid", "mL", hazard_statements=["H319"], pack_size=1000)
    lot = builders.lot(acid, "10000", owner)
    assert "Lot L1, 1.00 L" in text_of(pdf_of(at_helper, "a4-8", lot))


@given(st.integers(0, 50), st.sampled_from(sorted(SIZES)), st.integers(-3, 60))
def test_every_label_is_laid_once(count, key, start):
    size = SIZES[key]
    laid = sheets(list(range(1, count + 1)), size, start)
    assert [label for page in laid for label in page if label is not None] == list(range(1, count + 1))
    assert all(len(page) <= size.a_page for page in laid)


def test_vessels_have_a_label_for_every_volume():
    assert [(size.width, size.height) for size in VESSEL_SIZES] == [(74, 52), (105, 74), (148, 105), (210, 148)]
    assert all(Fraction(size.padding) > 0 for size in VESSEL_SIZES)
