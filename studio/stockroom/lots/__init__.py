"""Lots: opened, held, discarded, returned, with their papers; may import the stockroom's own modules, house and kit."""
