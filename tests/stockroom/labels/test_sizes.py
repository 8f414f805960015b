"""Labels: each size fits its page, each label is laid once."""

from __future__ import annotations

from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from studio.stockroom.labels.sizes import SIZES, sheets
from studio.stockroom.models import Lot

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("size", SIZES.values(), ids=lambda size: size.key)
def test_labels_fit_their_page(at_helper, shop, size):
    shop.silver.pictograms, shop.silver.signal_word = ["GHS03", "GHS05", "GHS09"], "Danger"
    shop.silver.hazard_statements = ["H272", "H314", "H410"]
    shop.silver.save()
    pages = {"A4": (210, 297), "letter": (215.9, 279.4), "roll": (size.width, size.height)}
    width, height = pages[size.page]
    assert size.left + size.across * (size.columns - 1) + size.width <= width
    assert size.top + size.down * (size.rows - 1) + size.height <= height
    lots = "&".join(f"lot={lot.pk}" for lot in Lot.objects.all())
    pdf = PdfReader(BytesIO(at_helper.get(f"/stockroom/labels/labels.pdf?{lots}&size={size.key}&start=1").content))
    assert len(pdf.pages) == -(-Lot.objects.count() // size.a_page)
    assert abs(float(pdf.pages[0].mediabox.width) / 72 * 25.4 - width) < 0.5
    text = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    assert text.count("Lot ") == Lot.objects.count()
    assert "DANGER" in text.upper()


@given(st.integers(0, 50), st.sampled_from(sorted(SIZES)), st.integers(-3, 60))
def test_every_label_is_laid_once(count, key, start):
    size = SIZES[key]
    laid = sheets(list(range(1, count + 1)), size, start)
    assert [label for page in laid for label in page if label is not None] == list(range(1, count + 1))
    assert all(len(page) <= size.a_page for page in laid)
