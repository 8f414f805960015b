"""The customers' swatch book with guide prices. Imports quotes and below."""
