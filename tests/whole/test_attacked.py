"""What an attacker who read the program tried: each shut."""

from __future__ import annotations

import logging
from pathlib import Path

import pytest
from django.test import Client

from jobs.orders.reading import read_letter
from studio.house.clock import today
from studio.house.log_file import LONGEST, WithoutContacts, left_out
from studio.house.models import ChangeRecord, HouseRates, Person, PersonAct
from studio.house.people import change_person, let_go, note, replace_own_password, reset_password
from studio.house.second_step import NotTheCode, check_code
from studio.kit.errors import DaybookError
from studio.whole.backups import making
from tests import builders
from tests.house.test_rates import as_shown

pytestmark = pytest.mark.django_db


def kept(message: str) -> str:
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, "Not Found: %s", (message,), None)
    return WithoutContacts("{message}", style="{").format(record)


def test_no_address_fills_the_log():
    assert len(kept("/" + "a" * 80_000)) < LONGEST + 50


def test_a_row_that_was_refused_leaves_nothing_of_itself_in_the_log():
    said = ("refused\nDETAIL:  Failing row contains (1, Jane Smith, 12 High Street\nYork, 44).\nTraceback (most recent "
            "call last):\n  x")
    assert left_out(said) == "refused\nDETAIL: (left out)\nTraceback (most recent call last):\n  x"
    for number in ("(212) 555-0199", "212-555-0199", "6 12 34 56 78", "+44 20 7946 0018"):
        assert left_out(f"call {number} now") == "call (number) now"
    for stays in ("2026-11-27T10:00:05+0000 WARNING", "job 123456", "192.168.100.200", "/jobs/1234567/"):
        assert left_out(stays) == stays


@pytest.mark.parametrize("meanwhile", [
    lambda pk, owner: let_go(pk, by=owner), lambda pk, owner: reset_password(pk, by=owner),
], ids=["let go", "reset"])
def test_a_new_password_brings_back_nobody_who_was_let_go_or_reset_meanwhile(owner, helper, meanwhile):
    typed = Person.objects.get(pk=helper.pk)
    meanwhile(helper.pk, owner)
    with pytest.raises(DaybookError, match="nothing was saved"):
        replace_own_password(typed, "grit-and-felt-wheels")
    assert not Person.objects.get(pk=helper.pk).check_password("grit-and-felt-wheels")


def test_a_new_password_brings_back_no_role(owner, helper):
    typed = Person.objects.get(pk=helper.pk)
    change_person(helper.pk, by=owner, first_name="", last_name="", role="desk")
    replace_own_password(typed, "grit-and-felt-wheels")
    assert Person.objects.get(pk=helper.pk).role == "desk"


def test_the_old_password_is_tried_as_often_as_at_the_door_and_no_oftener(at_helper, house):
    sent = {"old_password": "guessed", "new_password1": "moss-on-old-glass", "new_password2": "moss-on-old-glass"}
    for _ in range(5):
        assert at_helper.post("/password/", sent).status_code == 422
    refused = at_helper.post("/password/", sent | {"old_password": "teo-password"})
    assert refused.status_code == 422
    assert "Too many wrong tries" in refused.content.decode()


def test_the_desk_does_not_see_what_a_job_cost_so_far(morning_workshop):
    run = morning_workshop.run()
    client = Client()
    client.force_login(builders.person("ilse", "desk"))
    page = client.get(f"/jobs/{run.ticket.job.number}/").content.decode()
    assert "Spent so far" not in page
    client.force_login(morning_workshop.owner)
    assert "Spent so far" in client.get(f"/jobs/{run.ticket.job.number}/").content.decode()


@pytest.mark.parametrize("letter", ["1x" * 5000, "1 x " * 3000, "cm 1 x " * 900])
def test_a_letter_of_nothing_but_sizes_is_read_to_its_end(letter):
    assert read_letter(letter) is not None


def test_what_is_asked_for_is_as_long_as_somebody_looks_for(at_owner, rates):
    builders.material("Salt", storage_place="A")
    for address in ("/jobs/?q=", "/jobs/customers/?q=", "/stockroom/storage/place/?name=", "/studio/changes/?q=",
                    "/find/?q=", "/stockroom/?q="):
        for text in ("a" * 60_000, "a+" * 1_500):
            assert at_owner.get(address + text).status_code < 500, address


def test_a_log_in_name_of_sixty_thousand_letters_is_refused(house, owner):
    refused = Client().post("/log-in/", {"username": "a" * 60_000, "password": "x"})
    assert refused.status_code == 422
    assert "No log-in name is that long." in refused.content.decode()


@pytest.mark.parametrize("cookie", ['"\\000aaaaaaaaaaaa"', "é" * 32, "a b" * 12, "'" * 32])
def test_a_cookie_of_anything_is_nobodys_session(house, owner, cookie):
    client = Client()
    client.cookies.load("sessionid=x")
    client.cookies["sessionid"] = cookie
    assert client.get("/").status_code == 302


def test_edges_that_change_with_new_rates_are_kept(at_owner, rates):
    sent = as_shown(at_owner)
    at_owner.post("/studio/rates/", {**sent, "effective_from": "in 3 weeks", "edge-0-minutes_per_m": "99"})
    assert HouseRates.objects.count() == 2
    told = ChangeRecord.objects.filter(kind="rates", what__startswith="Edges").get().what
    assert "99 min a metre" in told


def test_the_backup_just_made_stays_whatever_a_clock_named_before(tmp_path: Path):
    made = tmp_path / "daybook-2026-11-27-030000.tar"
    others = [tmp_path / f"daybook-{name}-030000.tar" for name in ("2026-11-24", "2026-11-25", "2031-01-01", "2031-01-02")]
    for path in (made, *others):
        path.touch()
    making._drop_older(tmp_path, 2, but=made)
    assert sorted(path.name for path in tmp_path.glob("daybook-*")) == [
        "daybook-2026-11-25-030000.tar", made.name, "daybook-2031-01-01-030000.tar", "daybook-2031-01-02-030000.tar"]


def test_records_that_come_as_a_form_are_refused(morning_workshop, at_helper):
    run = morning_workshop.run()
    answer = at_helper.post(f"/bench/{run.pk}/steps/records/", {"records": "x"})
    assert answer.status_code == 400


def test_what_is_done_about_somebody_fits_whatever_they_are_called(owner, helper):
    note(helper, owner, "is now called " + "x" * 300)
    assert len(PersonAct.objects.get().what) == 200


def test_a_wrong_code_is_kept_with_whose_it_was(helper):
    with pytest.raises(NotTheCode):
        check_code(helper, "123456")
    change = ChangeRecord.objects.get(kind="door")
    assert (change.subject, change.what, change.at.date()) == ("teo", "wrong code", today())


@pytest.mark.parametrize(("address", "status"), [
    ("/finishes/trials/?finish=%C2%B2", 200), ("/finishes/trials/?finish=no-such-finish", 200), (f"/guides/{'a' * 300}/", 404),
])
def test_what_is_not_there_is_asked_for_by_an_odd_name(at_owner, address, status):
    assert at_owner.get(address).status_code == status


@pytest.mark.parametrize("job", ["--5", "\t", "1e40000000", "9" * 30])
def test_an_order_of_no_job_is_not_found(at_owner, job):
    for address in ("/jobs/price-now/", "/jobs/lines/another/", "/jobs/lines/0/merge/", "/week/ready/"):
        assert at_owner.post(address, {"job": job}).status_code == 404, address


def test_a_choice_by_a_number_that_no_column_holds_is_refused(at_owner, house, rates):
    sent = {"small_size_text": "300 x 400 mm", "large_size_text": "1000 x 1200 mm", "finishes": ["9" * 30]}
    answer = at_owner.post("/swatch-book/", sent)
    assert answer.status_code == 422
    assert "Choose" in str(answer.context["form"].errors["finishes"])


def test_a_record_of_the_bench_that_names_no_place_there_is_kept_within_its_bounds(at_owner, owner, rates):
    """What it is of as far as its column, and the way back no longer than an address: on either database."""
    run = builders.Workshop(owner).run()
    noted = at_owner.post(f"/bench/{run.pk}/steps/record/", {
        "key": str(builders.key()), "kind": "note", "subject": "a" * 5000, "next": "b" * 20_000, "text": "pinholes in the middle"})
    assert noted.status_code == 302
    assert len(noted["Location"]) < 200
    assert [entry.subject for entry in run.entries.all()] == ["a" * 40]
