"""The stockroom: materials, lots and the ledger that moves them.

It knows the house; it knows nothing of recipes or jobs. Runs and jobs point down
to a Posting or a Reservation of theirs.
"""
