"""The recipe library: solutions, finishes, recipe versions, steps and the bench rules they keep.

It knows the stockroom's materials; it knows nothing of orders, quotes or runs.
"""
