"""Work that takes longer than a request: asked for, done once by a worker, cancelled, seen by whoever may have it."""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape
from django_tasks_db.management.commands import db_worker
from django_tasks_db.models import DBTaskResult

from studio.house.changes import note_change
from studio.house.clock import now, pretend
from studio.house.long_work import beside, doing, files, kinds
from studio.house.long_work.asking import NotAsked, StillCancelling, ask, cancel, clear_what_came
from studio.house.long_work.doing import Course, do
from studio.house.long_work.hearts import gone, sweep, take_up_again
from studio.house.long_work.kinds import Came, Inputs, Kind
from studio.house.models import ChangeRecord, LongWork, LongWorker, Person
from studio.kit.errors import DaybookError
from studio.kit.roles import May
from studio.whole.book.save import book, canonical
from studio.whole.management.commands.long_work import StudioWorker
from tests import builders

pytestmark = pytest.mark.django_db
LATER = timedelta(minutes=1)


def counted(course: Course, inputs: Inputs) -> Came:
    """Count to three, and note in the record of changes that it was counted."""
    for done in range(3):
        course.at(done, 3, f"number {done + 1}")
        meanwhile(course)
    written = course.folder / "numbers"
    written.write_text("1 2 3")
    return Came(said="Counted to three.", lines=("one", "two", "three"), file=written, name="numbers.csv",
                media_type="text/csv", also=lambda: note("counted"))


def note(what: str) -> None:
    note_change(ChangeRecord.Kind.SETTINGS, "Counting", what)


def meanwhile(course: Course) -> None:
    """What happens while it counts: tests put something in its place."""


def counts() -> int:
    return ChangeRecord.objects.filter(subject="Counting").count()


@pytest.fixture(autouse=True)
def counting(monkeypatch) -> None:
    # a worker drops a connection that is inside a transaction: here that is the test's own
    monkeypatch.setattr(db_worker, "close_old_connections", lambda: None)
    monkeypatch.setattr(kinds, "_kinds", {**kinds._kinds, "counting": Kind(
        name="counting", title=lambda inputs: "Counting", needs=May.STUDIO, do=counted, lead="It counts.")})


@pytest.fixture
def asked(owner, house) -> LongWork:
    return ask(kind="counting", inputs={}, by=owner)


def let_work() -> None:
    """Let a worker do all that waits, as `manage.py long_work --all` does."""
    StudioWorker(queue_names=["default"], excluded_queue_names=[], interval=0, batch=True, backend_name="default",
                 startup_delay=False, max_tasks=None, worker_id="ada").run()


def killed(work: LongWork) -> None:
    """Leave the rows as a worker does that was killed while it counted."""
    DBTaskResult.objects.filter(pk=work.task).update(status="RUNNING", started_at=now(), worker_ids=["ada"])
    assert doing._begin(work.pk, "ada") is not None
    work.refresh_from_db()


def test_what_is_asked_for_is_done_and_its_file_is_there_after_a_restart(asked, at_owner):
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.said, asked.attempt, counts()) == ("done", "Counted to three.", 1, 1)
    page = at_owner.get(f"/going-on/{asked.pk}/").content.decode()
    assert "Counted to three." in page
    assert "<li>two</li>" in page
    assert "hx-trigger" not in page, "nothing changes any more: the page does not look again"
    answer = at_owner.get(f"/going-on/{asked.pk}/file/")
    assert b"".join(answer) == b"1 2 3"
    assert answer["Content-Disposition"] == 'attachment; filename="numbers.csv"'
    assert not list(files.home().glob("*.part"))


def test_the_same_work_is_open_once_and_can_be_asked_for_again_later(asked, owner):
    assert ask(kind="counting", inputs={}, by=owner) == asked
    let_work()
    assert ask(kind="counting", inputs={}, by=owner) != asked


def test_how_far_it_is_stands_on_both_pages(asked, at_owner, monkeypatch):
    seen = []

    def look(course: doing.Course) -> None:
        course.beat()
        for address in ("/going-on/", "/going-on/now/", f"/going-on/{asked.pk}/now/"):
            seen.append(at_owner.get(address, headers={"HX-Request": "true"}).content.decode())

    monkeypatch.setitem(globals(), "meanwhile", look)
    let_work()
    assert all('<progress max="3" value="1"' in page and "number 2" in page for page in seen[3:6])
    assert all("hx-trigger" in page and "<h1>" not in page for page in seen)


def test_what_waits_is_cancelled_at_once_and_is_not_done(asked, at_owner):
    assert "Counting is cancelled." in at_owner.post(f"/going-on/{asked.pk}/cancel/", follow=True).content.decode()
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.attempt, counts()) == ("cancelled", 0, 0)


def test_what_is_at_work_is_cancelled_where_it_next_tells_how_far_it_is(asked, at_owner, monkeypatch):
    def press(course: doing.Course) -> None:
        if course.told[0] == 1:
            assert "being cancelled" in at_owner.post(f"/going-on/{asked.pk}/cancel/", follow=True).content.decode()
            course.beat()

    monkeypatch.setitem(globals(), "meanwhile", press)
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.has_file, counts()) == ("cancelled", False, 0)


def test_what_a_killed_worker_left_is_taken_up_once_its_heart_has_stopped(asked):
    killed(asked)
    take_up_again()
    let_work()
    assert counts() == 0, "its heart has only just beaten"
    with pretend(now() + LATER):
        take_up_again()
        take_up_again()
        let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.attempt, asked.broke_off, counts()) == ("done", 2, 1, 1)


def test_of_a_worker_that_is_known_to_have_ended_nobody_waits_for_the_heart(asked):
    killed(asked)
    gone("ada")
    let_work()
    asked.refresh_from_db()
    assert (asked.state, counts()) == ("done", 1)


def test_a_worker_killed_before_it_began_leaves_work_that_is_sent_again(asked):
    DBTaskResult.objects.filter(pk=asked.task).update(status="RUNNING", started_at=now(), worker_ids=["ada"])
    take_up_again()
    let_work()
    assert counts() == 0
    with pretend(now() + LATER):
        take_up_again()
        let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.broke_off, counts()) == ("done", 0, 1)


def test_one_that_lost_its_work_to_another_writes_nothing(asked, monkeypatch):
    """Its heart stood still and it was taken for dead; another did the work meanwhile."""
    def overtaken(course: doing.Course) -> None:
        monkeypatch.setitem(globals(), "meanwhile", lambda course: None)
        with pretend(now() + LATER):
            take_up_again()
            do(asked.pk, worker="ben")

    monkeypatch.setitem(globals(), "meanwhile", overtaken)
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.worker, asked.attempt, counts()) == ("done", "ben", 2, 1)
    assert files.file_of(asked).read_text() == "1 2 3"


def test_work_that_kills_its_workers_is_given_up(asked, at_owner):
    for turn in range(3):
        with pretend(now() + turn * LATER):
            killed(asked)
        with pretend(now() + (turn + 1) * LATER):
            take_up_again()
        asked.refresh_from_db()
    assert asked.state == "given up"
    assert "interrupted 3 times" in at_owner.get("/going-on/").content.decode()


def test_a_worker_that_is_asked_to_end_puts_its_work_back(asked, monkeypatch):
    monkeypatch.setitem(globals(), "meanwhile", lambda course: doing.ending.set())
    do(asked.pk, worker="ada")
    doing.ending.clear()
    asked.refresh_from_db()
    assert (asked.state, asked.broke_off, counts()) == ("waiting", 0, 0)
    monkeypatch.setitem(globals(), "meanwhile", lambda course: None)
    let_work()
    asked.refresh_from_db()
    assert (asked.state, counts()) == ("done", 1)


@pytest.mark.parametrize(("broken", "said"), [
    (DaybookError("There is nothing to count."), "There is nothing to count."),
    (RuntimeError("a slip"), doing.BROKEN),
    (OSError(28, "no room"), "The disk is full"),
])
def test_what_breaks_says_so_and_leaves_nothing(asked, monkeypatch, at_owner, broken, said):
    def breaks(what: str) -> None:
        ChangeRecord.objects.create(at=now(), kind="settings", subject="Counting", what=what)
        raise broken

    monkeypatch.setitem(globals(), "note", breaks)
    let_work()
    asked.refresh_from_db()
    assert asked.state == "failed"
    assert asked.said.startswith(said)
    assert escape(asked.said) in at_owner.get(f"/going-on/{asked.pk}/").content.decode()
    assert counts() == 0, "what it changed and that it is done are one transaction"
    assert not list(files.home().iterdir())


def test_what_is_the_owners_is_seen_and_asked_for_by_no_other(asked, at_owner, at_helper, helper):
    let_work()
    desk = Client()
    clerk = builders.person("ilse", "desk")
    desk.force_login(clerk)
    assert "Counting" in at_owner.get("/going-on/").content.decode()
    page = desk.get("/going-on/").content.decode()
    assert "Counting" not in page
    assert "Audit" not in page
    assert "every paper of every job" in page
    key = {"key": builders.key()}
    for address in (f"/going-on/{asked.pk}/", f"/going-on/{asked.pk}/now/", f"/going-on/{asked.pk}/file/"):
        assert desk.get(address).status_code == 404
        assert at_helper.get(address).status_code == 403
    assert desk.post(f"/going-on/{asked.pk}/cancel/").status_code == 404
    assert desk.post("/going-on/ask/", {"kind": "audit"} | key).status_code == 404
    with pytest.raises(NotAsked):
        ask(kind="counting", inputs={}, by=clerk)


def test_whoever_may_not_have_it_any_more_gets_nothing(asked, owner):
    builders.person("nell", "owner")
    Person.objects.filter(pk=owner.pk).update(role="helper")
    let_work()
    asked.refresh_from_db()
    assert (asked.state, counts()) == ("failed", 0)


def test_the_page_says_when_nobody_is_there_to_do_it(asked, at_owner):
    assert "Nothing does long work just now." in at_owner.get("/going-on/").content.decode()
    LongWorker.objects.create(name="ada", process=1, started_at=now(), seen_at=now())
    assert "Nothing does long work just now." not in at_owner.get("/going-on/").content.decode()
    with pretend(now() + LATER):
        page = at_owner.get(f"/going-on/{asked.pk}/").content.decode()
    assert "Nothing does long work just now." in page
    assert "was last seen on" in page


def test_what_came_of_it_is_kept_for_some_days(asked, at_owner):
    let_work()
    asked.refresh_from_db()
    sweep()
    assert files.path_of(asked).exists()
    (files.home() / "99-1.part").mkdir()
    with pretend(now() + timedelta(days=files.KEPT_DAYS, hours=1)):
        sweep()
        answer = at_owner.get(f"/going-on/{asked.pk}/file/")
    assert answer.status_code == 422
    assert "ask for it again" in answer.content.decode()
    assert not list(files.home().iterdir())
    assert not DBTaskResult.objects.exists()
    asked.refresh_from_db()
    assert asked.lines == []


def test_when_somebody_is_forgotten_nothing_stays_of_what_it_brought(asked, owner, monkeypatch):
    let_work()
    other = ask(kind="counting", inputs={}, by=owner)
    monkeypatch.setitem(globals(), "meanwhile", lambda course: (clear_what_came(owner), course.beat()))
    let_work()
    sweep()
    other.refresh_from_db()
    assert (other.state, LongWork.objects.count(), list(files.home().iterdir())) == ("cancelled", 1, [])


def test_the_list_asks_no_more_the_longer_it_is(owner, house, at_owner):
    asked = []
    for many in (2, 10):
        for each in range(many):
            ask(kind="counting", inputs={"at": f"{many} {each}"}, by=owner)
        with CaptureQueriesContext(connection) as queries:
            at_owner.get("/going-on/")
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_what_has_ended_is_cancelled_by_nobody(asked, at_owner):
    let_work()
    assert "had ended before" in at_owner.post(f"/going-on/{asked.pk}/cancel/", follow=True).content.decode()
    asked.refresh_from_db()
    assert asked.state == "done"


def test_a_month_closed_is_one_file_that_the_desk_never_sees(at_owner, rates):
    page = at_owner.get("/jobs/money/month/").content.decode()
    sent = dict(re.findall(r'name="(first|last|key)" value="([^"]+)"', page[page.index("/jobs/money/month/all/"):]))
    work = at_owner.post("/jobs/money/month/all/", sent)["Location"]
    let_work()
    packed = ZipFile(BytesIO(b"".join(at_owner.get(f"{work}file/"))))
    assert {"requested.csv", "tax.csv", "stock.csv"} <= set(packed.namelist())
    desk = Client()
    desk.force_login(builders.person("ilse", "desk"))
    assert desk.get(work).status_code == 404
    assert desk.post("/jobs/money/month/all/", sent).status_code == 403


def test_the_book_the_audit_the_papers_and_the_week_are_done_as_the_commands_do_them(at_owner, owner, rates):
    builders.Workshop(owner).run()
    said = {}
    for kind in ("book", "audit", "papers", "week"):
        said[kind] = at_owner.post("/going-on/ask/", {"kind": kind, "key": builders.key()})["Location"]
    let_work()
    assert {row.kind: (row.state, row.said) for row in LongWork.objects.exclude(kind="book")} == {
        "audit": ("done", "Everything ties."), "papers": ("done", "3 papers."),
        "week": ("done", "Nothing better was found: the plan of the week stands as it is."),
    }
    packed = ZipFile(BytesIO(b"".join(at_owner.get(f"{said['book']}file/"))))
    assert packed.read("book.json").decode() == canonical(book())
    papers = ZipFile(BytesIO(b"".join(at_owner.get(f"{said['papers']}file/"))))
    assert all(papers.read(name).startswith(b"%PDF") for name in papers.namelist())


def test_what_is_cancelled_after_it_told_how_far_it_is_brings_nothing(asked, owner, monkeypatch):
    def cancelled(course: Course) -> None:
        if course.told[0] == 2:
            cancel(asked, owner)  # no beat comes between this and the end

    monkeypatch.setattr(f"{__name__}.meanwhile", cancelled)
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.part, asked.file_name, asked.lines, counts()) == ("cancelled", "", "", [], 0)
    assert not list(files.home().iterdir())


def test_a_cancel_is_kept_where_the_worker_ends(asked, owner, monkeypatch):
    def cancelled(course: Course) -> None:
        cancel(asked, owner)
        monkeypatch.setattr(doing.ending, "is_set", lambda: True)

    monkeypatch.setattr(f"{__name__}.meanwhile", cancelled)
    do(asked.pk, worker="ada")
    asked.refresh_from_db()
    assert asked.state == "cancelled"


def test_what_tells_nothing_for_long_is_put_back_before_it_is_ended(asked, monkeypatch):
    monkeypatch.setattr(f"{__name__}.meanwhile", lambda course: beside._put_back())
    do(asked.pk, worker="ada")
    asked.refresh_from_db()
    assert (asked.state, asked.broke_off, counts()) == ("waiting", 0, 0), "it was stopped, it did not break"


def test_a_database_that_is_held_at_the_end_throws_nothing_away(asked, monkeypatch):
    held, ends = [0], doing._end_now

    def first_held(*given: object) -> None:
        held[0] += 1
        if held[0] <= 2:
            raise OperationalError("database is locked")
        ends(*given)

    monkeypatch.setattr(doing, "_end_now", first_held)
    let_work()
    asked.refresh_from_db()
    assert (asked.state, asked.attempt, counts(), held[0]) == ("done", 1, 1, 3)


def test_what_is_being_cancelled_is_asked_for_again_later(asked, owner, at_owner):
    killed(asked)
    cancel(asked, owner)
    with pytest.raises(StillCancelling):
        ask(kind="counting", inputs={}, by=owner)


def test_the_folder_of_an_attempt_that_ended_is_swept(asked):
    let_work()
    left = files.home() / f"{asked.pk}-1.part"
    left.mkdir()
    sweep()
    assert not left.exists()
    assert files.path_of(LongWork.objects.get(pk=asked.pk)).exists()
