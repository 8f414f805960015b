"""The thick studio that is measured: every kind of thing, and nothing in it that the audit would find."""

from __future__ import annotations

import subprocess
import sys

from tests.serving import HOME, manage, own_database


def test_a_share_of_five_years_is_written_with_the_rules_standing(tmp_path):
    with own_database(tmp_path, "daybook_thick", "demo") as environment:
        subprocess.run([sys.executable, "-m", "tests.thick.fill", "0.01"], cwd=HOME, env=environment, check=True,
                       capture_output=True)
        assert manage(environment, "audit").strip().endswith("Everything ties.")
