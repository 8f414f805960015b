"""The printed ticket, read as it is printed: mixes above their steps, nothing lost, few sides; A4 and Letter."""

from __future__ import annotations

from io import BytesIO

import pytest
from django.core.management import call_command
from pypdf import PdfReader

from jobs.models import Job, Quote, Run, WorkTicket
from jobs.templatetags.ticket_words import pour
from jobs.work.ticket_paper import ticket_context
from jobs.work.ticketing import fresh_ticket, plan_of
from jobs.work.work_plan import MixCard, work_plan
from studio.house.models import House, Person, StoredFile
from studio.house.paper import render_pdf
from studio.house.templatetags.figures import amount
from studio.whole.book.load import load_file
from tests import builders
from tests.jobs.work.ten_mirrors import ten_mirrors
from tests.whole.test_book import BOOK

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def sides(ticket: WorkTicket, paper: str = "A4") -> list[str]:
    """Return the words of each side, as they are read from top to bottom."""
    pdf = PdfReader(BytesIO(render_pdf("jobs/work/documents/ticket.html", ticket_context(ticket) | {"paper_size": paper})))
    return [" ".join(page.extract_text().split()) for page in pdf.pages]


def check_order_of_hand(ticket: WorkTicket, printed: list[str]) -> None:
    """Read a ticket as a helper does: every mix, amount, lot and step stands there, each mix before its step."""
    words = " ".join(printed)
    plan = plan_of(ticket)
    work = work_plan(plan)
    at = 0
    for card in work.cards:
        if isinstance(card, MixCard):
            at = words.index(f"{card.letter} {card.mix.solution}", at)
            for row in card.mix.ingredients:
                found = words.index(row.name, at)
                assert words.index(amount(row.to_measure), found) >= 0
            for making in card.makings:
                for row in making.ingredients:
                    assert all(pick.lot_number in words for pick in row.picks), (making.solution, row.name, row.picks)
        else:
            assert card.step.name in words[at:], (card.step.number, card.step.name, words[at:at + 600])
            at = words.index(card.step.name, at)
            for poured in card.poured:
                assert f"{poured.letter} {pour(poured.load_ml)} mL" in words[at:]
                if len(poured.pane_ml) > 1:
                    assert all(f"{pour(volume)} mL" in words[at:] for _, volume in poured.panes_alike)
    for pane in plan.panes:
        assert pane.label in words
    for glass in plan.glass:
        assert all(pick.lot_number in words for pick in glass.picks)


def test_every_ticket_of_the_demo_has_its_mixes_above_its_steps():
    """Eight panes in three loads on at most seven sides; ten small mirrors on at most thirteen; on both papers."""
    load_file(BOOK)
    owner = Person.objects.filter(role="owner").first()
    most = {4: 7, 6: 13}
    for job in Job.objects.exclude(quote=None).exclude(state="cancelled").order_by("number"):
        ticket = fresh_ticket(job=job, by=owner)
        for paper in ("A4", "Letter") if job.number in most else ("A4",):
            printed = sides(ticket, paper)
            check_order_of_hand(ticket, printed)
            assert len(printed) <= most.get(job.number, 8), (job.number, paper, len(printed))


def test_ten_mirrors_of_two_finishes_are_on_thirteen_sides_at_most():
    load_file(BOOK)
    owner = Person.objects.get(role="owner")
    ticket = fresh_ticket(job=ten_mirrors(owner), by=owner)
    assert len(work_plan(plan_of(ticket)).loads) >= 3
    for paper in ("A4", "Letter"):
        printed = sides(ticket, paper)
        check_order_of_hand(ticket, printed)
        assert len(printed) <= 13, (paper, len(printed))


def test_a_ticket_has_one_title_and_a_bookmark_a_load(workshop):
    ticket = workshop.run(workshop.line(quantity=3)).ticket
    pdf = PdfReader(BytesIO(render_pdf("jobs/work/documents/ticket.html", ticket_context(ticket))))
    titles = [entry["/Title"] for entry in pdf.outline if not isinstance(entry, list)]
    assert titles == ["Work ticket 1-1"]
    below = [entry["/Title"] for part in pdf.outline if isinstance(part, list) for entry in part
             if not isinstance(entry, list)]
    assert [title for title in below if title.startswith("Load")] == [
        f"Load {load.load.number} of {len(work_plan(plan_of(ticket)).loads)}" for load in work_plan(plan_of(ticket)).loads]


def test_all_papers_are_written_and_nothing_is_recorded(workshop, tmp_path):
    """Given a job on the bench and a booked one, their papers lie in the folder, and the studio is as it was."""
    workshop.run(workshop.line(quantity=2))
    workshop.booked(workshop.line(quantity=1))
    before = [model.objects.count() for model in (Quote, WorkTicket, Run, StoredFile)]
    call_command("save_papers", tmp_path / "papers", verbosity=0)
    names = sorted(path.name for path in (tmp_path / "papers").iterdir())
    assert names == ["job-1-hall-mirror-quote-1-1.pdf", "job-1-hall-mirror-ticket-1.pdf",
                     "job-1-hall-mirror-ticket-fresh.pdf", "job-2-hall-mirror-quote-2-1.pdf",
                     "job-2-hall-mirror-ticket-fresh.pdf"]
    assert all((tmp_path / "papers" / name).read_bytes().startswith(b"%PDF") for name in names)
    assert [model.objects.count() for model in (Quote, WorkTicket, Run, StoredFile)] == before
    assert not WorkTicket.objects.exclude(paper=None).exists()


def test_what_one_pane_takes_of_its_own_is_said(workshop, owner):
    """Two sizes in one load: each has its own amount at each step, and the sheet says what is left in the jug."""
    ticket = workshop.run(workshop.line("300 x 300 mm", 2, 1), workshop.line("200 x 400 mm", 1, 2)).ticket
    words = " ".join(sides(ticket))
    done = [card for load in work_plan(plan_of(ticket)).loads for card in load.steps if card.poured]
    assert any(len(poured.panes_alike) > 1 for card in done for poured in card.poured)
    for card in done:
        for poured in card.poured:
            for labels, volume in poured.panes_alike:
                assert pour(volume) in words
                assert all(label in words for label in labels)
    assert "left in jug" in words


def test_the_ticket_says_by_when_its_silver_is_made_safe_as_the_alarm_rings(workshop):
    """Given four hours allowed and a day that ends at six, where silver is mixed the paper says both."""
    House.objects.update(ammoniacal_limit_minutes=240, hours_monday="08:00-18:00")
    printed = " ".join(" ".join(sides(workshop.run().ticket)).split())
    assert "Made safe within 4 h of mixing, and before 18:00; after hours within 2 h. Mixed at" in printed
