"""Finishes: steps, bench rules, recipe versions. Solutions and what lies below may enter."""
