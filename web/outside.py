"""How the page is to be reached from other devices, as the user said, and what of that cannot work."""

from __future__ import annotations

import ipaddress
import ssl
from pathlib import Path
from typing import Any, NamedTuple

from controller.errors import UsageError

LOOPBACK = "127.0.0.1"


class Outside(NamedTuple):
    """How the page is reached from other devices. `host` on loopback: not at all, or through a proxy.

    `names`: the first one is the one that `stokehold pair` prints. `cert` and `key`: PEM files, both or none.
    """

    host: str = LOOPBACK
    names: tuple[str, ...] = ()
    behind_proxy: bool = False
    cert: Path | None = None
    key: Path | None = None

    @property
    def on_network(self) -> bool:
        """Whether this process itself listens on a network."""
        return not ipaddress.ip_address(self.host).is_loopback

    def tls(self) -> dict[str, Any]:
        """Return what the server wants to know of it."""
        return {"ssl_certfile": self.cert, "ssl_keyfile": self.key} if self.cert else {}


HERE_ONLY = Outside()


def check(outside: Outside) -> None:
    """Raise UsageError for what cannot work, before anything is served."""
    try:
        ipaddress.ip_address(outside.host)
    except ValueError as error:
        raise UsageError(
            f"--host: found {outside.host!r}, expected an address of this computer, or 0.0.0.0 for all"
        ) from error
    if outside.behind_proxy and outside.on_network:
        raise UsageError("--behind-proxy: found --host as well; the proxy calls on this machine, 127.0.0.1")
    if outside.behind_proxy and not outside.names:
        raise UsageError("--behind-proxy: found no --name, expected the name that the proxy is called by")
    if (outside.cert is None) != (outside.key is None):
        raise UsageError("--tls-cert and --tls-key: found one of the two, expected both or none")
    if outside.cert is not None and outside.key is not None:
        try:
            ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(outside.cert, outside.key)
        except (OSError, ssl.SSLError) as error:
            found = error.strerror or str(error)
            raise UsageError(
                f"--tls-cert {outside.cert}, --tls-key {outside.key}: {found}; expected a certificate "
                "and its key as PEM files, the key without a passphrase"
            ) from error
