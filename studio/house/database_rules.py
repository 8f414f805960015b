"""What the database itself keeps of the studio's rules: kept files stay as they were, working hours can be read."""

from studio.kit.database_rules import Refuse, append_only, register
from studio.kit.working_hours import DAYS

_DIGITS = ", ".join(f"'{digit}'" for digit in range(10))
_HOURS = ", ".join(f"'{hour:02}'" for hour in range(24))


def _is_time(text: str, at: int) -> str:
    """Return the condition that five letters of a text, from one on, are a time of the day: “08:30”."""
    return (f"SUBSTR({text}, {at}, 2) IN ({_HOURS}) AND SUBSTR({text}, {at + 2}, 1) = ':' "
            f"AND SUBSTR({text}, {at + 3}, 1) IN ('0', '1', '2', '3', '4', '5') "
            f"AND SUBSTR({text}, {at + 4}, 1) IN ({_DIGITS})")


def _is_hours(column: str) -> str:
    text = f"NEW.{column}"
    return (f"({text} = '' OR (LENGTH({text}) = 11 AND {_is_time(text, 1)} AND SUBSTR({text}, 6, 1) = '-' "
            f"AND {_is_time(text, 7)} AND SUBSTR({text}, 1, 5) < SUBSTR({text}, 7, 5)))")


_UNREADABLE = "NOT (" + " AND ".join(_is_hours(f"hours_{day}") for day in DAYS) + ")"
_SENTENCE = "Working hours are kept as “08:30-17:30”, from an earlier time to a later one, or empty."

register(
    *append_only("studio_storedfile", "A kept file"),
    Refuse(name="working_hours_begin_readable", table="studio_house", event="INSERT", condition=_UNREADABLE,
           sentence=_SENTENCE),
    Refuse(name="working_hours_stay_readable", table="studio_house", event="UPDATE", condition=_UNREADABLE,
           sentence=_SENTENCE),
)
