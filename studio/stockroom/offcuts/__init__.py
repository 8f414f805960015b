"""Kept offcuts of glass as stock. Imports stockroom, house and kit."""
