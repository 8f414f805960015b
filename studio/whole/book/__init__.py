"""A whole studio as one JSON document, in and out. It gathers from all rooms; no room imports it.

    rooms            every room's own sections (each room's `book.py`), in the order in which they are read
    save             the studio as a book
    load, reading    a book into an empty studio, all or nothing; its sections, level by level
    schema           the JSON Schema of book, order and estimate (published as schema.json)
    order_schema, estimate_schema, orders    what `manage.py estimate` reads and prints
"""
