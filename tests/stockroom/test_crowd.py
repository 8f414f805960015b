"""Four processes take from one small shelf at once: nothing falls below zero, nothing is lost, everything ties."""

from __future__ import annotations

import subprocess
import sys

from tests.serving import HOME, manage, own_database


def _start(environment, *words):
    return subprocess.Popen(
        [sys.executable, "-m", "tests.stockroom.crowd", *words], cwd=HOME, env=environment, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )


def test_a_crowd_at_the_shelf(tmp_path):
    with own_database(tmp_path, "daybook_crowd") as environment:
        furnished, errors = _start(environment, "furnish").communicate()
        assert furnished == "furnished\n", errors
        workers = [_start(environment, "work", str(number)) for number in range(4)]
        for worker in workers:
            assert worker.stdout.readline() == "ready\n"
        for worker in workers:
            worker.stdin.write("go\n")
            worker.stdin.flush()
        for worker in workers:
            said, errors = worker.communicate()
            assert said.startswith("refused "), errors
        # each use here belongs to no run, since there is none: the rest must tie
        printed = manage(environment, "shell", "--no-imports", "-c", """
from studio.whole.audit import audit
from studio.stockroom.models import Lot, LotLevel
print([one for one in audit() if "belongs to no run" not in one], LotLevel.objects.filter(on_hand__lt=0).count())
made = Lot.objects.filter(made_here=True)
print(len(set(made.values_list("lot_number", flat=True))) == made.count())
""")
        assert printed.split("\n")[:2] == ["[] 0", "True"]
