"""The gate in front of every request: what a stranger, his page or a wrong client may not do.

The gate refuses
  - a Host that is not this machine's own name nor one that the user allows (DNS rebinding). The bare
    address that a connection really came to is allowed: no foreign name can look like one;
  - a call of the API that another site's page started (Sec-Fetch-Site, where the browser says so);
  - a request that changes something and is not of the kind that its address takes (JSON, or a picture where
    photographs go: body.py), or does not come from our own page (Origin);
  - whoever is not paired, or not as what the address needs: who.py has the table, pairing/ says who it is;
  - a body that is longer than its address takes, or that does not arrive in time (body.py).
A stream that is open when its device's pairing is ended is cut. Every answer gets the headers that keep the
page alone: no foreign script, no frame around it. A fault of ours leaves here as one line; the details go to
the log.

It is plain ASGI, so that live streams pass through untouched. Whoever is let in stands in `scope["caller"]`.
"""

from __future__ import annotations

import asyncio
import logging

import anyio
from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from web import who
from web.answers import says
from web.body import RefusedError, judge_kind, replayed, room, whole_body
from web.network import HERE_ONLY, LOOPBACK, Network, host_name
from web.pages import page
from web.pairing.caller import (
    OWN_COMPUTER,
    STRANGER,
    Caller,
    address,
    device_caller,
    is_loopback,
    is_secure,
    own_computer,
)
from web.pairing.cookie import token_in
from web.pairing.holders import Holders

# How often an open answer is held against the list of paired devices.
LOOK_EVERY_S = 0.5
# What a browser says of a call by our own page, or by a person who typed the address.
OWN_SITE = ("same-origin", "none")
READS = ("GET", "HEAD", "OPTIONS")
NOT_PAIRED = "this device is not paired: run `stokehold pair NAME` on the kiln's own console"
OWN_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; object-src 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

log = logging.getLogger("stokehold.web")


class Gate:
    """Judges each request before `app` sees it. Without `holders` nobody is paired."""

    def __init__(self, app: ASGIApp, network: Network = HERE_ONLY, holders: Holders | None = None) -> None:
        self.app = app
        self.network = network
        self.holders = holders

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":  # there is none, and what is not judged is not let in
            return await send({"type": "websocket.close", "code": 1008})
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        answer = _Answer(send, api=_is_api(scope))
        try:
            judge(scope, self.network)
            caller = scope["caller"] = await self._caller(scope)
            scope["address"] = address(scope, self.network)
            if (refused := _not_for(caller, scope)) is not None:
                return await refused(scope, receive, answer.send)
            if scope["method"] not in ("GET", "HEAD"):
                receive = replayed(await whole_body(scope, receive), receive)
            await self._let_in(caller, scope, receive, answer)
        except RefusedError as refusal:
            await says(refusal.status, refusal.says)(scope, receive, answer.send)
        except Exception as error:
            log.error("the page has a fault of its own at %s: %r", scope["path"], error)
            log.debug("details", exc_info=True)
            if not answer.started:
                await says(500, "the page has a fault of its own")(scope, receive, answer.send)

    async def _caller(self, scope: Scope) -> Caller:
        if own_computer(scope, self.network):
            return OWN_COMPUTER
        if str(scope["path"]).startswith("/static/"):  # for anyone: nobody need be looked up
            return STRANGER
        token = token_in(scope, self.network)
        device = await self.holders.holder(token) if token and self.holders else None
        return device_caller(device.number, device.name, device.role) if device else STRANGER

    async def _let_in(self, caller: Caller, scope: Scope, receive: Receive, answer: _Answer) -> None:
        """Answer, for as long as the device is paired."""
        with anyio.CancelScope() as answering:
            looking = asyncio.create_task(_cut_when_revoked(self.holders, caller.number, answering))
            try:
                await self.app(scope, receive, answer.send)
            finally:
                looking.cancel()
        if answering.cancelled_caught and not answer.started:
            raise RefusedError(401, NOT_PAIRED)
        await answer.end()


async def _cut_when_revoked(
    holders: Holders | None, number: int | None, answering: anyio.CancelScope
) -> None:
    if holders is None or number is None:  # the kiln's own computer, or what is for anyone
        return
    await holders.note_seen(number)
    while await holders.still_paired(number):
        await asyncio.sleep(LOOK_EVERY_S)
    answering.cancel()


class _Answer:
    """Puts our own headers on an answer, and knows whether it has begun and ended."""

    def __init__(self, send: Send, api: bool) -> None:
        self.started = False
        self._ended = False
        self._send = send
        self._cache = "no-store" if api else "no-cache"

    async def send(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.started = True
            headers = MutableHeaders(scope=message)
            headers.update(OWN_HEADERS)
            headers["Cache-Control"] = self._cache
        elif message["type"] == "http.response.body":
            self._ended = not message.get("more_body", False)
        await self._send(message)

    async def end(self) -> None:
        """End an answer that was begun and left open: a live stream that stops because the server does."""
        if self.started and not self._ended:
            await self._send({"type": "http.response.body", "body": b"", "more_body": False})


def judge(scope: Scope, network: Network) -> None:
    """Raise RefusedError for a request that another site's page, or a foreign name, may have started."""
    headers = Headers(scope=scope)
    host = headers.get("host", "")
    name = host_name(host)
    if name not in LOOPBACK | network.names and name != _came_to(scope):
        raise RefusedError(
            421,
            "this page answers only to this machine's own name (localhost, 127.0.0.1 or [::1]), to its "
            "address, and to names given with --name",
        )
    if _is_api(scope) and headers.get("sec-fetch-site", "none") not in OWN_SITE:
        raise RefusedError(403, "another site's page may not call this one")
    if scope["method"] not in READS:
        judge_kind(headers, room(scope["path"]))
        if headers.get("origin") != f"{'https' if is_secure(scope, network) else 'http'}://{host}":
            raise RefusedError(403, "a request must come from this page itself (its Origin)")


def _came_to(scope: Scope) -> str | None:
    """Return the bare address that the connection came to over a network; None over loopback."""
    server = scope.get("server")
    found = str(server[0]).removeprefix("::ffff:") if server else ""
    return found if found and not is_loopback(found) else None


def _is_api(scope: Scope) -> bool:
    return str(scope["path"]).startswith("/api/")


def _not_for(caller: Caller, scope: Scope) -> Response | None:
    """Return the answer for somebody who may not reach this address: the way to pair, or a plain no."""
    if who.may(caller.role, scope["method"], scope["path"]):
        return None
    if caller.role != "anyone":
        return says(403, f"{caller.name} is paired to watch: it may hold and abort; this needs an operator")
    if _is_api(scope) or scope["method"] not in ("GET", "HEAD"):
        return says(401, NOT_PAIRED)
    return HTMLResponse(page("pair"), status_code=401)
