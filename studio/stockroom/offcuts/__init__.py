"""Offcuts of glass kept as stock; may import the stockroom's own modules, house and kit."""
