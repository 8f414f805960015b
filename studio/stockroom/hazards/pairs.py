"""The pairs that must not meet: where each stops, where it cautions, why, and by which source.

One table for every place where things meet: the ingredients of a solution, the parts of a step, what a pane still
carries, what a waste container or a storage place holds. To add a pair: a row. Sources that only say “common chemistry”
are from memory, and wait to be looked up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from studio.stockroom.hazards.classes import UNCLASSED

Where = Literal["solution", "step", "residue", "waste", "storage"]
Places = frozenset[Where]

EVERYWHERE: Places = frozenset({"solution", "step", "residue", "waste", "storage"})
AT_WORK: Places = frozenset({"solution", "step", "residue"})
ON_THE_PANE: Places = frozenset({"step", "residue"})
NOWHERE: Places = frozenset()


@dataclass(frozen=True, kw_only=True)
class DangerousPair:
    """Classes that must not meet. third: where only a third class with the two endangers; empty for a pair.

    stops_strong: where the two stop unless each is known to be dilute (`meeting.DILUTE_BY_MASS`); strong: what of the
    first side counts there.
    """

    name: str
    first: frozenset[str]
    second: frozenset[str]
    third: frozenset[str] = frozenset()
    reason: str
    source: str
    stops: Places
    cautions: Places = NOWHERE
    stops_strong: Places = NOWHERE
    strong: frozenset[str] = frozenset()

    @property
    def sides(self) -> tuple[frozenset[str], ...]:
        return (self.first, self.second, self.third) if self.third else (self.first, self.second)


_COMMON = "Common chemistry, from memory."
_NPG = "NIOSH Pocket Guide to Chemical Hazards, incompatibilities."
_CHLORINE = "The Chlorine Institute, Sodium Hypochlorite Incompatibility Chart."
_OKLAHOMA = "University of Oklahoma HSC, EHSO Manual, Appendix C, Incompatible Chemicals."
_LISTS = "Lab Manager, Incompatible Chemical Mixtures."
_AMMONIUM = "Chem One, data sheets of ammonium salts."
_PROFILE = "Chemical Laboratory Information Profiles, Journal of Chemical Education."
_FULMINATE = "CAMEO Chemicals, silver oxide; report of silver fulminate exploding in a histology laboratory."


def _row(
    name: str, first: str, second: str, reason: str, source: str, *, stops: Places = NOWHERE,
    cautions: Places | None = None, third: str = "", stops_strong: Places = NOWHERE, strong: str = "",
) -> DangerousPair:
    """Write a row. Classes are parted by spaces. Where it does not stop, it cautions, unless cautions says where."""
    return DangerousPair(
        name=name, first=frozenset(first.split()), second=frozenset(second.split()), third=frozenset(third.split()),
        reason=reason, source=source, stops=stops, cautions=(EVERYWHERE if cautions is None else cautions) - stops,
        stops_strong=stops_strong, strong=frozenset(strong.split()),
    )


_ACIDS = "acid oxidising_acid acid_reacting"
_FUELS = "alcohol solvent flammable"
_SHUT_IN: Places = EVERYWHERE - ON_THE_PANE
_KEPT: Places = frozenset({"waste", "storage"})

DANGEROUS_PAIRS: tuple[DangerousPair, ...] = (
    # silver
    _row("silver salt and ammonia", "silver_salt", "ammonia",
         "On standing or drying they form explosive silver nitride: never stored, made safe in the same shift.",
         "Klinger, Scheele and Steele, Chemical & Engineering News 74 (2), 8 January 1996.",
         stops=frozenset({"storage"})),
    _row("silver salt, ammonium salt and caustic", "silver_salt", "ammonium",
         "Caustic frees ammonia from an ammonium salt: with silver that is ammoniacal silver, never stored.",
         f"{_AMMONIUM} {_LISTS}", third="caustic", stops=frozenset({"storage"})),
    _row("silver salt and ammonium salt", "silver_salt", "ammonium",
         "Any caustic that comes to them makes ammoniacal silver.", _AMMONIUM),
    _row("silver chloride and ammonia", "silver_chloride", "ammonia",
         "Ammonia dissolves silver chloride to ammoniacal silver; its dried residue can explode.", _COMMON,
         stops=EVERYWHERE - {"residue"}),
    _row("silver salt and hydrazine", "silver_salt", "hydrazine",
         "Silver oxide with hydrazine slowly turns to explosive silver nitride, and gas is set free.",
         "CAMEO Chemicals, silver oxide.", stops=EVERYWHERE - {"step"}),
    _row("ammoniacal silver and alcohol or solvent", "silver_salt", _FUELS,
         "Ammoniacal silver left with alcohol has exploded as silver fulminate: used at once, made safe at once.",
         _FULMINATE, third="ammonia", stops=_KEPT),
    _row("silver salt and alcohol or solvent", "silver_salt", _FUELS,
         "Silver nitrate feeds a solvent's fire; with nitric acid or ammonia beside it explosive silver compounds "
         "form.", _LISTS, stops=_KEPT),
    _row("silver salt, alcohol and nitric acid", "silver_salt", "alcohol",
         "Silver, nitric acid and alcohol make explosive silver fulminate.",
         "Henley's Twentieth Century Formulas, fulminates; Haight, letter in the Journal of Chemical Education.",
         third="oxidising_acid", stops=EVERYWHERE),
    _row("silver salt and chloride", "silver_salt", "chloride",
         "Chloride brings silver down white: the mix or the film is spoilt.", _COMMON, cautions=AT_WORK),
    _row("silver salt and iodine or iodide", "silver_salt", "iodide iodine",
         "Iodine and iodides bring silver down, or eat the film.", _COMMON, cautions=AT_WORK),
    _row("silver salt and sulfide or thiosulfate", "silver_salt", "sulfide thiosulfate",
         "Silver blackens to sulfide; such waste is never acidified.", _COMMON),
    _row("silver salt and peroxide", "silver_salt", "peroxide",
         "Silver makes peroxide boil off oxygen with heat: a closed vessel bursts.", f"ICSC 0810 Silver. {_NPG}",
         stops=_SHUT_IN),
    _row("silver salt and oxalate", "silver_salt", "oxalate", "Dry silver oxalate explodes when it is heated.", _NPG,
         stops=EVERYWHERE),
    _row("silver salt and tartrate", "silver_salt", "tartrate",
         "Wet they belong to silvering; dried or heated, silver tartrate decomposes violently.", _NPG,
         cautions=EVERYWHERE - {"storage"}),
    _row("silver or copper salt and acetylene", "silver_salt copper_salt", "acetylene",
         "Acetylene makes explosive acetylides of silver and copper.", f"{_OKLAHOMA} {_NPG}", stops=EVERYWHERE),
    _row("silver salt and aldehyde", "silver_salt", "aldehyde",
         "Strong, the reaction wanted in silvering runs away: heat, spatter, silver mud.", _COMMON),
    _row("silver salt and permanganate or bleach", "silver_salt", "permanganate hypochlorite",
         "They bring silver down, and bleach makes explosive nitrogen compounds with the ammonia beside it.", _COMMON,
         stops=EVERYWHERE),
    # bleach
    _row("ammonia and bleach", "ammonia ammonium", "hypochlorite",
         "They form chloramines, which are poisonous, and with more bleach an explosive.", _CHLORINE,
         stops=EVERYWHERE),
    _row("acid and bleach", _ACIDS, "hypochlorite",
         "Acid, and salts that react acid such as iron(III) chloride, free chlorine, a poisonous gas, from bleach.",
         _CHLORINE, stops=EVERYWHERE),
    _row("bleach and alcohol, solvent or sugar", "hypochlorite", f"{_FUELS} aldehyde sugar",
         "They heat up and make chlorinated poisons.", _CHLORINE, stops=EVERYWHERE),
    _row("bleach and peroxide", "hypochlorite", "peroxide", "Oxygen is set free at once, often violently.", _CHLORINE,
         stops=EVERYWHERE),
    _row("bleach and reducer", "hypochlorite", "sulfide thiosulfate reducer tin_salt hydrazine",
         "They heat up and spatter; with a sulfide poisonous hydrogen sulfide comes off.", _CHLORINE, stops=_SHUT_IN),
    _row("bleach and cyanide complex", "hypochlorite", "cyanide_complex",
         "Poisonous cyanogen chloride may form.", _COMMON, stops=EVERYWHERE),
    _row("iodide and bleach, peroxide or permanganate", "iodide", "hypochlorite peroxide permanganate",
         "Iodine is set free, as vapour where it is acid.", _COMMON, stops=_SHUT_IN),
    # acids
    _row("acid and sulfide", _ACIDS, "sulfide", "Acid frees hydrogen sulfide, a fast poison, from a sulfide.",
         f"CLP Annex VI, EUH031. {_LISTS}", stops=EVERYWHERE),
    _row("acid and what frees gas with it", _ACIDS, "gas_with_acid",
         "Its statements say that acid frees a poisonous gas from it.", "CLP, EUH031 and EUH032.", stops=EVERYWHERE),
    _row("acid and thiosulfate", _ACIDS, "thiosulfate", "Sulfur dioxide comes off and sulfur falls.", _COMMON,
         stops=_SHUT_IN),
    _row("acid and cyanide complex", _ACIDS, "cyanide_complex",
         "Acid, above all strong or warm, frees poisonous hydrogen cyanide.",
         f"ICSC 1132 Potassium ferricyanide. {_PROFILE}", stops=EVERYWHERE - {"residue"}),
    _row("acid and fluoride", _ACIDS, "fluoride",
         "Acid makes hydrofluoric acid of a fluoride: its burns are treated differently from any other.", _AMMONIUM,
         stops=EVERYWHERE),
    _row("acid and caustic", _ACIDS, "caustic", "Acid and caustic meet with heat and spatter.", _NPG, stops=_KEPT,
         stops_strong=frozenset({"solution", "step"}), strong="acid"),
    _row("acid and ammonia", _ACIDS, "ammonia", "They heat up and give off a white fume.", _NPG, stops=_KEPT),
    _row("acid and carbonate", _ACIDS, "carbonate",
         "Carbon dioxide foams over; a closed container bursts.", _COMMON),
    _row("nitric acid and alcohol, solvent or sugar", "oxidising_acid", f"{_FUELS} aldehyde sugar",
         "Nitric acid reacts violently with alcohol, solvents and sugar, also after a delay: brown poisonous fume, "
         "fire.", f"{_NPG} {_LISTS}", stops=EVERYWHERE),
    _row("strong oxidiser and organic acid", "oxidising_acid permanganate peroxide", "organic_acid",
         "To nitric acid and permanganate an organic acid is fuel; with peroxide it makes a peracid.",
         f"{_NPG} {_LISTS}", stops=EVERYWHERE - {"residue"}),
    _row("nitric and hydrochloric acid", "oxidising_acid", "hydrochloric",
         "Together they give off chlorine and nitrosyl chloride.", _COMMON, stops=EVERYWHERE - {"storage"}),
    _row("nitric acid and reducer", "oxidising_acid",
         "sulfide thiosulfate tin_salt iodide hydrazine cyanide_complex",
         "Nitric acid oxidises them violently; poisonous gases come off.", _NPG, stops=EVERYWHERE),
    # fluoride, ammonium, cyanide complexes, metal salts
    _row("fluoride and caustic or ammonia", "fluoride", "caustic ammonia",
         "They heat up; ammonia comes off ammonium fluorides.", f"{_OKLAHOMA} {_AMMONIUM}", stops=_KEPT),
    _row("ammonium salt and caustic", "ammonium", "caustic", "Ammonia gas comes off.", _AMMONIUM, stops=_KEPT),
    _row("ammonia and cyanide complex", "ammonia", "cyanide_complex",
         "Ferricyanide oxidises ammonia; an explosion is named.", _PROFILE, stops=_SHUT_IN),
    _row("nitrite and cyanide complex", "nitrite", "cyanide_complex", "Heated together they explode.", _PROFILE,
         stops=EVERYWHERE),
    _row("copper salt and cyanide complex", "copper_salt", "cyanide_complex",
         "Dry and warm, copper nitrate with a cyanide complex reacts explosively.", _PROFILE,
         stops=frozenset({"storage"})),
    _row("copper salt and ammonium salt", "copper_salt", "ammonium",
         "Copper nitrate with ammonium nitrate can explode once it is dry.", _PROFILE, stops=frozenset({"storage"})),
    _row("copper salt and tin", "copper_salt", "tin_salt tin_metal",
         "Copper nitrate sets tin foil alight; with tin(II) salts it heats up.", _PROFILE,
         stops=frozenset({"storage"})),
    _row("copper or iron salt and peroxide or hydrazine", "copper_salt iron", "peroxide hydrazine",
         "Copper and iron drive peroxide and hydrazine apart: gas and heat.", _NPG, stops=_SHUT_IN),
    _row("iron salt and aluminium or zinc", "iron", "aluminium zinc",
         "Etching solution heats up on these metals and gives off hydrogen.", _COMMON,
         cautions=EVERYWHERE - {"storage"}),
    _row("caustic and light metal", "caustic", "aluminium tin_metal zinc",
         "Caustic gives off hydrogen with aluminium, tin and zinc.", _NPG, stops=frozenset({"solution", "step",
                                                                                           "waste"})),
    _row("ammonium nitrate and acid, chloride, fuel or copper", "ammonium_nitrate",
         "chloride acid flammable sugar copper_salt",
         "They lower the point at which ammonium nitrate decays.", f"{_OKLAHOMA} {_PROFILE}", stops=_KEPT),
    # oxidisers
    _row("oxidiser and alcohol or solvent", "oxidiser nitrate permanganate peroxide", _FUELS,
         "An oxidiser feeds a solvent's fire.", f"{_OKLAHOMA} {_LISTS}", stops=_SHUT_IN),
    _row("oxidiser and reducer", "oxidiser permanganate peroxide",
         "sugar tartrate aldehyde hydrazine reducer thiosulfate sulfide tin_salt iodide",
         "An oxidiser with a reducer heats up, and can take fire or burst its vessel.", _NPG, stops=_SHUT_IN),
    _row("dry nitrate and fuel", "nitrate", "sugar sulfide thiosulfate",
         "Dried together they burn or explode when heated.", _OKLAHOMA, stops=_KEPT),
    _row("permanganate and hydrochloric acid", "permanganate", "hydrochloric",
         "Chlorine, a poisonous gas, comes off.", _COMMON, stops=EVERYWHERE),
    _row("permanganate and strong sulfuric acid", "permanganate", "sulfuric_strong",
         "They make an explosive oxide of manganese.", _NPG, stops=EVERYWHERE),
    _row("permanganate and ammonia", "permanganate", "ammonia ammonium",
         "Ammonium permanganate is unstable.", _COMMON, stops=_SHUT_IN),
    _row("permanganate and peroxide", "permanganate", "peroxide", "Oxygen is set free violently.", _COMMON,
         stops=EVERYWHERE),
    _row("peroxide and hydrochloric acid", "peroxide", "hydrochloric", "Chlorine, a poisonous gas, comes off.",
         _COMMON, stops=EVERYWHERE),
    _row("peroxide and acetone or solvent", "peroxide", "acetone solvent",
         "With a little acid acetone makes a high explosive of peroxide.", _LISTS, stops=EVERYWHERE),
    _row("peroxide and strong sulfuric acid", "peroxide", "sulfuric_strong",
         "It attacks everything organic, and may detonate.", _LISTS, stops=EVERYWHERE),
    _row("peroxide and caustic or ammonia", "peroxide", "caustic ammonia",
         "Peroxide decays with heat and gas.", _COMMON, stops=_SHUT_IN),
    # aldehyde, iodine, hydrazine, acetone
    _row("aldehyde and strong oxidiser", "aldehyde", "peroxide oxidising_acid permanganate",
         "They can explode.", "GESTIS substance database, formaldehyde.", stops=EVERYWHERE),
    _row("aldehyde and hydrochloric acid", "aldehyde", "hydrochloric",
         "Their vapours form a carcinogen: leftovers with formaldehyde are made safe with salt and dilute sulfuric "
         "or acetic acid.", _NPG, stops=_SHUT_IN),
    _row("aldehyde and caustic", "aldehyde", "caustic", "Strong, they heat up and foam.", _NPG,
         stops=frozenset({"storage"})),
    _row("iodine and ammonia", "iodine", "ammonia ammonium",
         "Nitrogen triiodide forms, which explodes dry at a touch.", _NPG, stops=EVERYWHERE),
    _row("iodine and acetone", "iodine", "acetone", "A tear gas forms.", _COMMON, stops=_KEPT),
    _row("iodine and aluminium", "iodine", "aluminium", "With a little water they take fire.", _NPG,
         stops=EVERYWHERE),
    _row("hydrazine and oxidiser", "hydrazine",
         "oxidiser nitrate peroxide permanganate oxidising_acid hypochlorite",
         "They may take fire by themselves, or explode.", f"{_NPG} {_LISTS}", stops=EVERYWHERE),
    _row("hydrazine and acid", "hydrazine", "acid", "They heat up.", _NPG, stops=_KEPT),
    _row("acetone and caustic", "acetone", "caustic", "They condense with heat.",
         "University of Glasgow, Safety and Environmental Protection Services.", stops=_KEPT),
)

_UNKNOWN_STOPS: Places = frozenset({"solution", "waste"})
#: what is neither classed nor read, with anything at all
UNKNOWN = DangerousPair(
    name="an unclassed material", first=frozenset({UNCLASSED}), second=frozenset(), stops=_UNKNOWN_STOPS,
    cautions=EVERYWHERE - _UNKNOWN_STOPS, source="This book's rule.",
    reason="Nobody has read its data sheet yet: unknown is not safe.",
)
