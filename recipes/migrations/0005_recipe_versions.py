"""Issues become versions: of a recipe, of a solution, and the events that put them in use."""

from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [("recipes", "0004_madelot")]

    operations = [
        migrations.RenameModel("RecipeIssue", "RecipeVersion"),
        migrations.RenameModel("SolutionIssue", "SolutionVersion"),
        migrations.RenameModel("IssueEvent", "VersionEvent"),
        migrations.RemoveConstraint("VersionEvent", "issue_event_known"),
    ]
