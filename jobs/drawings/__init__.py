"""Drawings: sheets, panes, timetables and prices as places in a picture. Pure; imports estimating alone."""
