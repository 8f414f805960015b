"""The first day: a guided start that can be left and taken up again, its stages told by what the book holds."""
