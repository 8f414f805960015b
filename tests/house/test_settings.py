"""Studio settings in groups: each is saved alone, nothing of another is lost, and a second editor is shown both."""

from __future__ import annotations

import re
from datetime import time
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from jobs.quotes.paper import quote_context, render_quote
from jobs.quotes.quoting import save_quote
from studio.house.kept_files import read
from studio.house.mark import NoMark, mark_from
from studio.house.models import House, StoredFile
from studio.house.settings_views import GROUPS
from tests import builders

pytestmark = pytest.mark.django_db


def as_shown(client: Client, group: str) -> dict[str, object]:
    """Return what a group's form would send, untouched."""
    page = client.get(f"/studio/{group}/").context
    sent = {field.html_name: field.value() for field in page["form"] if field.value() not in (None, False)}
    return {**sent, "saves": House.objects.get().saves, "opened_as": page["opened_as"]}


def picture(kind: str = "PNG", size: tuple[int, int] = (1600, 400), **more: object) -> SimpleUploadedFile:
    made = BytesIO()
    Image.new("RGBA" if kind == "PNG" else "RGB", size, "#27455E").save(made, kind, **more)
    return SimpleUploadedFile(f"sign.{kind.lower()}", made.getvalue())


def test_every_setting_stands_in_one_group():
    columns = {field.name for field in House._meta.fields} - {"id", "saves"}
    named = [name for group in GROUPS for name in group.saves]
    assert sorted(named) == sorted(columns)


@pytest.mark.parametrize("group", [group.name for group in GROUPS])
def test_a_group_saved_untouched_changes_nothing(at_owner, house, group):
    House.objects.update(hours_monday="08:00-17:00", terms="Thirty days.", waste_days_open=5, address="1 Moss Row\nEbb")
    before = House.objects.values().get()
    assert at_owner.post(f"/studio/{group}/", as_shown(at_owner, group)).status_code == 302
    assert {**House.objects.values().get(), "saves": 0} == {**before, "saves": 0}


def test_two_who_change_two_groups_are_not_in_each_others_way(at_owner, house):
    mine, theirs = as_shown(at_owner, "identity"), as_shown(at_owner, "papers")
    una = Client()
    una.force_login(builders.person("una", "owner"))
    assert una.post("/studio/papers/", {**theirs, "terms": "Thirty days."}).status_code == 302
    assert at_owner.post("/studio/identity/", {**mine, "phone": "0100 7"}).status_code == 302
    saved = House.objects.get()
    assert (saved.terms, saved.phone) == ("Thirty days.", "0100 7")


def test_saving_a_group_over_somebody_else_is_refused_with_both_shown(at_owner, house):
    opened = as_shown(at_owner, "identity")
    assert at_owner.post("/studio/identity/", {**opened, "name": "First"}).status_code == 302
    late = at_owner.post("/studio/identity/", {**opened, "name": "Second"})
    assert late.status_code == 422
    assert "First now reads name “First”" in late.content.decode()
    assert "Second" in late.content.decode()
    assert House.objects.get().name == "First"
    assert at_owner.post("/studio/identity/", {**opened, "name": "Second", "saves": House.objects.get().saves}).status_code == 302
    assert House.objects.get().name == "Second"


def test_the_limit_of_ammoniacal_silver_has_a_limit(at_owner, house):
    for wrong, sentence in (("241", "240"), ("0", "1")):
        refused = at_owner.post("/studio/safety/", {**as_shown(at_owner, "safety"), "ammoniacal_limit_minutes": wrong})
        assert refused.status_code == 422
        assert sentence in refused.content.decode()
    assert at_owner.post("/studio/safety/", {**as_shown(at_owner, "safety"), "ammoniacal_limit_minutes": "90"}).status_code == 302
    assert at_owner.post("/studio/safety/", {**as_shown(at_owner, "safety"), "ammoniacal_limit_minutes": ""}).status_code == 302
    assert House.objects.get().ammoniacal_limit_minutes == 90


def test_a_week_is_typed_once_and_ticked_down(at_owner, house):
    sent = {**as_shown(at_owner, "time"), "hours_monday": "8 to 17.30"}
    ticked = {f"as_above_{day}": "on" for day in ("tuesday", "wednesday", "thursday")}
    assert at_owner.post("/studio/time/", {**sent, **ticked, "hours_friday": "8-12"}).status_code == 302
    saved = House.objects.get()
    assert [saved.working_hours[at] for at in (0, 1, 2, 3)] == [(time(8), time(17, 30))] * 4
    assert saved.working_hours[4] == (time(8), time(12))
    assert saved.working_hours[5:] == [None, None]
    both = at_owner.post("/studio/time/", {**as_shown(at_owner, "time"), "hours_friday": "9-11", "as_above_friday": "on"})
    assert "Type hours, or tick" in both.content.decode()
    wrong = at_owner.post("/studio/time/", {**as_shown(at_owner, "time"), "hours_monday": "17-8"})
    assert "ends before it begins" in wrong.content.decode()


def test_a_making_safe_procedure_shorter_than_a_sentence_is_asked_about_once(at_owner, house):
    asked = at_owner.post("/studio/safety/", {**as_shown(at_owner, "safety"), "making_safe_procedure": "x"})
    assert asked.status_code == 422
    assert "shorter than a sentence" in asked.content.decode()
    tick = asked.context["form"].fields["making_safe_procedure"].question
    meant = {**as_shown(at_owner, "safety"), "making_safe_procedure": "x", tick.name: tick.value}
    assert at_owner.post("/studio/safety/", meant).status_code == 302
    assert House.objects.get().making_safe_procedure == "x"
    left = {**as_shown(at_owner, "safety"), "spill_procedure": "Sand."}
    assert at_owner.post("/studio/safety/", left).status_code == 302, "what stands is not asked about again"
    emptied = at_owner.post("/studio/safety/", {**as_shown(at_owner, "safety"), "making_safe_procedure": " "})
    assert "do not leave it empty" in emptied.content.decode()


def test_a_mark_stands_on_quotes_to_come_and_can_be_removed(at_owner, owner, rates):
    shop = builders.Workshop(owner)
    before = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    assert at_owner.post("/studio/papers/", {**as_shown(at_owner, "papers"), "picture": picture()}).status_code == 302
    mark = House.objects.get().mark
    assert mark is not None
    assert Image.open(BytesIO(read(mark))).size == (1200, 300)
    assert at_owner.post("/studio/papers/", {**as_shown(at_owner, "papers"), "terms": "Cash."}).status_code == 302
    assert House.objects.get().mark == mark, "a save without a picture leaves it"
    after = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    assert quote_context(after)["wording"]["house"]["mark"] == mark.sha256
    assert not quote_context(before)["wording"]["house"]["mark"]
    assert b"/Image" in render_quote(after)
    assert b"/Image" not in render_quote(before)
    at_owner.post("/studio/papers/", {**as_shown(at_owner, "papers"), "no_mark": "on"})
    assert House.objects.get().mark is None
    assert StoredFile.objects.filter(pk=mark.pk).exists(), "a quote that was saved with it keeps it"


@pytest.mark.parametrize("content", [
    b"", b"GIF89a", b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", b"\x89PNG\r\n\x1a\nhalf",
])
def test_what_is_no_picture_is_no_mark(content):
    with pytest.raises(NoMark):
        mark_from(content)


def test_nothing_but_pixels_is_left_of_a_mark(at_owner, house):
    exif = Image.Exif()
    exif[0x010E] = "at the back door"
    sent = picture("JPEG", (300, 200), exif=exif)
    assert b"back door" in sent.read()
    sent.seek(0)
    assert b"back door" not in mark_from(sent.read())
    refused = at_owner.post("/studio/papers/", {**as_shown(at_owner, "papers"), "picture": picture(size=(8, 8))})
    assert "too small to print" in refused.content.decode()


@pytest.mark.parametrize(("group", "wrong", "question"), [
    ("safety", {"ammoniacal_limit_minutes": "1"}, "That is 1 minute,"), ("waste", {"waste_days_open": "9000"}, "9000 days"),
    ("time", {"hours_monday": "8:00-8:10"}, "08:00-08:10, an unusual day"),
])
def test_an_unusual_setting_is_asked_about_once(at_owner, house, group, wrong, question):
    sent = as_shown(at_owner, group) | wrong
    asked = at_owner.post(f"/studio/{group}/", sent)
    assert asked.status_code == 422
    page = asked.content.decode()
    assert question in page
    (field,) = wrong
    name, mark = re.search(rf'name="({field}_meant_so)" value="([0-9a-f]+)"', page).groups()
    assert at_owner.post(f"/studio/{group}/", sent | {name: mark}).status_code == 302
