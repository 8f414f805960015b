"""What of the studio itself stands in a book: its name and words, people, rates, guns and kept files."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from studio.house.file_contents import NotWhatItSays, check_content
from studio.house.kept_files import check_described, keep
from studio.house.models import EdgeType, GunCalibration, House, HouseRates, Person, PersonAct, StoredFile
from studio.house.week_models import DayApart, StudioWeek
from studio.kit.book import Section, by
from studio.kit.errors import DaybookError


class FileMissing(DaybookError):
    """A book names a file that is not beside it, or is another."""


def without_password(row: Person, entry: dict[str, Any]) -> None:
    """Let nobody in by a book: a password is given afterwards."""
    row.set_unusable_password()


def kept_file(row: StoredFile, folder: Path) -> StoredFile:
    """Keep the file of that content from the folder beside the book. Raises FileMissing."""
    check_described(row.sha256, row.name, row.media_type)
    path = folder / row.sha256
    if not path.is_file() or path.is_symlink():
        raise FileMissing(f"the file {row.name} is not beside the book.")
    content = path.read_bytes() if path.stat().st_size == row.size_bytes else b""
    if hashlib.sha256(content).hexdigest() != row.sha256:
        raise FileMissing(f"the file {row.name} is not the one the book names.")
    try:
        check_content(content, row.media_type)
    except NotWhatItSays as refused:
        raise FileMissing(f"the file {row.name} is no {row.media_type}.") from refused
    return keep(content, name=row.name, media_type=row.media_type, owner_only=row.owner_only)


SECTIONS = (
    Section(name="house", model=House, single=True, words="""
        name address email phone tax_number time_zone paper units terms care_note payment_details mail_sender mail_text
        making_safe_procedure
        spill_procedure waste_procedure waste_days_open discharge_permit
        ammoniacal_limit_minutes hours_monday hours_tuesday hours_wednesday hours_thursday
        hours_friday hours_saturday hours_sunday papers_kept_years request_prefix request_first_number request_days
        mark
    """, later={"mark": "files"}),
    Section(name="people", model=Person, order=("username",), named=by("username"), ready=without_password,
            words="username first_name last_name role is_active",
            lists=(Section(name="acts", model=PersonAct, parent="person", words="at by what", after="people"),)),
    Section(
        name="rates", model=HouseRates, order=("effective_from",),
        words="""
            effective_from currency tax_name tax_share helper_per_hour owner_per_hour
            overhead_per_bench_hour margin_share minimum_charge price_step plan cover_share glass_loss_share
            bench_width_mm=bench_width:mm bench_height_mm=bench_height:mm bench_usable_share
            increment_ml=measuring_increment:mL largest_vessel_ml=largest_vessel:mL
            balance_readability_g=balance_readability:g trim_mm=trim:mm clearance_mm=clearance:mm
            smallest_offcut_mm=keep_size:mm smallest_strip_mm=smallest_strip:mm offcut_trim_mm=offcut_trim:mm
            offcut_credit_share deposit_share
            quote_valid_days setup_minutes=set_up:min mixing_minutes_per_batch=mixing_per_batch:min
            cutting_minutes_per_pane=cutting_per_pane:min
            packing_minutes_per_pane=packing_per_pane:min hands benches bench_day_minutes=bench_day:min cure_hours
            usual_working_days two_person_kg crate_most_kg crate_kg
        """,
        lists=(Section(name="edges", model=EdgeType, parent="rates",
                       words="name minutes_per_m=time_per_metre:min grinds_off_mm=grinds_off:mm"),),
    ),
    Section(name="week", model=StudioWeek, single=True, words="""
        owner_monday owner_tuesday owner_wednesday owner_thursday owner_friday owner_saturday owner_sunday
        helper_monday helper_tuesday helper_wednesday helper_thursday helper_friday helper_saturday helper_sunday
        benches country region comes_share holds_share spare_days look_ahead_days helper_records_away
    """),
    Section(name="days_apart", model=DayApart, order=("first_on", "key"), words="""
        key who first_on last_on spells because kept_free
    """),
    Section(name="guns", model=GunCalibration, order=("gun", "measured_on"), words="""
        gun measured_on flow_ml_per_minute=flow_per_minute:mL passes traverse_m2_per_minute=traverse_per_minute:m2
        stroke_ml=stroke:mL strokes_per_m2
    """),
    Section(name="files", model=StoredFile, order=("sha256",), named=by("sha256"), kept=kept_file,
            words="sha256 name media_type size_bytes owner_only"),
)
