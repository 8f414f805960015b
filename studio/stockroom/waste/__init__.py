"""Waste: containers, what went in, who took them. Imports stockroom, house and kit."""
