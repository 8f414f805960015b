"""Lots: opened, held, discarded, returned, with their papers. Imports stockroom, house and kit."""
