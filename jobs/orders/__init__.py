"""Orders: from what was typed, pasted or measured to what is saved. Imports quotes and below."""
