"""The SHA-256 of a quote as it was frozen: what a customer who answers had before them."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC

from jobs.models import Quote
from studio.kit.rounding import plain


def fingerprint(quote: Quote) -> str:
    """Return 64 hexadecimal digits: the same for the same frozen content, on whichever database it is kept."""
    content = {
        "number": quote.number, "revision": quote.revision, "made_at": quote.made_at.astimezone(UTC).isoformat(),
        "valid_until": quote.valid_until.isoformat(), "currency": quote.currency,
        **{name: plain(getattr(quote, name)) for name in ("net", "tax", "total", "deposit")},
        "basis": quote.basis, "plan": quote.plan, "figures": quote.figures, "wording": quote.wording,
        **({"choices": quote.choices} if quote.choices else {}),
    }
    written = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(written.encode()).hexdigest()
