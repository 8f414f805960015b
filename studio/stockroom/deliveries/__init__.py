"""Deliveries: a pasted table that becomes lots, carriage shared, and price lists; may import lots and below."""
