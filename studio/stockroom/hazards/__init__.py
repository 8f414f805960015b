"""Hazards of materials: classes and where they come from, statements, labels, and what must not meet.

Pure: no Django may enter. Suppliers' safety data sheets, local codes and licensed practice come first; each row of a
table says its source, and whether it was written from memory.
"""
