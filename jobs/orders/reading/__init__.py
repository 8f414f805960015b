"""What a customer wrote, read: a letter becomes lines to take, questions to settle, marks to look at. Pure: no Django.

letter (rows, quotes, tables) → holes (taken out before sizes) → asides (dates, prices, numbers of things) →
tokens → measures → sizes → counts → wording (what kind of sentence it stands in) → a passage's outcome →
what later passages change → a Reading.
Each stage is a module and knows those before it; words that no rule acted on are asked about (unheard).
Nothing is guessed: what could mean two things is a question, what holds a figure and is not acted on is a mark.
"""

from jobs.orders.reading.outcome import Choice, Line, Mark, Question, Reading
from jobs.orders.reading.reader import read_letter

__all__ = ["Choice", "Line", "Mark", "Question", "Reading", "read_letter"]
