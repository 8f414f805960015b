"""The whole: what gathers from every room (Today, search, audit, books, the demo). No room imports it."""
