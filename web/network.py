"""How the page is reached: the names that it answers to, and whether a proxy stands before it."""

from __future__ import annotations

from typing import NamedTuple
from urllib.parse import urlsplit

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


class Network(NamedTuple):
    """`names`: host names and addresses that the user allows beside this machine's own (lower case)."""

    names: frozenset[str] = frozenset()
    behind_proxy: bool = False


HERE_ONLY = Network()


def host_name(host: str) -> str:
    """Return the name in a Host header; an empty one when it is not a plain name with a port."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port  # raises for what is no port
    except ValueError:
        return ""
    return (parts.hostname or "") if parts.netloc == host and "@" not in host else ""
