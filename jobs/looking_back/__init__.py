"""Looking back: comparison, tracing, silver, buying. Imports work and below."""
