"""Cutting plans: panes on stock sheets and offcuts, and the order of cuts; pure, may import jobs.estimating.basis."""
