"""The house: people, studio settings, rates, kept files, clock and paper. Imports the kit alone."""
