"""What a label shows of a material's hazards: the published table, and what stands aside for what."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.stockroom.hazards.statements import (
    CATEGORIES,
    HAZARD_STATEMENTS,
    MOST_PRECAUTIONS,
    PICTOGRAMS,
    PRECAUTIONS,
    Classification,
    follows_from,
    is_precaution,
    label_elements,
    on_the_label,
    precaution_in_words,
)

PUBLISHED = json.loads(Path(__file__).with_name("published_labels.json").read_text(encoding="utf-8"))["materials"]
ENTRIES = [row for row in PUBLISHED if "annex_vi" in row]


def of(*statements: str, **more):
    return label_elements([Classification(statements=statements, **more)])


def test_the_whole_list_is_there():
    assert len(PUBLISHED) == 54
    assert len(ENTRIES) == 33


@pytest.mark.parametrize("row", ENTRIES, ids=lambda row: row["name"])
def test_the_published_entry_has_our_label(row):
    """CLP Annex VI, Table 3, 17th adaptation: statements of the class in, those of the label out."""
    entry = row["annex_vi"]
    label = of(*entry["statements"], categories=row.get("categories", {}))
    assert set(label.pictograms) == set(entry["pictograms"])
    assert label.signal_word == entry["signal_word"]
    assert set(label.codes) == set(entry["label_statements"])


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row["name"])
def test_a_material_of_the_trade_has_its_label(row):
    label = of(*row["statements"], categories=row.get("categories", {}))
    assert {"statements": list(label.codes), "pictograms": list(label.pictograms), "signal_word": label.signal_word} == {
        **row["label"], "statements": sorted(row["label"]["statements"], key=lambda code: (code.startswith("EUH"), code))}


def test_every_statement_can_be_on_a_label():
    """H332, EUH031 and most others once ended in an error."""
    for code in HAZARD_STATEMENTS:
        assert of(code).codes == (code,)
    together = of(*HAZARD_STATEMENTS)
    assert together.signal_word == "Danger"
    assert "GHS07" not in together.pictograms


@pytest.mark.parametrize(("code", "category", "word", "pictograms"), [
    ("H207", "2", "Danger", ("GHS02",)), ("H207", "3", "Warning", ("GHS02",)),
    ("H221", "1B", "Danger", ("GHS02",)), ("H221", "2", "Warning", ()),
    ("H228", "1", "Danger", ("GHS02",)), ("H228", "2", "Warning", ("GHS02",)),
    ("H242", "D", "Danger", ("GHS02",)), ("H242", "E", "Warning", ("GHS02",)),
    ("H261", "2", "Danger", ("GHS02",)), ("H261", "3", "Warning", ("GHS02",)),
    ("H272", "2", "Danger", ("GHS03",)), ("H272", "3", "Warning", ("GHS03",)),
])
def test_six_statements_need_their_category(code, category, word, pictograms):
    follows = follows_from([code], {code: category})
    assert (follows.signal_word, follows.pictograms, follows.undecided) == (word, pictograms, ())


def test_without_its_category_the_graver_is_taken_and_it_says_so():
    assert set(CATEGORIES) == {"H207", "H221", "H228", "H242", "H261", "H272"}
    for code in CATEGORIES:
        assert follows_from([code]).signal_word == "Danger"
        assert follows_from([code]).undecided == (code,)


@pytest.mark.parametrize(("statements", "shown", "why"), [
    (["H301", "H315"], ["GHS06"], "beside the skull no exclamation mark at all"),
    (["H301", "H317"], ["GHS06"], "not for an allergy either"),
    (["H314", "H319"], ["GHS05"], "corrosion says skin and eyes"),
    (["H318", "H315"], ["GHS05"], "skin irritation beside eye damage"),
    (["H314", "H302"], ["GHS05", "GHS07"], "harmful if swallowed is more than corrosion"),
    (["H314", "H312"], ["GHS05", "GHS07"], "harmful through skin: once dropped"),
    (["H314", "H332"], ["GHS05", "GHS07"], "harmful if inhaled: once dropped"),
    (["H314", "H302+H332"], ["GHS05", "GHS07"], "the same in a combined statement"),
    (["H314", "H317"], ["GHS05", "GHS07"], "an allergy"), (["H314", "H335"], ["GHS05", "GHS07"], "the airways"),
    (["H314", "H336"], ["GHS05", "GHS07"], "drowsiness"), (["H314", "H420"], ["GHS05", "GHS07"], "the ozone layer"),
    (["H290", "H319"], ["GHS05", "GHS07"], "corrosion of metals says nothing of eyes"),
    (["H334", "H317"], ["GHS08"], "asthma says allergy"), (["H334", "H315", "H319"], ["GHS08"], "and irritation"),
    (["H334", "H302"], ["GHS07", "GHS08"], "but not poison"), (["H334", "H335"], ["GHS07", "GHS08"], "nor the airways"),
    (["H350", "H317"], ["GHS07", "GHS08"], "health hazard for cancer leaves the allergy standing"),
    (["H334", "H314", "H317"], ["GHS05", "GHS08"], "each takes its own reason away"),
    (["H201", "H225", "H272"], ["GHS01", "GHS02", "GHS03"], "what may be left out beside the bomb stays"),
    (["H220", "H280"], ["GHS02", "GHS04"], "and the cylinder beside the flame"),
    (["H205"], [], "division 1.5 has none"), (["H412"], [], "nor has a lesser hazard to water"),
])
def test_pictograms_stand_aside(statements, shown, why):
    assert list(of(*statements).pictograms) == shown, why


@pytest.mark.parametrize(("statements", "shown"), [
    (["H314", "H318", "H315", "H319"], ["H314"]), (["H318", "H319"], ["H318"]),
    (["H410", "H400", "H411", "H412"], ["H410"]), (["H411", "H400"], ["H400", "H411"]),
    (["EUH071", "H335"], ["EUH071"]), (["H335", "H336"], ["H335", "H336"]),
    (["H300", "H301", "H302"], ["H300"]), (["H311", "H312", "H302"], ["H302", "H311"]), (["H330", "H332"], ["H330"]),
    (["H301+H311", "H301", "H312"], ["H301+H311"]), (["H302+H312", "H301"], ["H301", "H312"]),
    (["H225", "H226"], ["H225"]), (["H350", "H351"], ["H350"]), (["H372", "H373"], ["H372"]),
    (["H360D", "H361f"], ["H360D", "H361f"]), (["H360FD", "H360D", "H361d"], ["H360FD"]),
    (["EUH031", "H314"], ["H314", "EUH031"]),
])
def test_statements_stand_aside_only_for_a_plain_repeat(statements, shown):
    assert list(of(*statements).codes) == shown


def test_danger_drives_out_warning():
    label = label_elements([Classification(statements=("H302",)), Classification(statements=("H225",))])
    assert label.signal_word == "Danger"
    assert of("H411").signal_word == ""
    assert of("H410").signal_word == "Warning"


def test_each_bottle_in_a_mix_keeps_its_own_category():
    weak = Classification(statements=("H272",), categories={"H272": "3"})
    assert label_elements([weak]).signal_word == "Warning"
    assert label_elements([weak, Classification(statements=("H272",), categories={"H272": "2"})]).signal_word == "Danger"


def test_what_the_owner_raises_counts_before_precedence():
    assert of("H302", pictograms=("GHS08",), signal_word="Danger").pictograms == ("GHS07", "GHS08")
    assert of("H302", signal_word="Danger").signal_word == "Danger"
    assert of("H314", signal_word="Warning").signal_word == "Danger"
    assert of("H302", pictograms=("GHS06",)).pictograms == ("GHS06",)
    assert of("H314", pictograms=("GHS07",)).pictograms == ("GHS05",)
    assert of(pictograms=("GHS05", "GHS07")).pictograms == ("GHS05", "GHS07")


@given(st.sets(st.sampled_from(sorted(HAZARD_STATEMENTS))), st.sampled_from(sorted(HAZARD_STATEMENTS)),
       st.sets(st.sampled_from(sorted(PICTOGRAMS))))
def test_one_more_statement_never_makes_a_label_milder(statements, another, raised):
    before = of(*statements, pictograms=tuple(raised))
    after = of(*statements, another, pictograms=tuple(raised))
    assert set(before.pictograms) - set(after.pictograms) <= {"GHS07"}
    assert ["", "Warning", "Danger"].index(after.signal_word) >= ["", "Warning", "Danger"].index(before.signal_word)
    if "GHS07" in before.pictograms and "GHS07" not in after.pictograms:
        assert set(after.pictograms) & {"GHS05", "GHS06", "GHS08"}


def test_six_precautions_are_on_a_label_and_first_aid_for_burns_always():
    nitrate = ["P210", "P220", "P260", "P273", "P280", "P303+P361+P353", "P305+P351+P338", "P310", "P501", "P405"]
    shown = on_the_label(nitrate, ["H272", "H314", "H410"])
    assert len(shown) == MOST_PRECAUTIONS
    assert {"P280", "P303+P361+P353", "P305+P351+P338", "P310"} <= set(shown)
    aid = ["P301+P310", "P302+P352", "P303+P361+P353", "P304+P340", "P305+P351+P338", "P308+P313", "P320"]
    assert set(aid) == set(on_the_label([*aid, "P501"], ["H300"]))
    assert len(on_the_label([*aid, "P501"], ["H319"])) == MOST_PRECAUTIONS
    assert on_the_label(["P301", "P310", "P301+P310"], ["H301"]) == ("P301+P310",)


def test_every_precaution_has_words():
    assert all(is_precaution(code) and precaution_in_words(code) for code in PRECAUTIONS)
    assert precaution_in_words("P302+P352+P310") == (
        "IF ON SKIN: Wash with plenty of water/…. Immediately call a POISON CENTER/doctor/…")
    assert not is_precaution("P301+P999")


@pytest.mark.parametrize(("code", "printed"), [
    ("P310", "Immediately call a POISON CENTER/doctor"), ("P231+P232", "Handle and store contents under inert gas. Protect from moisture"),
    ("P353", "Rinse skin with water or shower"), ("P264", "Wash thoroughly after handling"), ("P230", "Keep wetted with …"),
    ("P411", "Store at temperatures not exceeding … °C/… °F"), ("P261", "Avoid breathing dust/fume/gas/mist/vapours/spray"),
])
def test_a_label_prints_what_can_be_read(code, printed):
    """Room for a supplier's further choices is left out; what must be filled in stays."""
    assert of("H302", precautions=(code,)).precautions == (printed,)


# The codes of UN GHS Rev. 10 (2023), Annex 3, and the EUH codes of CLP Annex II as two public transcriptions give
# them (MIT and Apache licensed chemistry packages, read in November 2026; none of them is where our list came from).
CODES_ELSEWHERE = """
H200-H208 H220-H232 H240-H242 H250-H252 H260 H261 H270-H272 H280-H284 H290 H300-H305 H310-H320 H330-H336 H340 H341
H350 H351 H360-H362 H370-H373 H400-H402 H410-H413 H420
EUH001 EUH006 EUH014 EUH018 EUH019 EUH029 EUH031 EUH032 EUH044 EUH059 EUH066 EUH070 EUH071 EUH201 EUH201A
EUH202-EUH209 EUH209A EUH210 EUH401
P101-P103 P201-P203 P210-P212 P220-P223 P230-P236 P240-P244 P250 P251 P260-P265 P270-P273 P280-P285 P301-P322
P330-P338 P340-P342 P350-P354 P360-P364 P370-P378 P380 P381 P390 P391 P401-P407 P410-P413 P420 P422 P501-P503
P231+P232 P264+P265 P235+P410 P301+P310 P301+P312 P301+P316 P301+P317 P301+P330+P331 P302+P317 P302+P334
P302+P335+P334 P302+P350 P302+P352 P302+P361+P354 P303+P361+P353 P304+P312 P304+P317 P304+P340 P304+P341
P305+P351+P338 P305+P354+P338 P306+P360 P308+P316 P307+P311 P308+P311 P308+P313 P309+P311 P332+P313 P332+P317
P333+P317 P336+P317 P337+P317 P342+P316 P333+P313 P335+P334 P337+P313 P342+P311 P361+P364 P362+P364 P370+P376
P370+P378 P370+P380 P370+P380+P375 P371+P380+P375 P370+P372+P380+P373 P402+P404 P403+P233 P403+P235 P410+P403
P410+P412 P411+P235
"""


def codes_elsewhere():
    for word in CODES_ELSEWHERE.split():
        if "-" not in word:
            yield word
            continue
        first, last = word.split("-")
        letters = first.rstrip("0123456789")
        yield from (f"{letters}{number:03}" for number in range(int(first[len(letters):]),
                                                               int(last[len(letters):]) + 1))


def test_every_code_of_lists_kept_elsewhere_can_be_entered():
    unknown = [code for code in codes_elsewhere()
               if code not in HAZARD_STATEMENTS and not is_precaution(code)]
    assert unknown == []


def test_a_label_says_which_organs():
    kidneys, lungs = (Classification(statements=("H373",), categories={"H373": organ}) for organ in ("kidneys", "lungs"))
    words, = label_elements([kidneys, lungs]).statements
    assert words == "May cause damage to organs through prolonged or repeated exposure (kidneys, lungs)"
    words, = label_elements([Classification(statements=("EUH208",), categories={"EUH208": "nickel"})]).statements
    assert words == "Contains nickel. May produce an allergic reaction"
