"""Trials: tried, compared, promoted. Imports finishes and below."""
