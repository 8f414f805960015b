"""The kit: units, rounding, errors, locks, access, typed values, database rules. No models; imports no room."""
