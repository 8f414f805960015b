"""Waste containers: what went in and who took them; may import the stockroom's own modules, house and kit."""
