"""Trials: tried, compared, promoted. Finishes and what lies below may enter."""
