"""Solutions: written, checked, measured out, mixed ahead. Chemistry and what lies below may enter."""
