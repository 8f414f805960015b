"""Who works here: people come, change and go; the studio always keeps an owner; the door says what is wrong."""

from __future__ import annotations

import re

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from studio.house.models import Person, PersonAct
from studio.house.people import LastOwner, change_person, let_go
from tests import builders

pytestmark = pytest.mark.django_db


def told_password(page: str) -> str:
    found = re.search(r"[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}", page)
    assert found is not None
    return found[0]


def logged_in(name: str, password: str) -> Client:
    client = Client()
    assert client.post("/log-in/", {"username": name, "password": password}).status_code == 302
    return client


def test_somebody_new_gets_a_password_once_and_must_replace_it(at_owner, rates):
    sent = {"username": "ivy", "first_name": "Ivy", "last_name": "Marl", "role": "helper"}
    page = at_owner.post("/studio/people/", sent, follow=True)
    assert page["Cache-Control"] == "no-store"
    password = told_password(page.content.decode())
    assert password not in at_owner.get("/studio/people/").content.decode()
    ivy = logged_in("ivy", password)
    assert ivy.get("/")["Location"] == "/password/"
    assert ivy.get("/stockroom/")["Location"] == "/password/"
    same = ivy.post("/password/", {"old_password": password, "new_password1": password, "new_password2": password})
    assert "choose another" in same.content.decode()
    own = {"old_password": password, "new_password1": "fern-and-slate", "new_password2": "fern-and-slate"}
    assert ivy.post("/password/", own).status_code == 302
    assert ivy.get("/").status_code == 200
    assert [act.what for act in PersonAct.objects.filter(person__username="ivy")] == ["changed the own password", "was added as helper"]


def test_a_log_in_name_is_somebodys_once_however_it_is_written(at_owner, helper):
    refused = at_owner.post("/studio/people/", {"username": "Teo", "role": "helper"})
    assert refused.status_code == 422
    assert "Somebody has that log-in name" in refused.content.decode()


def test_the_page_of_a_one_time_password_loaded_again_makes_no_other(at_owner, helper, rates):
    told = at_owner.post(f"/studio/people/{helper.pk}/password/")["Location"]
    password = told_password(at_owner.get(told).content.decode())
    again = at_owner.get(told, follow=True).content.decode()
    assert "was shown once" in again
    assert password not in again
    assert logged_in("teo", password).get("/")["Location"] == "/password/", "it still is the one that was told"
    assert PersonAct.objects.filter(what="was given a one-time password").count() == 1


def test_somebody_logs_in_however_the_name_is_capitalised(owner, rates):
    assert Client().post("/log-in/", {"username": "Maud", "password": "maud-password"}).status_code == 302
    assert Client().post("/log-in/", {"username": "maud", "password": "Maud-Password"}).status_code == 422
    with pytest.raises(IntegrityError), transaction.atomic():
        Person.objects.create(username="MAUD")


def test_whoever_is_let_go_is_out_with_the_next_page_and_told_so_at_the_door(at_owner, at_helper, helper, rates):
    assert at_helper.get("/").status_code == 200
    at_owner.post(f"/studio/people/{helper.pk}/let-go/")
    assert at_helper.get("/")["Location"].startswith("/log-in/")
    right = Client().post("/log-in/", {"username": "teo", "password": "teo-password"})
    assert "ask the owner to let you back in" in right.content.decode()
    wrong = Client().post("/log-in/", {"username": "teo", "password": "guess"})
    assert "ask the owner to let you back in" not in wrong.content.decode(), "only the right password is told"
    password = told_password(at_owner.post(f"/studio/people/{helper.pk}/let-back-in/", follow=True).content.decode())
    assert logged_in("teo", password).get("/")["Location"] == "/password/"


def test_a_new_password_ends_what_the_old_one_opened(at_owner, at_helper, helper, rates):
    password = told_password(at_owner.post(f"/studio/people/{helper.pk}/password/", follow=True).content.decode())
    assert at_helper.get("/")["Location"].startswith("/log-in/")
    assert Client().post("/log-in/", {"username": "teo", "password": "teo-password"}).status_code == 422
    logged_in("teo", password)


@pytest.mark.parametrize("way", ["helper", "gone"])
def test_the_last_owner_stays_by_page_by_service_and_by_database(at_owner, owner, helper, rates, way):
    builders.person("una", "owner")
    let_go(Person.objects.get(username="una").pk, by=owner)
    if way == "helper":
        refused = at_owner.post(f"/studio/people/{owner.pk}/", {"first_name": "Maud", "last_name": "", "role": "helper"})
        with pytest.raises(LastOwner):
            change_person(owner.pk, by=owner, first_name="", last_name="", role="helper")
    else:
        refused = at_owner.post(f"/studio/people/{owner.pk}/let-go/")
        with pytest.raises(LastOwner):
            let_go(owner.pk, by=owner)
    assert refused.status_code == 422
    assert "the only owner who can log in" in refused.content.decode()
    change = {"helper": {"role": "helper"}, "gone": {"is_active": False}}[way]
    with pytest.raises(IntegrityError, match="last owner"), transaction.atomic():
        Person.objects.filter(pk=owner.pk).update(**change)
    owner.refresh_from_db()
    assert owner.is_owner
    assert owner.is_active


def test_one_of_two_owners_may_become_a_helper_and_that_is_kept(at_owner, owner, rates):
    una = builders.person("una", "owner")
    saved = at_owner.post(f"/studio/people/{una.pk}/", {"first_name": "Una", "last_name": "Sedge", "role": "helper"})
    assert saved.status_code == 302
    una.refresh_from_db()
    assert (una.name, una.role) == ("Una Sedge", "helper")
    page = at_owner.get(f"/studio/people/{una.pk}/").content.decode()
    assert "is now helper, was owner" in page
    assert "is now called Una Sedge" in page


def test_a_helper_changes_nobody(at_helper, owner, rates):
    for way in ("", "let-go/", "let-back-in/", "password/"):
        assert at_helper.post(f"/studio/people/{owner.pk}/{way}", {"role": "helper"}).status_code == 403
    assert not PersonAct.objects.exists()


def test_the_door_says_in_plain_words_what_is_wrong(client, owner, rates):
    page = client.get("/log-in/").content.decode()
    assert "Log-in name" in page
    assert "Username" not in page
    refused = client.post("/log-in/", {"username": "maud", "password": "MAUD-PASSWORD"})
    assert refused.status_code == 422
    for word in ("That name and password do not go together", "Caps Lock is off", "asks the owner"):
        assert word in refused.content.decode()
    assert "Write your password." in client.post("/log-in/", {"username": "maud"}).content.decode()


def test_no_more_questions_with_more_people(at_owner, rates, django_assert_num_queries):
    at_owner.get("/studio/people/")
    for at in range(12):
        builders.person(f"p{at}", "helper")
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as many:
        at_owner.get("/studio/people/")
    Person.objects.filter(username__startswith="p").delete()
    with django_assert_num_queries(len(many)):
        at_owner.get("/studio/people/")
