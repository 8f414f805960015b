"""Chemistry: pure arithmetic of doses, strengths, molar masses and mixes. Facts and the kit may enter."""
