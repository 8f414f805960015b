"""Chemistry: pure arithmetic of doses, strengths, molar masses and mixes. Imports facts and the kit."""
