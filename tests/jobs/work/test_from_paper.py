"""What the blanks of a printed ticket say is typed in on one page: blank is not done, never as planned."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.http import QueryDict

from jobs.models import RunEntry
from jobs.work.bench import bench_state, used_of_lots
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.paper_entry import Paper, PaperRefused, enter_paper
from jobs.work.ticketing import plan_of
from studio.house.clock import pretend
from studio.house.form_keys import NAME
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db
EVENING = builders.TEN.replace(year=2036) + timedelta(hours=8)


@pytest.fixture
def run(owner, rates):
    shop = builders.Workshop(owner)
    builders.lot(shop.silver, "300", owner, "S2", "450")
    return shop.run(shop.line(quantity=2, own_panes_to_start=2))


@pytest.fixture
def mixes(run):
    return {mix.solution: mix for mix in plan_of(run.ticket).mixes}


def sent(client, run, **typed):
    with pretend(EVENING):
        return client.post(f"/bench/{run.pk}/from-paper/", {
            NAME: str(builders.key()), "day": f"{EVENING:%Y-%m-%d}", **typed})


def silver_written(mixes, lot="s2"):
    """The silver part as its blanks were filled in: a little more than printed, of another jar."""
    mix = mixes["Silver part"]
    name = f"mix-{mix.key}"
    return {f"{name}-at": "10:15", **{f"{name}-amount_{row.number}": f"{row.amount * 9 / 8:.3f}" for row in mix.ingredients},
            f"{name}-lot_1": lot}


def test_the_blanks_are_recorded_as_written_with_their_times(run, mixes, at_helper, owner):
    page = at_helper.get(f"/bench/{run.pk}/from-paper/").content.decode()
    assert page.index(f"mix-{mixes['Sealer, neat'].key}-at") < page.index(f"mix-{mixes['Silver part'].key}-at")  # job first
    reducer, sealer = f"mix-{mixes['Reducer'].key}", f"mix-{mixes['Sealer, neat'].key}"
    answer = sent(at_helper, run, **silver_written(mixes), **{
        f"{reducer}-at": "10:05", f"{reducer}-as_printed": "on", "conditions-air_c": "19", "conditions-humidity_percent": "55",
        "glass-clear-4-mm-sheets": "1", "pane-1.1-outcome": "good", "pane-1.2-outcome": "spoilt",
        "pane-1.2-because": "dust", "time-helper": "85", "time-owner": "0", "safe-at": "11:20",
        "safe-treated": builders.SPRAYED_SAFE, "safe-procedure": "Written procedure 1"})
    assert answer.status_code == 302
    state = bench_state(run)
    by_name = {mix.mix.solution: mix for mix in state.mixes}
    silver = by_name["Silver part"]
    assert f"{silver.at:%H:%M}" == "10:15"
    assert used_of_lots(state)["silver-nitrate", "S2"] == silver.amount_of(1) > mixes["Silver part"].ingredients[0].amount
    assert by_name["Reducer"].as_written
    assert by_name["Sealer, neat"].made is None  # blank, and nobody said that this is all
    clock = clocks_of(run).get()
    assert (f"{clock.started_at:%H:%M}", f"{clock.made_safe.done_at:%H:%M}") == ("10:15", "11:20")
    assert [pane.outcome for pane in state.panes] == ["good", "spoilt"]
    assert sealer in at_helper.get(f"/bench/{run.pk}/from-paper/").content.decode()
    sent(at_helper, run, that_is_all="on")
    assert bench_state(run).missing == []
    assert {mix.mix.solution: mix.made for mix in bench_state(run).mixes}["Sealer, neat"] is False
    with pretend(EVENING):
        finish_run(run=run, by=owner)
    assert audit() == []


def test_a_blank_is_never_taken_as_planned(run, mixes, at_helper):
    name = f"mix-{mixes['Silver part'].key}"
    answer = sent(at_helper, run, **{f"{name}-at": "10:15", f"{name}-lot_1": "S1"})
    assert answer.status_code == 422
    assert "Blank: write what was used" in answer.content.decode()
    assert not RunEntry.objects.exists()
    sent(at_helper, run, that_is_all="on")
    state = bench_state(run)
    assert {mix.made for mix in state.mixes} == {False}
    assert {pane.outcome for pane in state.panes} == {"not started"}
    assert state.sheets == {"clear-4-mm": 0}
    assert not clocks_of(run).exists()


@pytest.mark.parametrize(("wrong", "says"), [
    ({"lot": "S9"}, "There is no lot S9 of Silver nitrate."), ({"at": "23:50"}, "still to come"),
    ({"at": ""}, "Write when it was mixed: its clock starts then."), ({"at": "quarter past"}, "Write the time, for instance 10:15."),
])
def test_what_cannot_be_stands_beside_its_blank_and_nothing_is_saved(run, mixes, at_helper, wrong, says):
    typed = silver_written(mixes, wrong.get("lot", "S2"))
    if "at" in wrong:
        typed[f"mix-{mixes['Silver part'].key}-at"] = wrong["at"]
    answer = sent(at_helper, run, **typed, **{"pane-1.1-outcome": "good"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert says.lower() in page.lower()
    amount = typed[f"mix-{mixes['Silver part'].key}-amount_1"]
    assert f'value="{amount}"' in page
    assert not RunEntry.objects.exists()


def test_made_safe_before_it_was_mixed_is_refused_beside_its_time(run, mixes, at_helper):
    answer = sent(at_helper, run, **silver_written(mixes), **{
        "safe-at": "09:00", "safe-treated": builders.SPRAYED_SAFE, "safe-procedure": "Written procedure 1"})
    assert answer.status_code == 422
    assert "at" in answer.context["paper"].safe.errors
    assert not RunEntry.objects.exists()


def test_sent_twice_it_counts_once(run, mixes, at_helper):
    key = str(builders.key())
    answers = [sent(at_helper, run, **silver_written(mixes), **{NAME: key}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert RunEntry.objects.filter(kind="mixed").count() == 1


def test_what_the_bench_recorded_meanwhile_is_not_passed_over_in_silence(run, mixes, at_helper, owner):
    """The page stood open while the tablet recorded the same mix: what was typed of it is told, the rest kept."""
    with pretend(EVENING - timedelta(hours=6)):
        builders.mixed(run, owner, mixes["Silver part"].key)
    typed = silver_written(mixes) | {"time-helper": "85", "time-owner": "0"}
    answer = sent(at_helper, run, **typed)
    assert answer.status_code == 422
    assert "Recorded at the bench meanwhile: Silver part." in answer.content.decode()
    assert 'value="85"' in answer.content.decode()
    assert not run.entries.filter(kind="time").exists()
    assert sent(at_helper, run, **{"time-helper": "85", "time-owner": "0"}).status_code == 302


def test_a_blank_that_is_recorded_while_the_page_is_read_stays_recorded(run, mixes, owner):
    with pretend(EVENING):
        paper = Paper(run, QueryDict(f"day={EVENING:%Y-%m-%d}&that_is_all=on"))
        builders.mixed(run, owner, mixes["Reducer"].key)
        with pytest.raises(PaperRefused, match="recorded at the bench just now"):
            enter_paper(paper, by=owner, key=builders.key())
    assert next(mix for mix in bench_state(run).mixes if mix.mix.solution == "Reducer").made is True
