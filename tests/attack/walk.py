"""Every door of a studio by its own pages: addresses that are really there, and their forms as a browser reads them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser
from types import MappingProxyType
from typing import Protocol
from urllib.parse import urljoin, urlsplit

Fields = list[tuple[str, str]]
#: what is never pressed: it ends the walker's own way in
LEFT_ALONE = re.compile(r"/log-out/|/password/|/let-go/|/static/")
#: pages of one pattern that are opened: two runs or two lots are two different stories
PAGES_A_PATTERN = 2


@dataclass(frozen=True, kw_only=True)
class Answer:
    status: int
    text: str
    seconds: float = 0.0
    moved: str = ""


class Way(Protocol):
    """A way to a studio: through the test client, or to a server."""

    def get(self, path: str) -> Answer: ...
    def post(self, path: str, fields: Fields) -> Answer: ...
    def post_json(self, path: str, body: str) -> Answer: ...


@dataclass(frozen=True, kw_only=True)
class Form:
    """A form of a page: where it is sent, and its fields as they stand there."""

    pattern: str
    path: str
    method: str
    fields: tuple[tuple[str, str, str], ...]  #: name, value, kind of field

    @property
    def as_it_stands(self) -> Fields:
        return [(name, value) for name, value, _ in self.fields]


@dataclass
class _Read:
    action: str
    method: str
    fields: list[tuple[str, str, str]] = field(default_factory=list)


class _Page(HTMLParser):
    def __init__(self, path: str) -> None:
        super().__init__(convert_charrefs=True)
        self.path, self.links, self.forms = path, [], []
        self._form: _Read | None = None
        self._select: list[str] | None = None
        self._area: list[str] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        for name in ("href", "hx-get"):
            if name in given and tag != "link":
                self.links.append(urljoin(self.path, unescape(given[name])))
        if tag == "form":
            action = given.get("action") or given.get("hx-post") or self.path
            self._form = _Read(urljoin(self.path, action), given.get("method", "post" if "hx-post" in given else "get").lower())
            self.forms.append(self._form)
        if "hx-post" in given and tag != "form" and self._form is not None:
            self.forms.append(_Read(urljoin(self.path, given["hx-post"]), "post", self._form.fields))
        if "formaction" in given and self._form is not None:
            self.forms.append(_Read(urljoin(self.path, given["formaction"]), "post", self._form.fields))
        if self._form is None or not given.get("name"):
            return
        kind = given.get("type", tag)
        if tag in ("input", "button"):
            if kind in ("checkbox", "radio") and "checked" not in given:
                return
            if kind not in ("file", "submit", "button") or tag == "button":
                self._form.fields.append((given["name"], given.get("value", ""), kind))
        elif tag == "select":
            self._select = []
            self._form.fields.append((given["name"], "", "select"))
        elif tag == "textarea":
            self._area = []
            self._form.fields.append((given["name"], "", "textarea"))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self._area.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "textarea" and self._area is not None and self._form is not None:
            name, _, kind = self._form.fields.pop()
            self._form.fields.append((name, "".join(self._area), kind))
            self._area = None


def with_options(html: str, form: Form) -> Form:
    """Choose, in every list of a form, what the page has chosen, or its first."""
    fields = []
    for name, value, kind in form.fields:
        if kind == "select":
            found = re.search(rf'<select[^>]*name="{re.escape(name)}"[^>]*>(.*?)</select>', html, re.S)
            options = re.findall(r'<option value="([^"]*)"([^>]*)', found[1]) if found else []
            chosen = [option for option, more in options if "selected" in more] or [option for option, _ in options if option]
            value = unescape(chosen[0]) if chosen else ""
        fields.append((name, value, kind))
    return Form(pattern=form.pattern, path=form.path, method=form.method, fields=tuple(fields))


def walk(
    way: Way, pattern_of: Callable[[str], str], most_pages: int = 400, more: Mapping[str, int] = MappingProxyType({}),
    begins: str = "/",
) -> tuple[dict[str, str], list[Form]]:
    """Return an address that is there for every pattern that a page links to, and one form of each kind.

    more: patterns of which more pages are opened than of others. begins: the first page, from which links are followed.
    """
    waiting, opened, there = [begins], {begins}, {}
    seen: dict[str, int] = {}
    forms: dict[tuple[str, tuple[str, ...]], Form] = {}
    while waiting and len(opened) < most_pages * 10:
        path = waiting.pop(0)
        pattern = pattern_of(path)
        if not pattern or seen.get(pattern, 0) >= more.get(pattern, PAGES_A_PATTERN) or LEFT_ALONE.search(path):
            continue
        seen[pattern] = seen.get(pattern, 0) + 1
        answer = way.get(path)
        there.setdefault(pattern, urlsplit(path).path)
        if answer.status != 200 or "<html" not in answer.text:
            continue
        page = _Page(path)
        page.feed(answer.text)
        for form in page.forms:
            to = pattern_of(form.action)
            if to and not LEFT_ALONE.search(form.action):
                there.setdefault(to, urlsplit(form.action).path)
                names = tuple(sorted({name for name, _, _ in form.fields}))
                forms.setdefault((to, names), with_options(answer.text, Form(
                    pattern=to, path=form.action, method=form.method, fields=tuple(form.fields))))
        for link in page.links:
            link = link.split("#")[0]
            if link not in opened and pattern_of(link):
                opened.add(link)
                waiting.append(link)
    return there, list(forms.values())


def private_address(owner: Way, token: str) -> str:
    """Make a private link for a quote that waits for its customer, as its page does; return the customer's address.

    token: of the owner's forms. The address is shown once, on the page that the form leads to.
    """
    for pk in range(1, 30):
        page = owner.get(f"/quotes/{pk}/")
        key = re.search(rf'action="/quotes/{pk}/link/".*?name="key" value="([^"]+)"', page.text, re.S)
        if page.status != 200 or key is None or "Mark as accepted" not in page.text:
            continue
        made = owner.post(f"/quotes/{pk}/link/", [("csrfmiddlewaretoken", token), ("key", key[1]), ("until", "")])
        shown = re.search(r"/q/[\w-]{43}/", owner.get(made.moved).text) if made.moved else None
        if shown is not None:
            return shown[0]
    raise RuntimeError("No quote of the demo waits for its customer.")


def parameters(source: Iterator[str]) -> tuple[list[str], list[str]]:
    """Return the names that views ask an address and a form for, by their source."""
    asked: set[str] = set()
    sent: set[str] = set()
    for text in source:
        asked |= set(re.findall(r"""GET(?:\.get|\.getlist)?[(\[]["'](\w+)["']""", text)) | set(re.findall(r"""asked\.get\(["'](\w+)["']""", text))
        sent |= set(re.findall(r"""POST(?:\.get|\.getlist)?[(\[]["']([\w-]+)["']""", text))
    return sorted(asked), sorted(sent)
