"""Today asks the owner for a backup once there is something to lose, and nobody else."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from studio.house.clock import now, pretend, today
from studio.whole.backups.last_good import mark_good
from studio.whole.to_do import Rank
from studio.whole.today import gather


def _asked(person: object) -> list[str]:
    return [f"{task.what}. {task.why}" for task in gather(person, today()).tasks if task.rank == Rank.BACKUP]


def test_today_asks_for_a_backup_when_the_last_good_one_is_old(
    morning_workshop, owner, helper, at_owner, settings, tmp_path: Path,
) -> None:
    settings.DATA = tmp_path / "studio"
    settings.DATA.mkdir()
    assert _asked(owner) == []  # nothing but a recipe yet
    morning_workshop.order()
    began = now()
    with pretend(began + timedelta(days=10)):
        assert _asked(owner) == []
    with pretend(began + timedelta(days=20)):
        [said] = _asked(owner)
        assert said == ("Make a backup. There is none yet: what is written here would be lost with this machine.")
        assert _asked(helper) == []
        page = at_owner.get("/").content.decode()
        assert "Make a backup" in page
        assert 'href="/guides/backups/"' in page
        mark_good(now(), "daybook-x.tar")
        assert _asked(owner) == []
    with pretend(began + timedelta(days=27)):
        assert _asked(owner) == []
    with pretend(began + timedelta(days=28)):
        [said] = _asked(owner)
        assert "The last good one is of" in said
        settings.DATA = tmp_path / ".daybook-demo"
        assert _asked(owner) == []
    assert at_owner.get("/guides/backups/").status_code == 200
