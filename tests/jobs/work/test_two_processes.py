"""Two processes want the same last lot, or the same kept offcut: exactly one succeeds, on either database."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.serving import HOME, manage, own_database


def _start(environment, *words, scene="last_lot"):
    return subprocess.Popen(
        [sys.executable, "-m", f"tests.jobs.work.{scene}", *words], cwd=HOME, env=environment, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )


@pytest.mark.parametrize("same_run", [False, True], ids=["two runs, one lot", "one run sent twice"])
def test_the_last_lot_is_taken_once(tmp_path, same_run):
    with own_database(tmp_path, "daybook_last_lot") as environment:
        furnished, errors = _start(environment, "furnish").communicate()
        assert furnished, errors
        first, second = furnished.split()
        workers = [_start(environment, "finish", run) for run in (first, first if same_run else second)]
        for worker in workers:
            assert worker.stdout.readline() == "ready\n"
        for worker in workers:
            worker.stdin.write("go\n")
            worker.stdin.flush()
        said = sorted(worker.communicate()[0].strip() for worker in workers)
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
        furnished, errors = _start(environment, "furnish", scene="last_offcut").communicate()
        assert furnished, errors
        workers = [_start(environment, "book", job, scene="last_offcut") for job in furnished.split()]
        for worker in workers:
            assert worker.stdout.readline() == "ready\n"
        for worker in workers:
            worker.stdin.write("go\n")
            worker.stdin.flush()
        said = sorted(worker.communicate()[0].strip() for worker in workers)
        assert said[1] == "booked"
        assert "Kept offcut 1 is no longer free" in said[0]
        assert "Everything ties." in manage(environment, "audit")
