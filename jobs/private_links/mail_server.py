"""The mail server's own word on each address: one that it refused beside others that it took is not lost silently."""

from __future__ import annotations

import smtplib
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.mail.backends.smtp import EmailBackend as Plain
from django.core.mail.message import sanitize_address


class _Remembers:
    """A connection that keeps which addresses were refused while others were taken."""

    refused: list[str]

    def sendmail(self, *given: Any, **named: Any) -> Any:
        refused = super().sendmail(*given, **named)  # type: ignore[misc]
        self.refused.extend(refused)
        return refused


class EmailBackend(Plain):
    """Sends as Django does. refused: the addresses of the last letters that the server did not take."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.refused: list[str] = []

    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        made = smtplib.SMTP_SSL if self.use_ssl else smtplib.SMTP
        return type("Remembers", (_Remembers, made), {"refused": self.refused})


def refused_of(connection: object, to: Sequence[str]) -> list[str]:
    """Return which of the addresses of a letter its server refused; none where the back end cannot say."""
    refused = set(getattr(connection, "refused", ()))
    # the server is asked about each as it is written for the wire: “münchen” is “xn--mnchen-3ya” there
    return [address for address in to if sanitize_address(address, settings.DEFAULT_CHARSET) in refused]
