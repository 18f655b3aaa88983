"""What a paired device holds, and what is kept of it.

A token is 256 random bits. Only its SHA-256 is kept, so that a copy of the record lets nobody in. A slow hash
(as for passwords) would buy nothing: that is for secrets which people choose and others can list; nobody can
try a part of 2**256 that matters, at any speed. A fast one is looked up at every request without being felt.
"""

from __future__ import annotations

import hashlib
import secrets

TOKEN_BYTES = 32


def new_token() -> str:
    """Return a new secret of 256 bits, as 43 characters that a cookie may hold."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def hash_of(secret: str) -> str:
    """Return the SHA-256 of a secret, in hexadecimal digits."""
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()
