"""The typefaces as a browser fetches them hold what the whole files hold, and what our pages are written in."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

STATIC = Path(__file__).parents[2] / "static"
WHOLE = {"serif/regular": "SourceSerifPro-Regular", "serif/semibold": "SourceSerifPro-Semibold",
         "serif/italic": "SourceSerifPro-It", "sans/regular": "SourceSansPro-Regular",
         "sans/semibold": "SourceSansPro-Semibold"}


def faces() -> dict[str, set[int]]:
    """Return the letters that each file is declared for."""
    found = {}
    for name, ranges in re.findall(r"fonts/([\w/-]+)\.woff2.*?unicode-range: ([^;]+);", (STATIC / "studio/faces.css").read_text(), re.S):
        ends = [each.strip().removeprefix("U+").split("-") for each in ranges.split(",")]
        found[name] = {letter for end in ends for letter in range(int(end[0], 16), int(end[-1], 16) + 1)}
    return found


@pytest.mark.parametrize("face", WHOLE)
@pytest.mark.parametrize("part", ["latin", "rest"])
def test_a_part_of_a_face_holds_each_of_its_letters_that_the_whole_has(face, part):
    whole = set(TTFont(STATIC / "fonts" / Path(face).parent / f"{WHOLE[face]}.ttf").getBestCmap())
    held = set(TTFont(STATIC / "fonts" / f"{face}-{part}.woff2").getBestCmap())
    assert held == whole & faces()[f"{face}-{part}"]
    assert len(held) > 90


def test_our_own_words_need_no_second_file():
    own = "".join(path.read_text() for path in (STATIC.parent / "templates").rglob("*.html"))
    for face in WHOLE:
        assert not {ord(letter) for letter in own} & faces()[f"{face}-rest"]
