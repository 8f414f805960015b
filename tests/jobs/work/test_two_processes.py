"""Two processes want the same last lot, or the same kept offcut: exactly one succeeds, on either database."""

from __future__ import annotations

import pytest

from tests.serving import at_one_moment, furnished, manage, own_database

LAST_LOT, LAST_OFFCUT = "tests.jobs.work.last_lot", "tests.jobs.work.last_offcut"


@pytest.mark.parametrize("same_run", [False, True], ids=["two runs, one lot", "one run sent twice"])
def test_the_last_lot_is_taken_once(tmp_path, same_run):
    with own_database(tmp_path, "daybook_last_lot") as environment:
        first, second = furnished(environment, LAST_LOT)
        said = at_one_moment(environment, LAST_LOT, "finish", (first, first if same_run else second))
        if same_run:
            assert said == ["finished", "finished"]
        else:
            assert said[1] == "finished"
            assert "Silver nitrate" in said[0]
            assert "nothing was saved" in said[0]
        assert "Everything ties." in manage(environment, "audit")
        finished = manage(environment, "shell", "--no-imports", "-c",
                          "from jobs.models import Run; print(Run.objects.filter(posting__isnull=False).count())")
        assert finished.strip() == "1"


def test_one_offcut_is_promised_once(tmp_path):
    with own_database(tmp_path, "daybook_last_offcut") as environment:
        said = at_one_moment(environment, LAST_OFFCUT, "book", furnished(environment, LAST_OFFCUT))
        assert said[1] == "booked"
        assert "Kept offcut 1 is no longer free" in said[0]
        assert "Everything ties." in manage(environment, "audit")
