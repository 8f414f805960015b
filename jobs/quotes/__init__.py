"""Quotes: the basis gathered, priced, frozen, explained and printed; may import jobs.drawings and jobs.estimating."""
