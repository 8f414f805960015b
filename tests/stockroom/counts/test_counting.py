"""Counts: as of their own time, all lots or none, expected amounts hidden where the sheet says so."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from pypdf import PdfReader

from jobs.work.finishing import finish_run
from jobs.work.ticketing import plan_of
from studio.house.clock import now, pretend
from studio.stockroom.counts.counting import post_count, record_counts, start_count
from studio.stockroom.ledger import LedgerError
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Posting, StockMovement
from studio.whole.audit import audit
from tests import builders
from tests.stockroom.shop import on_hand, use

pytestmark = pytest.mark.django_db
NINE = datetime(2036, 3, 4, 9, 0, tzinfo=UTC)


def everything_as_expected(sheet, but):
    return {line.pk: line.expected for line in sheet.lines.exclude(pk=but.pk)}


@pytest.mark.parametrize(("written", "missing"), [(0, 3), (2, -17)])
def test_a_count_is_of_what_stood_there_when_its_figure_was_written(shop, owner, written, missing):
    """500 g; 20 g are spilt at ten; 497 g, written at nine, lack 3 g, and written at eleven are 17 g too many."""
    with pretend(NINE - timedelta(hours=1)):
        sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
    with pretend(NINE + timedelta(hours=1)):
        discard(key=builders.key(), lot=shop.silver_lot, by=owner, amount=Decimal(20), why="spilt")
    line = sheet.lines.get(lot=shop.silver_lot)
    with pretend(NINE + timedelta(hours=3)):
        record_counts(sheet, everything_as_expected(sheet, line) | {line.pk: Decimal(497)},
                      {line.pk: NINE + timedelta(hours=written)})
        for _ in range(2):
            post_count(sheet, owner)
    assert on_hand(shop.silver_lot) == 480 - missing
    assert StockMovement.objects.filter(kind="count correction").get().quantity == -missing
    assert audit() == []
    with pytest.raises(LedgerError, match="saved already"):
        record_counts(sheet, {line.pk: Decimal(1)})


@pytest.mark.parametrize("lots_said", [True, False])
def test_a_run_in_between_is_never_deducted_twice(owner, rates, lots_said):
    """A mix is made at nine, the jar is counted at ten without it, the run is finished at eleven."""
    shop = builders.Workshop(owner)
    run = shop.run(shop.line(quantity=1))
    mix = next(mix for mix in plan_of(run.ticket).mixes if mix.solution == "Silver part")
    taken = mix.ingredients[0].amount
    with pretend(NINE - timedelta(hours=1)):
        sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
    with pretend(NINE):
        builders.mixed(run, owner, mix.key, amounts={str(row.number): f"{row.amount:f}" for row in mix.ingredients},
                       **({"lots": {"1": [["S1", f"{taken:f}"]]}} if lots_said else {}))
    line = sheet.lines.get(lot=shop.silver_lot)
    with pretend(NINE + timedelta(hours=1)):
        record_counts(sheet, everything_as_expected(sheet, line) | {line.pk: Decimal(500) - taken})
    with pretend(NINE + timedelta(hours=2)):
        builders.worked(run, owner, but=(mix.key,))
        finish_run(run=run, by=owner)
        post_count(sheet, owner)
    assert on_hand(shop.silver_lot) == 500 - taken
    assert audit() == []


def test_paper_is_entered_with_its_time_and_a_bare_number_is_in_the_stock_unit(at_helper, shop, owner):
    made = now()
    sheet = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
    with pretend(made + timedelta(hours=2)):
        use(shop.silver_lot, "20", owner)
    line, page = sheet.lines.get(lot=shop.silver_lot), f"/stockroom/counts/{sheet.pk}/"

    def entered(**sent):
        with pretend(made + timedelta(hours=3)):
            answer = at_helper.post(page, {f"line-{line.pk}": "498", **sent})
        line.refresh_from_db()
        return answer.content.decode()

    assert "Some of this lot moved since the sheet was made" in entered()
    early = entered(written_at=f"{made - timedelta(hours=9):%Y-%m-%dT%H:%M}")
    assert "The sheet was made after that" in early
    assert 'value="498"' in early
    assert line.counted is None
    entered(written_at=f"{made + timedelta(hours=1):%Y-%m-%dT%H:%M}")
    assert (line.counted, line.held_then) == (498, 500)
    entered()  # saved again, it keeps its moment
    assert line.held_then == 500


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
