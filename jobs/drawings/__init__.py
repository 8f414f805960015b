"""Drawings: sheets, panes, timetables and prices as places in a picture; pure, may import jobs.estimating only."""
