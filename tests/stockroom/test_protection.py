"""What to wear, by class and by hazard statement together."""

from __future__ import annotations

import pytest

from studio.stockroom.hazards.classes import REACTS_AS, UNCLASSED
from studio.stockroom.protection import PROTECTION, STATEMENTS, UNKNOWN, protection_for


def test_every_class_has_its_row_and_only_water_asks_for_nothing():
    assert PROTECTION.keys() == REACTS_AS.keys()
    assert [code for code in REACTS_AS if not protection_for([code])] == ["water"]


@pytest.mark.parametrize("code", ["H314", "H318", "H314+H330"])
def test_what_burns_asks_for_face_and_apron(code):
    assert {"goggles and face shield", "apron"} <= set(protection_for([], [code]))
    assert "goggles" not in protection_for([], [code])


@pytest.mark.parametrize("code", ["H330", "H331", "H332", "H333", "H334", "H335", "H300+H330"])
def test_what_is_breathed_asks_for_extraction_and_breathing_protection(code):
    assert {"extraction on", "breathing protection as chosen for this studio"} <= set(protection_for([], [code]))


def test_fluoride_and_aldehyde_and_the_unknown():
    assert protection_for(["fluoride"])[:3] == ["owner only, with trained first aid", "never alone", "calcium gluconate gel on hand"]
    assert "nitrile gloves, changed often" in protection_for(["aldehyde", "caustic"])
    assert "nitrile gloves" not in protection_for(["aldehyde", "caustic"])
    assert protection_for([UNCLASSED]) == [UNKNOWN]
    assert UNKNOWN in protection_for(["silver_salt", UNCLASSED], ["H314"])


def test_letters_after_a_number_do_not_hide_it():
    assert protection_for([], ["H360FD"]) == protection_for([], ["H360"]) != []


def test_more_is_never_less():
    """Adding a class or a statement never takes protection away, save for the lesser that a stronger says already."""
    for code in REACTS_AS:
        for statement in STATEMENTS:
            both = protection_for([code], [statement])
            for word in protection_for([code]):
                assert word in both or any(word.split()[-1] in more for more in both)


def test_what_is_neither_classed_nor_water_has_gloves_and_goggles():
    assert protection_for([], chemical=True) == ["nitrile gloves", "goggles"]
    assert protection_for(["water"]) == []
