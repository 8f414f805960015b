"""The stockroom: materials, lots and the ledger that moves them; it may import the house and the kit.

It knows nothing of recipes or jobs: their runs and jobs point down to a Posting or a Reservation.
"""
