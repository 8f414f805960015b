"""No minutes at all on a run is asked about once, beside the field."""

from __future__ import annotations

import pytest

from jobs.work.bench import bench_state
from studio.house.form_keys import NAME
from tests import builders

pytestmark = pytest.mark.django_db


def test_no_minutes_at_all_is_asked_once(at_helper, owner, rates):
    shop = builders.Workshop(owner)
    run = shop.run(shop.line(quantity=1))
    page, sent = f"/bench/{run.pk}/time/", {"helper": "0", "owner": "0"}
    asked = at_helper.post(page, {NAME: str(builders.key()), **sent})
    assert "did nobody spend any time?" in asked.content.decode()
    assert bench_state(run).minutes == {}
    tick = asked.context["time_form"].fields["helper"].question
    at_helper.post(page, {NAME: str(builders.key()), **sent, tick.name: tick.value})
    assert bench_state(run).minutes == {"helper": 0, "owner": 0}
    at_helper.post(page, {NAME: str(builders.key()), "helper": "0", "owner": "25"})
    assert bench_state(run).minutes["owner"] == 25
