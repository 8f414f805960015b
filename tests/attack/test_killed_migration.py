"""A migration that is killed part-way is healed by what `make start` does, wherever it was; all the rest: `make attack`."""

from __future__ import annotations

import subprocess
import sys

from tests.attack.killed_migration import chosen
from tests.serving import HOME


def test_a_migration_killed_part_way_is_healed_by_the_next_start():
    said = subprocess.run([sys.executable, "-m", "tests.attack.killed_migration", "--chosen"], cwd=HOME,
                          capture_output=True, text=True, check=False)
    assert said.stdout.splitlines()[:-1] == [f"healed, killed {name}" for name, _ in chosen()], said.stdout + said.stderr
    assert said.returncode == 0
