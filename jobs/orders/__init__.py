"""Orders: what was typed, pasted or measured becomes a saved order; may import jobs.quotes and what that may."""
