"""The demo: an invented studio with invented people, places and goods, its past written by doing the work.

    draw_pictures   draws the finishes' pictures (illustrations, marked as such)
    write_book      lives through half a year of the studio and saves it as book.json
    library         its materials, solutions and finishes
"""

#: log-ins that anybody may know: only ever set in the demo's own folder
PASSWORDS = {"maud": "quiet-silver-owner", "teo": "quiet-silver-helper"}
