"""A shelf picked from the trade's list, and what nobody has classed yet; may import the stockroom's own modules."""
