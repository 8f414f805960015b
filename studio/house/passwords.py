"""What is asked of a password, said alike wherever one is chosen: it is long enough, and no common one."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError

LEAST, MOST = settings.PASSWORD_LENGTH
HELP = (f"{LEAST} characters or more, up to {MOST}: several words are easy to keep in mind. Capitals, figures and "
        "signs are not needed; a password that many people use is refused.")


class RightLength:
    """Passwords of so many characters, spaces and all."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raises ValidationError, which says how many there are."""
        if not LEAST <= len(password) <= MOST:
            few = len(password) < LEAST
            raise ValidationError(
                f"{'At least' if few else 'At most'} {LEAST if few else MOST} characters: there are {len(password)}.",
                code="password_too_short" if few else "password_too_long",
            )

    def get_help_text(self) -> str:
        return HELP
