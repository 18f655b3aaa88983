"""The cookie that holds a device's token.

HttpOnly: no script sees it. SameSite=Strict: another site's page cannot make a browser send it. Secure under
TLS, where its name begins with `__Host-`, so that no neighbouring name can plant another in its place. The
port is part of its name: cookies do not know ports, and two kilns on one computer must not take each other's.
A token is only ever made here, never taken over from what a browser brings.
"""

from __future__ import annotations

from starlette.requests import HTTPConnection
from starlette.responses import Response
from starlette.types import Scope

from web.network import Network
from web.pairing.caller import is_secure

# Browsers keep a cookie for at most 400 days (RFC 6265bis, from memory); it is renewed by pairing again.
AGE_S = 400 * 24 * 3600


def cookie_name(scope: Scope, network: Network) -> str:
    """Return the cookie's name on this server."""
    server = scope.get("server")
    port = (server[1] if server else None) or 0
    return f"{'__Host-' if is_secure(scope, network) else ''}stokehold-{port}"


def token_in(scope: Scope, network: Network) -> str:
    """Return the token that a browser brings; empty when it brings none."""
    return HTTPConnection(scope).cookies.get(cookie_name(scope, network), "")


def give_token(response: Response, scope: Scope, network: Network, token: str) -> None:
    """Put a new token into an answer."""
    response.set_cookie(
        cookie_name(scope, network),
        token,
        max_age=AGE_S,
        path="/",
        httponly=True,
        samesite="strict",
        secure=is_secure(scope, network),
    )
