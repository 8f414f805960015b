"""Quotes: the basis gathered, priced, frozen, told and printed. Imports drawings and estimating."""
