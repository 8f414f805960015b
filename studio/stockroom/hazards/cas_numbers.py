"""What CAS Registry Numbers name: the substance, its formula, what it reacts as, by strength where one number has many.

Numbers and classes: CLP Annex VI and lists of Safe Work Australia for the trade's own materials (`trade.json` says
which was seen); their neighbours (other hydrates, other salts) from memory. An acid counts as strong from the lowest
specific concentration limit of CLP Annex VI for “causes severe burns” (H314): read for hydrochloric, nitric, sulfuric
and hydrofluoric acid, from memory for the others. An oxidising acid is an oxidiser at every strength; peroxide counts
as an oxidiser from 8 % (UN 2984). The supplier's own data sheet comes first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from studio.kit.formulas import Formula, read_formula


@dataclass(frozen=True, kw_only=True)
class Substance:
    """What one CAS Registry Number names. stronger: what it reacts as besides, from so many percent by mass."""

    cas: str
    name: str
    formulas: tuple[Formula, ...]
    classes: frozenset[str]
    stronger: tuple[tuple[int, frozenset[str]], ...]
    any_water: bool

    def classes_at(self, share: Fraction | None) -> frozenset[str]:
        """Return what it reacts as at a strength; without one, as the strongest that is sold."""
        more = (classes for percent, classes in self.stronger if share is None or share * 100 >= percent)
        return self.classes.union(*more)

    def is_written(self, formula: Formula) -> bool:
        """Say whether a formula is this substance's, its water aside."""
        return any(formula.atoms == own.atoms or formula.elements == own.elements for own in self.formulas)

    @property
    def waters(self) -> int:
        return self.formulas[0].waters if self.formulas else 0


def _is(cas: str, name: str, formulas: str, classes: str, stronger: Mapping[int, str] | None = None, *,
        any_water: bool = False) -> Substance:
    return Substance(
        cas=cas, name=name, formulas=tuple(read_formula(formula) for formula in formulas.split()),
        classes=frozenset(classes.split()), any_water=any_water,
        stronger=tuple((percent, frozenset(words.split())) for percent, words in (stronger or {}).items()),
    )


_SILVER = (
    _is("7761-88-8", "silver nitrate", "AgNO3", "silver_salt oxidiser nitrate"),
    _is("20667-12-3", "silver oxide", "Ag2O", "silver_salt oxidiser"),
    _is("534-16-7", "silver carbonate", "Ag2CO3", "silver_salt carbonate"),
    _is("10294-26-5", "silver sulfate", "Ag2SO4", "silver_salt"),
    _is("563-63-3", "silver acetate", "AgC2H3O2", "silver_salt"),
    _is("7783-90-6", "silver chloride", "AgCl", "silver_salt silver_chloride chloride"),
    _is("7785-23-1", "silver bromide", "AgBr", "silver_salt"),
    _is("506-64-9", "silver cyanide", "AgCN", "silver_salt cyanide_complex"),
    _is("7440-22-4", "silver metal", "Ag", ""),
)
_AMMONIA = (
    _is("1336-21-6", "ammonia solution", "NH3 NH4OH", "ammonia"),
    _is("7664-41-7", "ammonia", "NH3 NH4OH", "ammonia"),
    _is("6484-52-2", "ammonium nitrate", "NH4NO3", "ammonium oxidiser nitrate ammonium_nitrate"),
    _is("12125-02-9", "ammonium chloride", "NH4Cl", "ammonium chloride"),
    _is("1341-49-7", "ammonium bifluoride", "NH4HF2", "ammonium fluoride acid_reacting"),
    _is("12125-01-8", "ammonium fluoride", "NH4F", "ammonium fluoride"),
    _is("7783-20-2", "ammonium sulfate", "(NH4)2SO4", "ammonium"),
    _is("506-87-6", "ammonium carbonate", "(NH4)2CO3", "ammonium carbonate"),
    _is("1066-33-7", "ammonium bicarbonate", "NH4HCO3", "ammonium carbonate"),
    _is("631-61-8", "ammonium acetate", "NH4C2H3O2", "ammonium"),
    _is("12135-76-1", "ammonium sulfide", "(NH4)2S", "ammonium ammonia sulfide reducer"),
    _is("7727-54-0", "ammonium persulfate", "(NH4)2S2O8", "ammonium oxidiser"),
)
_CAUSTICS = (
    _is("1310-73-2", "sodium hydroxide", "NaOH", "caustic", {60: "caustic_solid"}),
    _is("1310-58-3", "potassium hydroxide", "KOH", "caustic", {60: "caustic_solid"}),
    _is("1310-65-2", "lithium hydroxide", "LiOH", "caustic", {60: "caustic_solid"}),
    _is("1305-62-0", "calcium hydroxide", "Ca(OH)2", "caustic", {60: "caustic_solid"}),
    _is("497-19-8", "sodium carbonate", "Na2CO3", "carbonate"),
    _is("5968-11-6", "sodium carbonate monohydrate", "Na2CO3·H2O", "carbonate"),
    _is("6132-02-1", "sodium carbonate decahydrate", "Na2CO3·10H2O", "carbonate"),
    _is("144-55-8", "sodium bicarbonate", "NaHCO3", "carbonate"),
    _is("584-08-7", "potassium carbonate", "K2CO3", "carbonate"),
    _is("471-34-1", "calcium carbonate", "CaCO3", "carbonate abrasive"),
    _is("1317-65-3", "limestone", "CaCO3", "carbonate abrasive"),
)
_ACIDS = (
    _is("7647-01-0", "hydrochloric acid", "HCl", "acid hydrochloric chloride", {25: "acid_strong"}),
    _is("7697-37-2", "nitric acid", "HNO3", "acid oxidising_acid oxidiser", {5: "acid_strong"}),
    _is("7664-93-9", "sulfuric acid", "H2SO4", "acid", {15: "acid_strong", 50: "sulfuric_strong"}),
    _is("7664-38-2", "phosphoric acid", "H3PO4", "acid", {25: "acid_strong"}),
    _is("7664-39-3", "hydrofluoric acid", "HF", "acid fluoride", {1: "acid_strong"}),
    _is("10035-10-6", "hydrobromic acid", "HBr", "acid", {40: "acid_strong"}),
    _is("7601-90-3", "perchloric acid", "HClO4", "acid oxidising_acid oxidiser", {10: "acid_strong"}),
    _is("64-19-7", "acetic acid", "CH3COOH", "acid organic_acid", {80: "flammable"}),
    _is("64-18-6", "formic acid", "HCOOH", "acid organic_acid reducer", {10: "acid_strong", 85: "flammable"}),
    _is("87-69-4", "tartaric acid", "C4H6O6", "acid organic_acid tartrate reducer"),
    _is("77-92-9", "citric acid", "C6H8O7", "acid organic_acid"),
    _is("5949-29-1", "citric acid monohydrate", "C6H8O7·H2O", "acid organic_acid"),
    _is("144-62-7", "oxalic acid", "H2C2O4", "acid organic_acid oxalate reducer"),
    _is("6153-56-6", "oxalic acid dihydrate", "H2C2O4·2H2O", "acid organic_acid oxalate reducer"),
    _is("5329-14-6", "sulfamic acid", "H3NSO3", "acid"),
    _is("50-81-7", "ascorbic acid", "C6H8O6", "acid organic_acid reducer"),
    _is("7681-38-1", "sodium bisulfate", "NaHSO4", "acid_reacting"),
)
_OXIDISERS = (
    _is("7681-52-9", "sodium hypochlorite solution", "NaOCl", "hypochlorite oxidiser caustic chloride"),
    _is("7778-54-3", "calcium hypochlorite", "Ca(OCl)2", "hypochlorite oxidiser caustic chloride"),
    _is("7722-84-1", "hydrogen peroxide", "H2O2", "peroxide", {8: "oxidiser"}),
    _is("15630-89-4", "sodium percarbonate", "Na2CO3·1H2O2 2Na2CO3·3H2O2", "peroxide oxidiser carbonate"),
    _is("7722-64-7", "potassium permanganate", "KMnO4", "permanganate oxidiser"),
    _is("7757-79-1", "potassium nitrate", "KNO3", "nitrate oxidiser"),
    _is("7631-99-4", "sodium nitrate", "NaNO3", "nitrate oxidiser"),
    _is("7632-00-0", "sodium nitrite", "NaNO2", "nitrite oxidiser"),
    _is("3811-04-9", "potassium chlorate", "KClO3", "oxidiser"),
    _is("7775-27-1", "sodium persulfate", "Na2S2O8", "oxidiser"),
    _is("7778-50-9", "potassium dichromate", "K2Cr2O7", "oxidiser"),
    _is("1333-82-0", "chromium trioxide", "CrO3", "oxidiser acid acid_strong"),
)
_REDUCERS = (
    _is("50-99-7", "dextrose", "C6H12O6", "sugar"),
    _is("492-62-6", "alpha-dextrose", "C6H12O6", "sugar"),
    _is("5996-10-1", "dextrose monohydrate", "C6H12O6·H2O", "sugar"),
    _is("14431-43-7", "dextrose monohydrate", "C6H12O6·H2O", "sugar"),
    _is("57-48-7", "fructose", "C6H12O6", "sugar"),
    _is("57-50-1", "sucrose", "C12H22O11", "sugar"),
    _is("63-42-3", "lactose", "C12H22O11", "sugar"),
    _is("8013-17-0", "invert sugar", "", "sugar"),
    _is("6381-59-5", "Rochelle salt", "KNaC4H4O6·4H2O", "tartrate reducer"),
    _is("304-59-6", "potassium sodium tartrate", "KNaC4H4O6", "tartrate reducer"),
    _is("868-14-4", "cream of tartar", "KC4H5O6", "tartrate reducer acid_reacting"),
    _is("50-00-0", "formaldehyde solution", "CH2O", "aldehyde reducer"),
    _is("30525-89-4", "paraformaldehyde", "CH2O", "aldehyde reducer"),
    _is("107-22-2", "glyoxal", "C2H2O2", "aldehyde reducer"),
    _is("111-30-8", "glutaraldehyde", "C5H8O2", "aldehyde reducer"),
    _is("302-01-2", "hydrazine", "N2H4", "hydrazine reducer", any_water=True),
    _is("7803-57-8", "hydrazine hydrate", "N2H4·H2O", "hydrazine reducer", any_water=True),
    _is("10217-52-4", "hydrazine hydrate", "N2H4·H2O", "hydrazine reducer", any_water=True),
    _is("10034-93-2", "hydrazine sulfate", "N2H6SO4", "hydrazine reducer acid_reacting"),
    _is("7757-83-7", "sodium sulfite", "Na2SO3", "reducer"),
    _is("7681-57-4", "sodium metabisulfite", "Na2S2O5", "reducer acid_reacting"),
    _is("7775-14-6", "sodium dithionite", "Na2S2O4", "reducer"),
    _is("7772-98-7", "sodium thiosulfate", "Na2S2O3", "thiosulfate reducer"),
    _is("10102-17-7", "sodium thiosulfate pentahydrate", "Na2S2O3·5H2O", "thiosulfate reducer"),
    _is("123-31-9", "hydroquinone", "C6H6O2", "reducer"),
    _is("56-81-5", "glycerol", "C3H8O3", "reducer"),
)
_SULFIDES = (
    _is("1313-82-2", "sodium sulfide", "Na2S", "sulfide caustic reducer"),
    _is("1313-84-4", "sodium sulfide nonahydrate", "Na2S·9H2O", "sulfide caustic reducer"),
    _is("27610-45-3", "sodium sulfide hydrate", "Na2S", "sulfide caustic reducer", any_water=True),
    _is("16721-80-5", "sodium hydrosulfide", "NaHS", "sulfide caustic reducer", any_water=True),
    _is("1312-73-8", "potassium sulfide", "K2S", "sulfide caustic reducer"),
    _is("37199-66-9", "potassium polysulfide (liver of sulfur)", "", "sulfide caustic reducer"),
    _is("39365-88-3", "sulfurated potash (liver of sulfur)", "", "sulfide caustic reducer"),
)
_METALS = (
    _is("7772-99-8", "tin(II) chloride", "SnCl2", "tin_salt reducer chloride acid_reacting"),
    _is("10025-69-1", "tin(II) chloride dihydrate", "SnCl2·2H2O", "tin_salt reducer chloride acid_reacting"),
    _is("7705-08-0", "iron(III) chloride", "FeCl3", "iron iron_chloride acid_reacting chloride oxidiser_mild"),
    _is("10025-77-1", "iron(III) chloride hexahydrate", "FeCl3·6H2O",
        "iron iron_chloride acid_reacting chloride oxidiser_mild"),
    _is("7782-61-8", "iron(III) nitrate nonahydrate", "Fe(NO3)3·9H2O",
        "iron acid_reacting nitrate oxidiser oxidiser_mild"),
    _is("7782-63-0", "iron(II) sulfate heptahydrate", "FeSO4·7H2O", "iron reducer acid_reacting"),
    _is("7758-98-7", "copper(II) sulfate", "CuSO4", "copper_salt"),
    _is("7758-99-8", "copper(II) sulfate pentahydrate", "CuSO4·5H2O", "copper_salt"),
    _is("3251-23-8", "copper(II) nitrate", "Cu(NO3)2", "copper_salt oxidiser nitrate acid_reacting"),
    _is("10031-43-3", "copper(II) nitrate trihydrate", "Cu(NO3)2·3H2O",
        "copper_salt oxidiser nitrate acid_reacting"),
    _is("19004-19-4", "copper(II) nitrate hydrate", "Cu(NO3)2", "copper_salt oxidiser nitrate acid_reacting",
        any_water=True),
    _is("7447-39-4", "copper(II) chloride", "CuCl2", "copper_salt chloride acid_reacting"),
    _is("10125-13-0", "copper(II) chloride dihydrate", "CuCl2·2H2O", "copper_salt chloride acid_reacting"),
    _is("7440-50-8", "copper metal", "Cu", ""),
    _is("7440-31-5", "tin metal", "Sn", "tin_metal"),
    _is("7429-90-5", "aluminium", "Al", "aluminium"),
    _is("7440-66-6", "zinc", "Zn", "zinc"),
)
_COMPLEXES_AND_HALIDES = (
    _is("13746-66-2", "potassium ferricyanide", "K3[Fe(CN)6]", "cyanide_complex oxidiser_mild iron"),
    _is("13943-58-3", "potassium ferrocyanide", "K4[Fe(CN)6]", "cyanide_complex iron"),
    _is("14459-95-1", "potassium ferrocyanide trihydrate", "K4[Fe(CN)6]·3H2O", "cyanide_complex iron"),
    _is("151-50-8", "potassium cyanide", "KCN", "cyanide_complex"),
    _is("143-33-9", "sodium cyanide", "NaCN", "cyanide_complex"),
    _is("7553-56-2", "iodine", "I2", "iodine oxidiser_mild"),
    _is("7681-11-0", "potassium iodide", "KI", "iodide"),
    _is("7681-82-5", "sodium iodide", "NaI", "iodide"),
    _is("7647-14-5", "sodium chloride", "NaCl", "chloride"),
    _is("7447-40-7", "potassium chloride", "KCl", "chloride"),
    _is("7681-49-4", "sodium fluoride", "NaF", "fluoride"),
)
_SOLVENTS = (
    _is("64-17-5", "ethanol", "C2H6O", "alcohol", {20: "flammable solvent"}),
    _is("67-63-0", "isopropyl alcohol", "C3H8O", "alcohol", {20: "flammable solvent"}),
    _is("71-23-8", "propyl alcohol", "C3H8O", "alcohol", {20: "flammable solvent"}),
    _is("67-56-1", "methanol", "CH4O", "alcohol", {20: "flammable solvent"}),
    _is("71-36-3", "butanol", "C4H10O", "alcohol flammable solvent"),
    _is("67-64-1", "acetone", "C3H6O", "acetone solvent flammable"),
    _is("78-93-3", "methyl ethyl ketone", "C4H8O", "solvent flammable"),
    _is("141-78-6", "ethyl acetate", "C4H8O2", "solvent flammable"),
    _is("123-86-4", "butyl acetate", "C6H12O2", "solvent flammable"),
    _is("108-88-3", "toluene", "C7H8", "solvent flammable"),
    _is("1330-20-7", "xylene", "C8H10", "solvent flammable"),
    _is("8052-41-3", "white spirit", "", "solvent flammable"),
    _is("64742-82-1", "white spirit", "", "solvent flammable"),
    _is("8006-64-2", "turpentine", "", "solvent flammable"),
    _is("74-86-2", "acetylene", "C2H2", "acetylene flammable"),
    _is("75-20-7", "calcium carbide", "CaC2", "acetylene caustic"),
)
_HARMLESS = (
    _is("7732-18-5", "water", "H2O", "water"),
    _is("1306-38-3", "cerium oxide", "CeO2", "abrasive"),
)

#: what is known, by CAS Registry Number
SUBSTANCES: dict[str, Substance] = {known.cas: known for known in (
    *_SILVER, *_AMMONIA, *_CAUSTICS, *_ACIDS, *_OXIDISERS, *_REDUCERS, *_SULFIDES, *_METALS, *_COMPLEXES_AND_HALIDES,
    *_SOLVENTS, *_HARMLESS,
)}


def substances_written(formula: Formula) -> Iterable[Substance]:
    """Return every known substance of a composition, its water aside."""
    return (known for known in SUBSTANCES.values() if known.is_written(formula))
