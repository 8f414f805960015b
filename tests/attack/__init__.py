"""Attacks as programs, bounded in count and time: `make attack` runs them all, `make test` only their few chosen points."""
