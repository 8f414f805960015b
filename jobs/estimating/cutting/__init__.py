"""Cutting plans: sheets, strips, packing, patterns, the order of cuts. Pure."""
