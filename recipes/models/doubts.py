"""Words to find by, lots that were mixed here, and versions in doubt."""

from __future__ import annotations

from datetime import datetime

from django.db import models
from django.db.models import Q

from recipes.models.finishes import Finish, RecipeVersion
from recipes.models.solutions import SolutionVersion
from recipes.models.trials import Trial
from studio.stockroom.models import Lot


class SearchWords(models.Model):
    """The words that a finish, recipe, solution or trial is found by: its own, and those of its values."""

    finish = models.OneToOneField(Finish, models.CASCADE, null=True, related_name="search_words")
    solution_version = models.OneToOneField(SolutionVersion, models.CASCADE, null=True, related_name="search_words")
    recipe_version = models.OneToOneField(RecipeVersion, models.CASCADE, null=True, related_name="search_words")
    trial = models.OneToOneField(Trial, models.CASCADE, null=True, related_name="search_words")
    words = models.TextField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(finish__isnull=False, solution_version=None, recipe_version=None, trial=None)
                | Q(finish=None, solution_version__isnull=False, recipe_version=None, trial=None)
                | Q(finish=None, solution_version=None, recipe_version__isnull=False, trial=None)
                | Q(finish=None, solution_version=None, recipe_version=None, trial__isnull=False),
                name="search_words_of_one_thing",
            ),
        ]


class MadeLot(models.Model):
    """A lot that was mixed here: of which solution version. Its posting says from which lots."""

    lot = models.OneToOneField(Lot, models.PROTECT, related_name="made")
    solution_version = models.ForeignKey(SolutionVersion, models.PROTECT, related_name="made_lots")
    ready_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["lot_id"]

    @property
    def discard_at(self) -> datetime | None:
        """Return the minute from which it is not used; the picker reads it on the lot."""
        return self.lot.discard_at


class VersionDoubt(models.Model):
    """A mark that a version was sound when it was written, and is not by a truth that was entered later.

    Rules never ask for it: whether a version is sound is worked out, and the mark says the same. It tells the audit,
    and whoever reads a book, a known doubt from a rule that was broken.
    """

    solution_version = models.OneToOneField(SolutionVersion, models.CASCADE, null=True, related_name="doubt")
    recipe_version = models.OneToOneField(RecipeVersion, models.CASCADE, null=True, related_name="doubt")
    why = models.TextField()
    #: the rules that stand against a recipe by name, and the cautions that came later and nobody acknowledged
    rules = models.JSONField(default=list, blank=True)
    #: nothing new is made of the version; where only cautions came later, all goes on
    stops = models.BooleanField(default=True)
    since = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(solution_version__isnull=False, recipe_version=None)
                | Q(solution_version=None, recipe_version__isnull=False),
                name="doubt_about_one_version",
            ),
            models.CheckConstraint(condition=~Q(why=""), name="doubt_says_why"),
        ]
