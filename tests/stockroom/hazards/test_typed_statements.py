"""Statements as people type them, and as they stand on a sheet."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.stockroom.hazards.statements import CATEGORIES, HAZARD_STATEMENTS, PRECAUTIONS
from studio.stockroom.hazards.typed_statements import (
    StatementRefused,
    as_typed,
    read_hazard_statements,
    read_precautions,
)


@pytest.mark.parametrize(("typed", "codes"), [
    ("H314, H290", ["H314", "H290"]), ("h314 euh071", ["H314", "EUH071"]), ("", []), ("H314;H314", ["H314"]),
    ("H314 - Causes severe skin burns and eye damage.\nH335: May cause respiratory irritation.", ["H314", "H335"]),
    ("H302 + H312", ["H302+H312"]), ("H312+H302", ["H302+H312"]), ("H302/H312", ["H302", "H312"]),
    ("H290+H314", ["H290", "H314"]), ("H350I", ["H350i"]), ("H360FD", ["H360FD"]), ("H360Fd", ["H360Fd"]),
    ("Skin Corr. 1B, H314\nAquatic Acute 1, H400", ["H314", "H400"]), ("EUH 031", ["EUH031"]),
])
def test_hazard_statements_are_read(typed, codes):
    assert list(read_hazard_statements(typed).codes) == codes


@pytest.mark.parametrize(("typed", "named"), [
    ("H314, H999", "H999"), ("HH314", "HH314"), ("R35", "R35"), ("314", "314"), ("H3O1", "H3O1"), ("H31 H314", "H31"),
    ("H314H290", "H314H290"), ("P280", "P280"), ("Causes burns", "Causes burns"), ("H360fd", "H360FD or H360Fd"),
])
def test_what_is_no_hazard_statement_is_named(typed, named):
    with pytest.raises(StatementRefused) as refusal:
        read_hazard_statements(typed)
    assert named in str(refusal.value)


@pytest.mark.parametrize("typed", [
    "H272 (3), H314", "H272 category 3", "H272 cat. 3", "H272, 3", "Ox. Liq. 3, H272\nSkin Corr. 1A, H314",
    "H314 (1B) H272 (3)", "H272 - May intensify fire; oxidiser (category 3)",
])
def test_a_category_is_read_beside_its_statement(typed):
    assert read_hazard_statements(typed).categories == {"H272": "3"}


def test_a_category_of_another_statement_is_none_of_it():
    assert read_hazard_statements("H272, H314 (1B)").categories == {}
    assert read_hazard_statements("Acute Tox. 3, H331\nH272").categories == {}


@pytest.mark.parametrize(("typed", "codes"), [
    ("P280, P301+P330+P331", ["P280", "P301+P330+P331"]), ("p301 + p310", ["P301+P310"]),
    ("P412 Do not expose to temperatures exceeding 50 °C/122 °F.", ["P412"]),
    ("P302+P352+P310", ["P302+P352+P310"]), ("P370+P380+P375+[P378]", ["P370+P380+P375+[P378]"]),
])
def test_precautions_are_read(typed, codes):
    assert list(read_precautions(typed).codes) == codes


@pytest.mark.parametrize(("typed", "named"), [("P280 P999", "P999"), ("P301+P999", "P999"), ("H314", "H314"), ("S26", "S26")])
def test_what_is_no_precaution_is_named(typed, named):
    with pytest.raises(StatementRefused) as refusal:
        read_precautions(typed)
    assert named in str(refusal.value)


@given(st.lists(st.sampled_from(sorted(HAZARD_STATEMENTS)), unique=True), st.data())
def test_what_is_shown_back_reads_as_the_same(codes, data):
    given_too = {code: data.draw(st.sampled_from(sorted(CATEGORIES[code]))) for code in codes if code in CATEGORIES}
    typed = read_hazard_statements(as_typed(codes, given_too))
    assert (list(typed.codes), typed.categories) == (codes, given_too)


@pytest.mark.parametrize("dash", [" - ", ": ", " ", " – "])
def test_a_whole_sheet_is_pasted(dash):
    hazards = "\n".join(f"{code}{dash}{words}." for code, words in HAZARD_STATEMENTS.items())
    assert list(read_hazard_statements(hazards).codes) == list(HAZARD_STATEMENTS)
    precautions = "\n".join(f"{code}{dash}{words}." for code, words in PRECAUTIONS.items())
    assert list(read_precautions(precautions).codes) == list(PRECAUTIONS)


@pytest.mark.parametrize(("typed", "named"), [
    ("H373 (kidneys)", {"H373": "kidneys"}),
    ("H372 (respiratory  system, by inhalation), H314", {"H372": "respiratory system, by inhalation"}),
    ("H373 May cause damage to organs (liver) through prolonged or repeated exposure.\nH318 Causes serious eye damage",
     {"H373": "liver"}),
    ("H370 Causes damage to organs (or state all organs affected, if known)", {}),
    ("EUH208 (nickel sulfate)", {"EUH208": "nickel sulfate"}),
    ("H314 (severe), H272 (3)", {"H272": "3"}),
])
def test_what_a_sheet_names_is_kept_beside_its_statement(typed, named):
    """Organs and routes of H340 to H373 after CLP Annex III; a category stays a category."""
    read = read_hazard_statements(typed)
    assert read.categories == named
    assert read_hazard_statements(as_typed(read.codes, read.categories)) == read
