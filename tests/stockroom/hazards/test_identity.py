"""What a material is tells how it reacts: by number with strength, by formula, by silver, by statements; never by name."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from studio.kit.formulas import FormulaUnknown, molar_mass, read_formula, share_by_mass
from studio.stockroom.hazards.cas_numbers import SUBSTANCES
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.identity import Identity, cas_check_digit_holds, disagreements, silver_content, told_by
from studio.stockroom.hazards.trade import listed, trade_materials, trade_sources
from studio.stockroom.storage import Stored, stored_together, wrong_place

#: the classifications as published: `source` in the file says where
PUBLISHED = json.loads(Path(__file__).with_name("published.json").read_text(encoding="utf-8"))["materials"]
NAMED = [row for row in PUBLISHED if row["basis"] != "generic"]


def told(**known: object) -> frozenset[str]:
    return told_by(Identity(**known)).classes  # type: ignore[arg-type]


def strength(row: dict) -> Fraction | None:
    return None if row["percent"] is None else Fraction(str(row["percent"])) / 100


@pytest.mark.parametrize("row", NAMED, ids=lambda row: row["name"])
def test_number_and_formula_each_tell_the_published_classes(row):
    assert told(cas=row["cas"], assay_share=strength(row), liquid=row["liquid"]) == set(row["classes"])
    if row["formula"]:
        assert told(formula=row["formula"], hydrate=row["hydrate"], assay_share=strength(row),
                    liquid=row["liquid"]) == set(row["classes"])


@pytest.mark.parametrize(("formula", "expected"), [
    ("Ag2SO4", {"silver_salt"}), ("AgC2H3O2", {"silver_salt"}), ("Ag2CO3", {"silver_salt", "carbonate"}),
    ("AgCl", {"silver_salt", "silver_chloride", "chloride"}), ("Ag", set()),
    ("[Ag(NH3)2]NO3", {"silver_salt", "ammonia", "nitrate", "oxidiser"}), ("NH4OH", {"ammonia"}),
    ("(NH4)2HPO4", {"ammonium"}), ("(NH4)2S2O8", {"ammonium", "oxidiser"}),
    ("Ba(OH)2·8H2O", {"caustic", "caustic_solid"}), ("CaO", {"caustic", "caustic_solid"}),
    ("H3PO4", {"acid", "acid_strong"}), ("HBr", {"acid", "acid_strong"}), ("H2SiF6", {"acid", "fluoride"}), ("NaHSO4", {"acid_reacting"}),
    ("C2H5COOH", {"acid", "organic_acid"}), ("Ca(ClO)2", {"hypochlorite", "oxidiser", "caustic", "chloride"}),
    ("KClO3", {"oxidiser"}), ("KNO2", {"nitrite", "oxidiser"}), ("K2S2O8", {"oxidiser"}), ("Na2O2", {"peroxide", "oxidiser", "caustic", "caustic_solid"}),
    ("2Na2CO3·3H2O2", {"carbonate", "peroxide", "oxidiser"}), ("FeSO4 7H2O", {"iron", "reducer", "acid_reacting"}),
    ("K2S4", {"sulfide", "caustic", "reducer"}), ("H2S", {"acid", "sulfide", "reducer"}), ("CuS", {"copper_salt", "sulfide", "reducer"}),
    ("K4Fe(CN)6.3H2O", {"cyanide_complex", "iron"}), ("NaCN", {"cyanide_complex"}), ("KF", {"fluoride"}), ("NaI", {"iodide"}),
    ("SnSO4", {"tin_salt", "reducer", "acid_reacting"}), ("CuCl2", {"copper_salt", "chloride", "acid_reacting"}),
    ("Na2C2O4", {"oxalate", "reducer"}), ("NaKC4H4O6", {"tartrate", "reducer"}), ("C2H5OH", {"alcohol", "flammable", "solvent"}),
    ("HCHO", {"aldehyde", "reducer"}), ("(CH3)2CHOH", {"alcohol", "flammable", "solvent"}), ("C7H8", {"flammable", "solvent"}), ("C2H2", {"acetylene", "flammable", "solvent"}),
    ("N2H4·2HCl", {"hydrazine", "reducer", "chloride", "acid_reacting"}), ("H2O", {"water"}), ("Na2SO4", set()), ("SiO2", set()),
])
def test_a_formula_tells_whatever_salt_it_is(formula, expected):
    assert told(formula=formula) == expected


@pytest.mark.parametrize(("cas", "weak", "percent"), [
    ("7647-01-0", "acid_strong", 25), ("7697-37-2", "acid_strong", 5), ("7664-93-9", "sulfuric_strong", 50),
    ("7722-84-1", "oxidiser", 8), ("64-19-7", "flammable", 80), ("7664-39-3", "acid_strong", 1), ("64-17-5", "flammable", 20),
])
def test_one_number_at_every_strength(cas, weak, percent):
    """Below the limit the class is not told, from it on it is; without strength the strongest is taken."""
    known = SUBSTANCES[cas]
    assert weak not in told(cas=cas, assay_share=Fraction(percent, 100) - Fraction(1, 1000))
    assert weak in told(cas=cas, assay_share=Fraction(percent, 100))
    assert told(cas=cas) == known.classes_at(None) >= {weak}
    formula = known.formulas[0].written
    assert told(cas=cas, formula=formula, assay_share=Fraction(1, 100)) == told(cas=cas, assay_share=Fraction(1, 100))


def test_the_other_dextrose_is_a_sugar():
    assert told(cas="492-62-6") == {"sugar"}


def test_corrosive_is_asked_what_it_is_whatever_else_is_known_of_it():
    """A solvent or an oxidiser that burns the skin may be an acid or a caustic: one class does not answer that."""
    for statements in (("H314",), ("H225", "H314"), ("H272", "H314")):
        assert any("which is it?" in said for said in told_by(Identity(statements=statements)).questions)
    known = (Identity(cas="7761-88-8", statements=("H314",)), Identity(statements=("H314",), added=frozenset({"acid"})))
    assert not any("which is it?" in said for each in known for said in told_by(each).questions)


def test_ammonia_and_bleach_are_what_they_are_at_every_strength():
    for cas, code in (("1336-21-6", "ammonia"), ("7681-52-9", "hypochlorite")):
        assert all(code in told(cas=cas, assay_share=share) for share in (None, Fraction(1, 1000), Fraction(3, 10)))


def test_silver_content_and_statements_tell():
    assert told(silver_g_per_unit=Fraction(1, 100)) == {"silver_salt"}
    assert told(formula="Ag", silver_g_per_unit=Fraction(1)) == set()
    assert told(statements=("H272", "H225", "EUH031")) == {"oxidiser", "flammable", "gas_with_acid"}
    told_once = told_by(Identity(cas="7761-88-8", formula="AgNO3", silver_g_per_unit=Fraction(6, 10), statements=("H272",)))
    assert told_once.why("silver_salt").startswith("CAS 7761-88-8 is silver nitrate; ")
    assert "H272" in told_once.why("oxidiser")


@pytest.mark.parametrize(("known", "question"), [
    ({"statements": ("H314",)}, "acid or a caustic"), ({"statements": ("H290",)}, "acid or a caustic"),
    ({"name": "Thick bleach"}, "“bleach”: does it react as hypochlorite"), ({"name": "Ammonia, household"}, "“Ammonia”"),
    ({"name": "Battery acid"}, "“acid”: does it react as acid"), ({"statements": ("EUH032",)}, "poisonous gas"),
    ({"formula": "mystery"}, "is not understood"), ({"cas": "1327-53-3"}, "not among the numbers known here"),
    ({"formula": "NaN3"}, "azide"), ({"name": "Tin(II) chloride dihydrate", "formula": "SnCl2"}, "molar mass"),
    ({"formula": "FeCl3·6H2O", "cas": "7705-08-0"}, "without water"), ({"statements": ("H201",)}, "can explode"),
])
def test_what_is_left_open_is_asked_and_not_guessed(known, question):
    answer = told_by(Identity(**known))
    assert any(question in asked for asked in answer.questions), answer.questions


def test_a_name_tells_no_class_and_asks_only_of_what_is_used_wet():
    named = told_by(Identity(name="Silver nitrate, ammonia, bleach and nitric acid"))
    assert named.classes == set()
    assert len(named.questions) == 5
    answered = told_by(Identity(name="Thick bleach", statements=("H314",), added=frozenset({"hypochlorite"})))
    assert (answered.classes, answered.questions) == (set(), ())
    assert told_by(Identity(name="Silver brush", kind="consumable")).questions == ()
    assert told_by(Identity(name="Silver nitrate", cas="7761-88-8")).questions == ()


def test_every_class_told_has_words_and_every_number_its_check_digit():
    codes = {code for known in SUBSTANCES.values() for code in known.classes_at(None)}
    assert codes <= REACTS_AS.keys()
    assert all(cas_check_digit_holds(cas) for cas in SUBSTANCES)
    for known in SUBSTANCES.values():
        for formula in known.formulas:  # what the number tells, its formula tells as well
            assert told(formula=formula.written) >= known.classes_at(None), known.name


@pytest.mark.parametrize(("known", "field", "sentence"), [
    ({"cas": "7761-88-8", "formula": "NaNO3"}, "formula", "is not silver nitrate, which CAS 7761-88-8 names"),
    ({"cas": "10025-69-1", "formula": "SnCl2"}, "formula", "write its formula SnCl2·2H2O"),
    ({"cas": "7758-99-8", "formula": "CuSO4", "hydrate": "trihydrate"}, "formula", "write its formula CuSO4·5H2O"),
    ({"formula": "SnCl2·2H2O", "hydrate": "dihydrate"}, "hydrate", "said twice"), ({"formula": "Xy"}, "formula", "not understood"),
    ({"formula": "AgNO3", "silver_g_per_unit": Fraction("0.65")}, "silver_g_per_unit", "63.5 % silver"),
    ({"formula": "NaCl", "silver_g_per_unit": Fraction("0.01")}, "silver_g_per_unit", "0 % silver"),
    ({"silver_g_per_unit": Fraction("1.2")}, "silver_g_per_unit", "more silver than it weighs"),
])
def test_what_cannot_be_is_said_beside_its_field(known, field, sentence):
    found = [(refusal.field, str(refusal)) for refusal in disagreements(Identity(**known))]
    assert [place for place, _ in found] == [field]
    assert sentence in found[0][1]


@pytest.mark.parametrize("known", [
    {"cas": "1336-21-6", "formula": "NH4OH"}, {"cas": "7681-52-9", "formula": "NaClO"}, {"cas": "64-17-5", "formula": "C2H5OH"},
    {"cas": "10025-69-1", "formula": "SnCl2(H2O)2"}, {"cas": "10025-69-1", "formula": "SnCl2", "hydrate": "2H2O"},
    {"cas": "37199-66-9", "formula": "K2S4"}, {"cas": "27610-45-3", "formula": "Na2S", "hydrate": "nonahydrate"},
    {"formula": "AgNO3", "silver_g_per_unit": Fraction("0.635")}, {"formula": "", "cas": ""},
])
def test_what_fits_is_not_refused(known):
    assert list(disagreements(Identity(**known))) == []


@pytest.mark.parametrize(("density", "fits"), [("0.49", False), ("0.5", True), ("20", True), ("20.01", False), ("1190", False)])
def test_a_density_is_that_of_something_on_earth(density, fits):
    assert (not list(disagreements(Identity(), density=Fraction(density)))) is fits


def test_silver_is_worked_out_from_formula_and_assay():
    silver = Identity(formula="AgNO3", assay_share=Fraction("0.998"))
    assert silver_content(silver, stock_unit="g", density=None) == share_by_mass("Ag", "AgNO3") * Fraction("0.998")
    solution = Identity(formula="AgNO3", assay_share=Fraction(1, 10))
    assert silver_content(solution, stock_unit="mL", density=Fraction("1.09")) == share_by_mass("Ag", "AgNO3") / 10 * Fraction("1.09")
    assert silver_content(solution, stock_unit="mL", density=None) is None
    assert silver_content(Identity(formula="NaCl"), stock_unit="g", density=None) is None


def test_the_trades_list_is_the_published_one():
    published = {row["name"]: row for row in PUBLISHED}
    assert len(trade_materials()) == len(published) == 54
    for material in trade_materials():
        row = published[material.name]
        assert sorted(material.facts["classes"]["value"]) == row["classes"]
        assert (list(material.statements), list(material.pictograms), material.signal_word) == (
            row["statements"], row["pictograms"], row["signal_word"])
        assert told_by(material.identity).classes == set(material.classes)
        assert list(disagreements(material.identity, stock_unit=material.stock_unit, density=material.density)) == []
        marks = {fact["mark"] for fact in material.facts.values()}
        assert marks <= {"seen", "computed", "memory"}
        assert all(fact.get("source", "A6").split()[0].strip(",;") in trade_sources() for fact in material.facts.values())


def test_the_trades_formulas_weigh_what_was_published():
    for row in NAMED:
        if row["formula"] and row["name"] != "Hydrazine solution 64 %":  # the figure is the hydrate's
            assert abs(molar_mass(row["formula"], row["hydrate"]) - Fraction(str(row["molar_mass"]))) < Fraction(1, 50), row["name"]


def test_the_trades_places_keep_apart_what_is_deadly_together():
    shelf = [Stored(name=row.name, place=row.storage_place, agents=frozenset(row.classes), type=row.storage_type, is_dark=True)
             for row in trade_materials() if row.is_offered]
    assert [conflict.sentence for conflict in stored_together(shelf) if conflict.stops] == []
    assert [wrong.sentence for thing in shelf for wrong in wrong_place(thing)] == []


def test_a_formula_that_cannot_be_read_says_so():
    with pytest.raises(FormulaUnknown):
        read_formula("K2Sx")


def test_formaldehydes_blended_statements_say_what_is_from_memory():
    """H330 is of an adaptation whose text was not read: the entry says so beside its source."""
    entry = listed("50-00-0", Fraction(37, 100))
    assert "H330 by the 22nd adaptation, from memory" in entry.where_statements_are_from
    assert entry.where_statements_are_from.startswith("GisChem, Formaldehyd")
