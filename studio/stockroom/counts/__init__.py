"""Counts: sheets that are entered and saved as corrections; may import the stockroom's own modules, house and kit."""
