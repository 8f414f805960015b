"""The studio itself: people, studio settings, rates, kept files, clock and paper. Imports the kit alone."""
