"""Deliveries: a pasted table becomes lots, carriage shared; price lists. Imports lots and below."""
