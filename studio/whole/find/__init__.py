"""Find: one question to every room. `wanted` reads what was typed, `why` says why a row matched, and a module a room
asks its tables; `everything` puts the groups in order.
"""
