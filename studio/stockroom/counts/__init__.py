"""Counts: sheets entered and saved as corrections. Imports stockroom, house and kit."""
