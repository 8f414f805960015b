"""The settings of the week: hours of each by weekday, holidays, days that differ, and what counts before they are saved."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import uuid4

import pytest

from studio.house.models import ChangeRecord, House
from studio.house.week import days_from, hours_of, the_week
from studio.house.week_forms import WeekForm
from studio.house.week_models import DayApart, StudioWeek
from studio.kit.public_holidays import public_holidays
from studio.kit.working_hours import NoHours, parse_spells, show_spells
from tests import builders

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 11, 30)
NINE_TO_FOUR = ((540, 750), (780, 960))


def as_shown() -> dict[str, object]:
    form = WeekForm(instance=the_week())
    return {field.html_name: field.value() for field in form if field.value() not in (None, False)} | {"saves": the_week().saves}


@pytest.mark.parametrize(("typed", "kept"), [
    ("8-12:30, 13-17", "08:00-12:30, 13:00-17:00"), ("9am to 1pm and 2-6pm", "09:00-13:00, 14:00-18:00"), ("", ""), ("8-12, 1-5", "08:00-12:00, 13:00-17:00"), ("10-14", "10:00-14:00"),
])
def test_hours_of_a_day_are_read_with_their_breaks(typed, kept):
    assert show_spells(parse_spells(typed)) == kept


@pytest.mark.parametrize("typed", ["8-13, 11:30-13:30", "25-26", "noon", "6-7,8-9,10-11,12-13,14-15"])
def test_what_is_no_day_is_refused_in_a_sentence(typed):
    with pytest.raises(NoHours):
        parse_spells(typed)


def test_before_anybody_saved_it_the_week_follows_the_studio(house):
    builders.rates(hands=2, benches=3, bench_day_minutes=400)
    week = the_week()
    assert week.bench_names == ["Bench 1", "Bench 2", "Bench 3"]
    assert sum((ends.hour - begins.hour) * 60 + ends.minute - begins.minute for begins, ends in week.hours("helper", 0)) == 400
    assert [bool(week.hours("owner", day)) for day in range(7)] == [True] * 5 + [False] * 2
    House.objects.update(hours_wednesday="10:00-14:00")
    week = the_week()
    assert [show_spells(week.hours("owner", day)) for day in range(7)] == ["", "", "10:00-14:00", "", "", "", ""]
    assert not StudioWeek.objects.exists()


def test_a_holiday_is_off_an_extra_day_is_not_and_a_person_comes_before_the_studio(house):
    hours = {f"{who}_{day}": "9-12:30, 13-16" for who in ("owner", "helper") for day in ("monday", "tuesday", "wednesday", "thursday", "friday")}
    week = StudioWeek(country="GB", region="ENG", **hours)
    christmas, saturday = date(2026, 12, 25), date(2026, 12, 12)
    rows = [
        DayApart(who="studio", first_on=saturday, last_on=saturday, spells="8-12", because="the fair"),
        DayApart(who="helper", first_on=MONDAY, last_on=MONDAY + timedelta(days=1)),
        DayApart(who="studio", first_on=MONDAY, last_on=MONDAY, spells="9-12", because="stocktaking"),
    ]
    assert hours_of(week, [], christmas).spells == {"owner": (), "helper": ()}
    assert hours_of(week, [], christmas).because == public_holidays("GB", "ENG", 2026)[christmas]
    assert hours_of(week, rows, saturday).spells == {"owner": ((480, 720),), "helper": ((480, 720),)}
    monday = hours_of(week, rows, MONDAY)
    assert monday.spells == {"owner": ((540, 720),), "helper": ()}
    assert monday.because == "helper: day off, stocktaking"
    assert hours_of(week, rows, MONDAY + timedelta(days=2)).spells["helper"] == NINE_TO_FOUR


def test_a_region_without_its_country_is_refused(house, rates, at_owner):
    response = at_owner.post("/studio/week/", as_shown() | {"country": "GB", "region": "qq"})
    assert response.status_code == 422
    assert "no region with holidays of its own" in response.content.decode()


class TestThePage:
    def test_it_says_each_field_and_keeps_what_was_typed(self, house, rates, at_owner):
        page = at_owner.get("/studio/week/")
        assert page.status_code == 200
        assert not [field.label for field in page.context["form"] if not field.help_text]
        refused = at_owner.post("/studio/week/", as_shown() | {"owner_monday": "8-25", "benches": "Long bench"})
        assert refused.status_code == 422
        assert "8-25" in refused.content.decode()
        assert "Long bench" in refused.content.decode()
        assert not StudioWeek.objects.exists()

    def test_it_is_saved_and_the_second_of_two_is_shown_both(self, house, rates, at_owner):
        mine = as_shown()
        saved = at_owner.post("/studio/week/", mine | {"helper_friday": "8-12", "benches": "Window\nWall", "comes_share": "35"})
        assert saved.status_code == 302
        week = StudioWeek.objects.get()
        assert (week.helper_friday, week.bench_names, str(week.comes_share)) == ("08:00-12:00", ["Window", "Wall"], "0.350000")
        again = as_shown()
        assert at_owner.post("/studio/week/", again | {"benches": "Window"}).status_code == 302
        late = at_owner.post("/studio/week/", again | {"benches": "Wall"})
        assert late.status_code == 422
        assert "now reads" in late.content.decode()
        assert StudioWeek.objects.get().bench_names == ["Window"]
        assert ChangeRecord.objects.filter(subject="The week").exists()

    def test_a_day_off_counts_once_however_often_it_is_sent_and_is_taken_back(self, house, rates, at_owner):
        sent = {"key": str(uuid4()), "who": "studio", "first_on": "24 Dec 2026", "last_on": "", "spells": "8-12", "because": "half of Christmas Eve"}
        for _ in range(2):
            assert at_owner.post("/studio/week/days/", sent).status_code == 302
        row = DayApart.objects.get()
        assert (row.first_on, row.last_on, row.spells) == (date(2026, 12, 24), date(2026, 12, 24), "08:00-12:00")
        assert days_from(row.first_on, 1)[0].spells["owner"] == ((480, 720),)
        assert at_owner.post(f"/studio/week/days/{row.pk}/remove/").status_code == 302
        assert not DayApart.objects.exists()

    def test_days_the_wrong_way_round_are_refused_beside_their_field(self, house, rates, at_owner):
        refused = at_owner.post("/studio/week/days/", {"key": str(uuid4()), "who": "owner", "first_on": "24 Dec 2026", "last_on": "20 Dec 2026"})
        assert refused.status_code == 422
        assert "The last day comes before the first." in refused.content.decode()

    def test_nobody_but_the_owner_sees_it(self, house, rates, at_helper):
        assert at_helper.get("/studio/week/").status_code == 403
