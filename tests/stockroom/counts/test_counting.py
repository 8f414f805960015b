"""Counts: as of their own time, all lots or none, expected amounts hidden where the sheet says so."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO

import pytest
from pypdf import PdfReader

from studio.stockroom.counts.counting import post_count, record_counts, start_count
from studio.stockroom.ledger import LedgerError
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Posting, StockMovement
from studio.whole.audit import audit
from tests import builders
from tests.stockroom.shop import on_hand, use

pytestmark = pytest.mark.django_db


def test_a_count_is_as_of_its_own_time(shop, owner):
    """500 g at the sheet's moment; 20 g are used before it is saved; 497 g counted then: 3 g were missing, 477 remain."""
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
    line = sheet.lines.get(lot=shop.silver_lot)
    discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(20), why="spilt")
    record_counts(sheet, {counted.pk: counted.expected for counted in sheet.lines.all()})
    record_counts(sheet, {line.pk: Decimal(497)})
    for _ in range(2):
        post_count(sheet, owner)
    assert on_hand(shop.silver_lot) == 477
    assert StockMovement.objects.filter(kind="count correction").get().quantity == -3
    assert audit() == []
    with pytest.raises(LedgerError, match="saved already"):
        record_counts(sheet, {line.pk: Decimal(1)})


def test_a_count_that_cannot_be_is_refused(shop, owner):
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    with pytest.raises(LedgerError, match="not counted yet"):
        post_count(sheet, owner)
    record_counts(sheet, {line.pk: line.expected for line in sheet.lines.all()})
    record_counts(sheet, {sheet.lines.get(lot=shop.silver_lot).pk: Decimal(0)})
    use(shop.silver_lot, "20", owner)
    with pytest.raises(LedgerError, match="holds less than that now"):
        post_count(sheet, owner)
    assert not Posting.objects.filter(kind="count").exists()
    with pytest.raises(LedgerError, match="nothing to count"):
        start_count(key=builders.key(), by=owner, place="the moon", hide_expected=True)


def test_a_sheet_that_hides_expected_amounts_does_not_show_them(at_helper, at_owner, shop, owner):
    for hide_expected, shown in ((True, False), (False, True)):
        sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=hide_expected)
        text = "".join(page.extract_text() for page in PdfReader(BytesIO(
            at_helper.get(f"/stockroom/counts/{sheet.pk}/sheet.pdf").content)).pages)
        assert ("500 g" in text) is shown
        assert ("500 g" in at_helper.get(f"/stockroom/counts/{sheet.pk}/").content.decode()) is shown
    line = sheet.lines.get(lot=shop.silver_lot)
    bad = at_helper.post(f"/stockroom/counts/{sheet.pk}/", {f"line-{line.pk}": "a lot"})
    assert bad.status_code == 422
    assert "was not understood" in bad.content.decode()
    all_of_them = {f"line-{counted.pk}": f"{counted.expected} {counted.lot.material.stock_unit}" for counted in sheet.lines.select_related("lot__material")}
    at_helper.post(f"/stockroom/counts/{sheet.pk}/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    refused = at_helper.post(f"/stockroom/counts/{sheet.pk}/save/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    assert refused.status_code == 403
    assert on_hand(shop.silver_lot) == 500
    assert "14.00" in at_owner.get(f"/stockroom/counts/{sheet.pk}/").content.decode()  # 10 g at 700 / 500 g
    at_owner.post(f"/stockroom/counts/{sheet.pk}/save/", all_of_them | {f"line-{line.pk}": "0.49 kg"})
    assert on_hand(shop.silver_lot) == 490


def test_a_count_goes_out_as_a_table_and_comes_back(at_helper, shop, owner):
    from django.core.files.uploadedfile import SimpleUploadedFile

    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=False)
    table = at_helper.get(f"/stockroom/counts/{sheet.pk}/?as=csv").content.decode()
    filled = "\r\n".join(row if at == 0 or not row else row + row.split(",")[2] for at, row in enumerate(table.split("\r\n")))
    filled = filled.replace("500 g,500 g", "500 g,488 g")
    answer = at_helper.post(f"/stockroom/counts/{sheet.pk}/", {"table": SimpleUploadedFile("c.csv", filled.encode(), "text/csv")})
    assert answer.status_code == 302
    assert not sheet.lines.filter(counted=None).exists()
    assert sheet.lines.get(lot=shop.silver_lot).counted == 488
