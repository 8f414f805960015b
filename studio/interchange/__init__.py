"""A whole studio as one JSON document, in and out. It gathers from all rooms; no room imports it.

    columns   how single columns look in a book: quantities are strings with units
    save      the studio as a book
    load      a book into an empty studio, all or nothing
    schema    the JSON Schema of book, order and estimate (published as schema.json)
    orders    an order file as a draft, for `manage.py estimate`
"""
