"""Solutions: written, checked, measured out, mixed ahead. Imports chemistry, the room's models, and below."""
