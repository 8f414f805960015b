"""What a private link carries: told once, and kept as its hash alone."""

from __future__ import annotations

import hashlib


def hash_of(token: str) -> str:
    """Return 64 hexadecimal digits (SHA-256): a token has bits enough that it needs no salt."""
    return hashlib.sha256(token.encode()).hexdigest()
