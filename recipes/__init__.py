"""The recipe library: solutions, finishes, recipe versions, steps, bench rules and trials; the stockroom may enter."""
