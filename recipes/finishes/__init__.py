"""Finishes: steps, bench rules, recipe versions. Imports solutions and below."""
