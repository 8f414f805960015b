"""Lot labels, in millimetres. Imports stockroom, house and kit."""
