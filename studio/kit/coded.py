"""Things with a short name of their own that never changes: what frozen papers and books refer to."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.text import slugify

from studio.kit.database_rules import Refuse, changed


class Coded(models.Model):
    """A named thing with a code made from its first name; the code stays when the name changes."""

    code = models.SlugField(max_length=90, unique=True, editable=False)

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self.code:
            self.code = slugify(str(self))[:90]
        super().save(*args, **kwargs)


def code_never_changes(table: str) -> Refuse:
    return Refuse(
        name=f"{table}_keeps_its_code", table=table, event="UPDATE", condition=changed("code"),
        sentence="A code never changes: papers refer to it.",
    )
