"""The jobs' papers: the quote for the customer, the work ticket for the helper.

What was sent or printed is kept as bytes and never rendered again.
"""
