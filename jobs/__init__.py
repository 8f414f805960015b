"""The jobs: customers, orders, estimates, quotes, tickets and runs.

Follow the data: order → take-off → mixes → picks → price → documents → run → ledger.
"""
