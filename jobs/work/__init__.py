"""Work: booked, ticketed, run on the bench, finished, delivered. Imports orders, quotes and below."""
