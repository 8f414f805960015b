"""Paper: a template becomes a tagged PDF with its fonts embedded. Nothing is fetched from a network."""

from __future__ import annotations

import gc
import hashlib
import logging
import re
from collections import OrderedDict
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from functools import partial
from threading import Lock
from typing import Any

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from weasyprint import HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from studio.house.kept_files import read
from studio.house.models import StoredFile
from studio.kit.trouble import InTrouble, Trouble, trouble_of

#: addresses of documents' own things; .invalid resolves nowhere (RFC 2606), and nothing is asked of a network
STATIC, KEPT = "https://daybook.invalid/static/", "https://daybook.invalid/kept/"
#: how templates are laid out; a paper sets any run of these as one space, and a fifth of what is parsed is this
_INDENTED = re.compile(r"[ \t]*\n[ \t\n]*")
_TYPES = {"css": "text/css", "ttf": "font/ttf", "svg": "image/svg+xml", "otf": "font/otf"}


class NothingElse(FatalURLFetchingError):
    """A document asked for something that is neither its own style nor a kept file."""


class OwnThingsOnly(URLFetcher):
    """Fetch the project's own static files and the studio's kept files; refuse everything else."""

    def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
        if url.startswith(STATIC):
            name = url.removeprefix(STATIC)
            found = finders.find(name)
            if found is None:
                raise NothingElse(f"There is no static file {name}.")
            with open(str(found), "rb") as file:
                content, media_type = file.read(), _TYPES.get(name.rsplit(".", 1)[-1], "application/octet-stream")
        elif url.startswith(KEPT):
            stored = StoredFile.objects.get(sha256=url.removeprefix(KEPT))
            content, media_type = read(stored), stored.media_type
        else:
            raise NothingElse(f"A document never fetches {url}.")
        return URLFetcherResponse(url, content, {"Content-Type": media_type})


NO_PAPER = Trouble(title="The paper could not be made", sentence=(
    "What was saved stays saved, and every page works. Try again; if it fails again, tell whoever looks after this "
    "server: the log says why."))
log = logging.getLogger(__name__)
_setting = 0
_setting_lock = Lock()


@contextmanager
def no_collecting() -> Iterator[None]:
    """Let the collector of unreachable cycles rest while any paper is set.

    Setting makes hundreds of thousands of objects that all live to its end: looking through them takes a fifth of its
    time and finds nothing. Several papers may be set at once: the last to end wakes it.
    """
    global _setting
    with _setting_lock:
        _setting += 1
        gc.disable()
    try:
        yield
    finally:
        with _setting_lock:
            _setting -= 1
            if not _setting:
                gc.enable()


LONGEST_WAIT_SECONDS = 60


class SetOnce:
    """Papers set of late, by what they say: one that is asked for again, or by several at one moment, is set once."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self._lock = Lock()
        self._lately: OrderedDict[bytes, bytes] = OrderedDict()
        self._being_set: dict[bytes, Future[bytes]] = {}

    def forget(self) -> None:
        with self._lock:
            self._lately.clear()

    def paper(self, html: str, set_it: Callable[[str], bytes]) -> bytes:
        """Return the paper of a document, set by `set_it` unless it was or is being set. Raises what that raises."""
        said = hashlib.sha256(html.encode("utf-8", "surrogatepass")).digest()
        with self._lock:
            if said in self._lately:
                self._lately.move_to_end(said)
                return self._lately[said]
            asked_already = said in self._being_set
            coming = self._being_set.setdefault(said, Future())
        if asked_already:
            try:
                return coming.result(LONGEST_WAIT_SECONDS)
            except Exception:  # who set it could not, or hangs: each has trouble of its own
                return set_it(html)
        try:
            pdf = set_it(html)
        except BaseException as failed:
            with self._lock:
                del self._being_set[said]
            coming.set_exception(failed)
            raise
        with self._lock:
            del self._being_set[said]
            self._lately[said] = pdf
            while sum(map(len, self._lately.values())) > self.most_bytes:
                self._lately.popitem(last=False)
        coming.set_result(pdf)
        return pdf


#: a ticket is opened, looked at and printed within minutes, by more than one
papers = SetOnce(most_bytes=16_000_000)


def render_pdf(template: str, context: dict[str, Any]) -> bytes:
    """Return a document as PDF/UA-1: tagged, titled, its fonts embedded. Raises InTrouble where it cannot be set."""
    return papers.paper(_INDENTED.sub("\n", render_to_string(template, context)), partial(_set, template))


def _set(template: str, html: str) -> bytes:
    with no_collecting():
        try:
            document = HTML(string=html, base_url=STATIC, url_fetcher=OwnThingsOnly())
            pdf = document.write_pdf(pdf_variant="pdf/ua-1", font_config=FontConfiguration())
        except Exception as failed:
            if isinstance(failed, NothingElse) or trouble_of(failed) is not None:
                raise
            log.exception("A paper could not be made from %s", template)
            raise InTrouble(NO_PAPER) from failed
    assert isinstance(pdf, bytes)
    return pdf
