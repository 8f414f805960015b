"""Backups: the whole studio, database and kept files, in one file, and back. It gathers from all rooms.

    places       where things lie and who may work there: locks, scratch folder, what is written whole or not at all
    rows         every table's rows as lines of JSON, out and in, the same on SQLite and PostgreSQL
    archive      the file: a tar of tables, kept files and a manifest with the SHA-256 of each
    sealing      the same behind a passphrase (the open age format)
    filling      a fresh place filled from an unpacked backup, compared row for row, and audited; a process of its own
    scratch      fresh places: a folder, or a schema of PostgreSQL
    making       `manage.py backup`
    restoring    `manage.py restore`
    last_good    the mark of the last good backup, which Today reads
"""
