"""What the database itself keeps of the studio's rules: files and acts stay, an owner stays, hours can be read.

And long work is done once: it ends once, and is begun before it ends, each time by a further attempt.
"""

from studio.kit.database_rules import Refuse, append_only, changed, register
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

_ANOTHER_OWNER = ("EXISTS (SELECT 1 FROM studio_person other "
                  "WHERE other.id <> OLD.id AND other.role = 'owner' AND other.is_active)")
_LAST_OWNER = "The last owner stays an owner who can log in: nobody else could change the studio."

_ENDED = "('done', 'failed', 'given up', 'cancelled')"
_AS_ASKED = ("kind", "title", "inputs", "inputs_sha256", "asked_at", "asked_by_id")
_AS_ENDED = ("state", "attempt", "broke_off", "said", "ended_at", "file_name", "file_type", "file_sha256", "file_bytes")
_BEGUN = "(OLD.state = 'waiting' AND NEW.state = 'at work')"

register(
    *append_only("studio_personact", "What was done about a person"),
    Refuse(name="last_owner_stays", table="studio_person", event="UPDATE", sentence=_LAST_OWNER,
           condition="OLD.role = 'owner' AND OLD.is_active AND NOT (NEW.role = 'owner' AND NEW.is_active) "
                     f"AND NOT {_ANOTHER_OWNER}"),
    Refuse(name="last_owner_is_never_deleted", table="studio_person", event="DELETE", sentence=_LAST_OWNER,
           condition=f"OLD.role = 'owner' AND OLD.is_active AND NOT {_ANOTHER_OWNER}"),
    *append_only("studio_storedfile", "A kept file"),
    *append_only("studio_changerecord", "What was changed"),
    *append_only("studio_cleanpass", "A clean pass of the audit"),
    Refuse(name="working_hours_begin_readable", table="studio_house", event="INSERT", condition=_UNREADABLE,
           sentence=_SENTENCE),
    Refuse(name="working_hours_stay_readable", table="studio_house", event="UPDATE", condition=_UNREADABLE,
           sentence=_SENTENCE),
    Refuse(name="long_work_stays_as_asked", table="studio_longwork", event="UPDATE", condition=changed(*_AS_ASKED),
           sentence="What long work was asked for stays as it was asked."),
    Refuse(name="long_work_ends_once", table="studio_longwork", event="UPDATE",
           condition=f"OLD.state IN {_ENDED} AND {changed(*_AS_ENDED)}", sentence="Long work that has ended stays so."),
    Refuse(name="long_work_is_begun_before_it_ends", table="studio_longwork", event="UPDATE",
           condition="OLD.state = 'waiting' AND NEW.state IN ('done', 'failed', 'given up')",
           sentence="Long work that waits is begun before it ends."),
    Refuse(name="long_work_counts_its_attempts", table="studio_longwork", event="UPDATE",
           condition=f"({_BEGUN} AND NEW.attempt <> OLD.attempt + 1) "
                     f"OR (NOT {_BEGUN} AND NEW.attempt <> OLD.attempt)",
           sentence="Each time that long work is begun counts, and nothing else."),
)
