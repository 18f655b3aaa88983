"""Who calls: the kiln's own computer, a paired device, or a stranger.

**The kiln's own computer needs no pairing**: a call that came over loopback, to a loopback name, and that no
proxy passed on. Whoever may open a browser there stands at the kiln or has an account on its computer, which
is more than any token says. A proxy on the same machine calls over loopback too, for anybody; so nothing is
the own computer's once --behind-proxy is given, and without it not where a proxy's header is found, or
HTTP/1.0, which no browser speaks and some proxies do.
"""

from __future__ import annotations

import ipaddress
from typing import NamedTuple

from starlette.datastructures import Headers
from starlette.requests import HTTPConnection
from starlette.types import Scope

from controller.pairing.names import by_device
from web.network import LOOPBACK, Network, host_name

# A proxy says with one of these for whom it calls.
PASSED_ON = (
    "forwarded",
    "via",
    "x-forwarded-for",
    "x-forwarded-host",
    "x-forwarded-proto",
    "x-forwarded-server",
    "x-real-ip",
    "cf-connecting-ip",
    "true-client-ip",
)


class Caller(NamedTuple):
    """`role`: anyone, watcher or operator. `by`: who that is in the record. `number`: a paired device's."""

    role: str
    by: str
    name: str = ""
    number: int | None = None


OWN_COMPUTER = Caller("operator", "page")
STRANGER = Caller("anyone", "stranger")


def device_caller(number: int, name: str, role: str) -> Caller:
    """Return the caller for a paired device."""
    return Caller(role, by_device(name), name, number)


def by(request: HTTPConnection) -> str:
    """Return who asks, for the record: "page" on the kiln's own computer, else with the device's name."""
    caller: Caller = request.scope["caller"]
    return caller.by


def own_computer(scope: Scope, network: Network) -> bool:
    """Whether this call is of a browser on the kiln's own computer."""
    headers = Headers(scope=scope)
    return (
        not network.behind_proxy
        and not any(header in headers for header in PASSED_ON)
        and scope.get("http_version") != "1.0"
        and host_name(headers.get("host", "")) in LOOPBACK
        and is_loopback(peer(scope))
    )


def address(scope: Scope, network: Network) -> str:
    """Return the address that tries are counted by: the peer's, or the one that our own proxy saw."""
    found = peer(scope)
    if network.behind_proxy and is_loopback(found):
        passed = Headers(scope=scope).get("x-forwarded-for", "").rpartition(",")[2].strip()
        found = passed or found
    return _network_of(found)[:45]


def is_secure(scope: Scope, network: Network) -> bool:
    """Whether the browser speaks TLS, to us or to our own proxy."""
    passed = Headers(scope=scope).get("x-forwarded-proto", "") if network.behind_proxy else ""
    return scope.get("scheme") == "https" or passed.strip().lower() == "https"


def peer(scope: Scope) -> str:
    """Return the address at the other end of the wire; empty when there is none."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def is_loopback(host: str) -> bool:
    """Whether an address is this computer's loopback, also where IPv4 is written as IPv6."""
    try:
        found = ipaddress.ip_address(host)
    except ValueError:
        return False
    mapped = getattr(found, "ipv4_mapped", None)
    return (mapped or found).is_loopback


def _network_of(host: str) -> str:
    """Return what one household's device cannot change: IPv6 by its network of 64 bits."""
    try:
        found = ipaddress.ip_address(host)
    except ValueError:
        return host
    if isinstance(found, ipaddress.IPv6Address) and found.ipv4_mapped is None:
        return str(ipaddress.ip_network((found, 64), strict=False).network_address)
    return str(found)
