"""The house: settings, units, money, people, rates and identity.

Every room stands on it; it imports nothing of the rooms, but in `urls`, `today`
and the modules that gather from all of them (`interchange`, `audit`, `demo`).
"""
