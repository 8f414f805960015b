"""Chemistry: pure arithmetic of doses, strengths and mixes. Facts and the kit may enter."""
