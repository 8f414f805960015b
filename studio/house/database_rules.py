"""What the database itself keeps of the studio's rules: kept files stay as they were kept."""

from studio.kit.database_rules import append_only, register

register(*append_only("studio_storedfile", "A kept file"))
