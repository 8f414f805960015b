"""The tick that stands beside a question, as a browser sends it."""

from __future__ import annotations

import re


def error_beside(html: str, field: str) -> str:
    """Return what stands where a field's refusal stands; nothing where nothing is wrong with it."""
    place = html.find(f'id="id_{field}_error"')
    if place < 0:
        return ""
    return html[place:html.index("</p>", place)]


def tick_beside(html: str, field: str) -> dict[str, str]:
    """Return the tick “It is right as I wrote it” beside a field; nothing where nothing is asked of it."""
    found = re.search(r'name="([^"]+_meant_so)" value="([0-9a-f]+)"', error_beside(html, field))
    return {found[1]: found[2]} if found else {}
