"""Solutions, finishes and their numbered, frozen versions."""

from recipes.models.doubts import MadeLot, SearchWords, VersionDoubt
from recipes.models.finishes import (
    Finish,
    FinishPicture,
    Part,
    RecipeVersion,
    RecipeVersions,
    RemovedStep,
    Step,
    VersionEvent,
)
from recipes.models.safety import MakingSafe, NotMixed, SilverClock, TrialRecord
from recipes.models.solutions import LITRE_ML, Ingredient, Solution, SolutionVersion
from recipes.models.trials import Trial, TrialChange, TrialNote, TrialPhotograph, TrialTiming, TrialUse, TriedAgainst

__all__ = [
    "LITRE_ML", "Finish", "FinishPicture", "Ingredient", "MadeLot", "MakingSafe", "NotMixed", "Part",
    "RecipeVersion", "RecipeVersions", "RemovedStep", "SearchWords", "SilverClock", "Solution",
    "SolutionVersion", "Step", "Trial", "TrialChange", "TrialNote", "TrialPhotograph", "TrialRecord",
    "TrialTiming", "TrialUse", "TriedAgainst", "VersionDoubt", "VersionEvent",
]
