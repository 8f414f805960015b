"""The stockroom's rules that the database itself enforces."""

from studio.kit.coded import code_never_changes
from studio.kit.database_rules import After, Refuse, append_only, changed, register
from studio.stockroom.hazards.classes import REACTS_AS

LEVEL, MOVEMENT, LOT = "inventory_lotlevel", "inventory_stockmovement", "inventory_lot"

#: what identity tells and what the owner added, so that neither a stale nor a forged column lets it by
_AGENTS = "(CAST(bottle.classes AS TEXT) || CAST(bottle.reacts_as AS TEXT))"


def _has(*classes: str) -> str:
    return "(" + " OR ".join(f"""{_AGENTS} LIKE '%"{code}"%'""" for code in classes) + ")"


#: as `is_ammoniacal_silver` has it; classes are stored with all that they bring
_AMMONIACAL = (
    f"{_has('silver_salt', 'silver_chloride')} AND ({_has('ammonia')} OR ({_has('ammonium', 'ammonium_nitrate')} "
    f"AND {_has('caustic', 'caustic_solid', 'hypochlorite')}))"
)
_OF_AMMONIACAL = f"EXISTS (SELECT 1 FROM inventory_material bottle WHERE bottle.id = NEW.material_id AND {_AMMONIACAL})"


def loses_a_class(in_use: str) -> str:
    """Return the condition that a material in use loses a class with no reason kept. in_use: over NEW.id.

    The reason stands beside the save that it was given with.
    """
    noted = (
        "EXISTS (SELECT 1 FROM inventory_classestakenaway noted WHERE noted.material_id = NEW.id "
        "AND noted.at_save = NEW.saves AND CAST(noted.classes AS TEXT) LIKE '%\"{code}\"%')"
    )
    lost = " OR ".join(
        f"""(CAST(OLD.classes AS TEXT) LIKE '%"{code}"%' AND CAST(NEW.classes AS TEXT) NOT LIKE '%"{code}"%' """
        f"AND NOT {noted.format(code=code)})" for code in REACTS_AS
    )
    return f"OLD.classes <> NEW.classes AND EXISTS ({in_use}) AND ({lost})"


LOSES_NO_CLASS = "A material in use loses no class without a reason that is kept."
_NEVER_STORED = "A silver salt with ammonia is never stored, whoever asks."

register(
    Refuse(
        name="ammoniacal_silver_is_never_received",
        table=LOT,
        event="INSERT",
        condition=f"NEW.state <> 'held' AND {_OF_AMMONIACAL}",
        sentence=_NEVER_STORED,
    ),
    Refuse(
        name="ammoniacal_silver_stays_held",
        table=LOT,
        event="UPDATE",
        condition=f"OLD.state = 'held' AND NEW.state <> 'held' AND {_OF_AMMONIACAL}",
        sentence=_NEVER_STORED,
    ),
    Refuse(
        name="material_with_lots_loses_no_class",
        table="inventory_material",
        event="UPDATE",
        condition=loses_a_class(f"SELECT 1 FROM {LOT} lot WHERE lot.material_id = NEW.id"),
        sentence=LOSES_NO_CLASS,
    ),
    *append_only("inventory_classestakenaway", "Why a class was taken away"),
    code_never_changes("inventory_material"),
    *append_only(MOVEMENT, "A stock movement"),
    *append_only("inventory_posting", "A posting"),
    Refuse(
        name="offcut_stays_what_it_is",
        table="inventory_offcut",
        event="UPDATE",
        condition=f"{changed('number', 'material_id', 'width_mm', 'height_mm')} OR OLD.gone_at IS NOT NULL",
        sentence="An offcut keeps its number, glass and size; one that was used or discarded stays so.",
    ),
    After(
        name="lot_opens_its_level",
        table=LOT,
        event="INSERT",
        statement=f"INSERT INTO {LEVEL} (lot_id, on_hand, counted_to) VALUES (NEW.id, 0, 0)",
    ),
    After(
        name="movement_moves_the_level",
        table=MOVEMENT,
        event="INSERT",
        statement=f"UPDATE {LEVEL} SET on_hand = on_hand + NEW.quantity, counted_to = NEW.id WHERE lot_id = NEW.lot_id",
    ),
    Refuse(  # one movement after another, each once: so it is the sum, and nobody sums a lot's whole past to know it
        name="level_is_the_sum",
        table=LEVEL,
        event="UPDATE",
        condition=f"{changed('lot_id')} OR ({changed('on_hand', 'counted_to')} AND (NEW.counted_to <= OLD.counted_to "
                  f"OR NOT EXISTS (SELECT 1 FROM {MOVEMENT} moved WHERE moved.id = NEW.counted_to "
                  "AND moved.lot_id = NEW.lot_id AND NEW.on_hand = OLD.on_hand + moved.quantity)))",
        sentence="What is on hand is the sum of the movements: post a movement instead.",
    ),
    Refuse(
        name="level_starts_empty",
        table=LEVEL,
        event="INSERT",
        condition="NEW.on_hand <> 0 OR NEW.counted_to <> 0 "
                  f"OR EXISTS (SELECT 1 FROM {LEVEL} kept WHERE kept.lot_id = NEW.lot_id) "
                  f"OR EXISTS (SELECT 1 FROM {MOVEMENT} moved WHERE moved.lot_id = NEW.lot_id)",
        sentence="A lot starts empty and has one level.",
    ),
    Refuse(name="level_is_never_deleted", table=LEVEL, event="DELETE", sentence="A lot's level is never deleted."),
    Refuse(
        name="lot_received_is_never_edited",
        table=LOT,
        event="UPDATE",
        condition=changed(
            "material_id", "quantity_received", "cost_with_carriage", "received_on", "made_here", "made_at",
            "discard_at", "delivery_id",
        ),
        sentence="What a lot was received as does not change: reverse the receipt and receive it again.",
    ),
    Refuse(
        name="reversal_is_the_opposite",
        table=MOVEMENT,
        event="INSERT",
        condition=(
            "NEW.reverses_id IS NOT NULL AND NOT EXISTS ("
            f"SELECT 1 FROM {MOVEMENT} first WHERE first.id = NEW.reverses_id AND first.lot_id = NEW.lot_id "
            "AND first.quantity = -NEW.quantity AND first.kind = NEW.kind AND first.unit_cost = NEW.unit_cost)"
        ),
        sentence="A reversal is the exact opposite of the movement it names.",
    ),
    Refuse(
        name="material_keeps_its_unit",
        table="inventory_material",
        event="UPDATE",
        condition=f"{changed('stock_unit')} AND EXISTS (SELECT 1 FROM {LOT} lot WHERE lot.material_id = NEW.id)",
        sentence="A material that has lots keeps its stock unit.",
    ),
)
_OF_A_SOLUTION = "SELECT 1 FROM inventory_material material WHERE material.kind = 'solution' AND material.id = "
_MADE_HERE = "A solution made here comes from mixing it ahead or from a run's leftover, never from a delivery."
register(
    Refuse(
        name="made_here_is_never_received", table=LOT, event="INSERT",
        condition=f"NOT NEW.made_here AND EXISTS ({_OF_A_SOLUTION}NEW.material_id)", sentence=_MADE_HERE,
    ),
    Refuse(
        name="made_here_has_no_receipt", table=MOVEMENT, event="INSERT",
        condition=(
            "NEW.kind = 'receipt' AND NEW.reverses_id IS NULL AND EXISTS ("
            f"{_OF_A_SOLUTION}(SELECT lot.material_id FROM {LOT} lot WHERE lot.id = NEW.lot_id))"
        ),
        sentence=_MADE_HERE,
    ),
    Refuse(
        name="made_here_stays_made_here", table="inventory_material", event="UPDATE",
        condition=(
            "(OLD.kind = 'solution') <> (NEW.kind = 'solution') "
            f"AND EXISTS (SELECT 1 FROM {LOT} lot WHERE lot.material_id = NEW.id)"
        ),
        sentence="A material that has lots stays made here, or delivered.",
    ),
)
_WASTE_AGENTS = "CAST(NEW.reacts_as AS TEXT)"
_WASTE_SILVER = f"""({_WASTE_AGENTS} LIKE '%"silver_salt"%' OR {_WASTE_AGENTS} LIKE '%"silver_chloride"%')"""
#: caustic frees ammonia from an ammonium salt
_WASTE_AMMONIA = (
    f"""({_WASTE_AGENTS} LIKE '%"ammonia"%' """
    f"""OR ({_WASTE_AGENTS} LIKE '%"ammonium%' AND {_WASTE_AGENTS} LIKE '%"caustic%'))"""
)
register(
    *append_only("inventory_lotevent", "What was done to a lot"),
    *append_only("inventory_wasteentry", "What went into a container"),
    Refuse(
        name="ammoniacal_waste_is_made_safe_first", table="inventory_wasteentry", event="INSERT",
        condition=f"NOT NEW.made_safe AND {_WASTE_SILVER} AND {_WASTE_AMMONIA}",
        sentence="Nothing ammoniacal goes into a closed container before it is made safe.",
    ),
    Refuse(
        name="container_holds_no_more_than_it_may", table="inventory_wasteentry", event="INSERT",
        condition=(
            "EXISTS (SELECT 1 FROM inventory_wastecontainer drum WHERE drum.id = NEW.container_id "
            "AND drum.holds_most_ml < NEW.volume_ml + (SELECT COALESCE(SUM(entry.volume_ml), 0) "
            "FROM inventory_wasteentry entry WHERE entry.container_id = NEW.container_id))"
        ),
        sentence="A container holds no more than it may: open another.",
    ),
    Refuse(
        name="nothing_into_a_container_that_is_gone", table="inventory_wasteentry", event="INSERT",
        condition=(
            "EXISTS (SELECT 1 FROM inventory_wastecontainer drum WHERE drum.id = NEW.container_id "
            "AND drum.handed_on IS NOT NULL)"
        ),
        sentence="That container was handed over: open another.",
    ),
    Refuse(
        name="count_is_posted_once", table="inventory_countsheet", event="UPDATE",
        condition=f"OLD.posting_id IS NOT NULL AND {changed('posting_id', 'as_of', 'place', 'posted_at')}",
        sentence="A count that was saved stays as it is: count again.",
    ),
    Refuse(
        name="posted_count_lines_stay", table="inventory_countline", event="UPDATE",
        condition=(
            "EXISTS (SELECT 1 FROM inventory_countsheet sheet WHERE sheet.id = OLD.sheet_id "
            "AND sheet.posting_id IS NOT NULL)"
        ),
        sentence="A count that was saved stays as it is: count again.",
    ),
)
