"""Cutting orders made up for measuring: instances, an independent checker, a plain search, and a table."""
