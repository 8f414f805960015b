"""Orders from typed to saved: a line's fields in one table, the forms that take them. Nothing here knows a quote."""
