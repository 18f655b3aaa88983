"""The gate in front of every request: what a stranger's page or a wrong client may not do.

The page is bound to loopback and has no login yet, so the browser is the way in. The gate refuses
  - a Host that is not this machine's own name (a foreign name made to point here: DNS rebinding);
  - a call of the API that another site's page started (Sec-Fetch-Site, where the browser says so);
  - a POST that is not JSON, or that does not come from our own page (Origin);
  - a body of more than 64 KiB, or one that does not arrive in time.
It puts the headers on every answer that keep the page alone: no foreign script, no frame around it.
A fault of ours leaves here as one line; the details go to the log.

It is plain ASGI, so that live streams pass through untouched.
"""

from __future__ import annotations

import asyncio
import logging
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
# A schedule's text is a few KiB; 64 leaves room for long comments.
BODY_LIMIT_BYTES = 64 * 1024
# A phone on a bad network sends 64 KiB in this time.
BODY_TIME_S = 10.0
# What a browser says of a call by our own page, or by a person who typed the address.
OWN_SITE = ("same-origin", "none")
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


class RefusedError(Exception):
    """The request goes no further: a status and one line that says why."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status = status
        self.says = says


class Gate:
    """Judges each request before `app` sees it."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str] = LOOPBACK) -> None:
        self.app = app
        self.hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return await self.app(scope, receive, send)
        answer = _Answer(send, api=scope["path"].startswith("/api/"))
        try:
            judge(scope, self.hosts)
            if scope["method"] not in ("GET", "HEAD"):
                receive = _replay(await _whole_body(scope, receive), receive)
            await self.app(scope, receive, answer.send)
            await answer.end()
        except RefusedError as refusal:
            await says(refusal.status, refusal.says)(scope, receive, answer.send)
        except Exception as error:
            log.error("the page has a fault of its own at %s: %r", scope["path"], error)
            log.debug("details", exc_info=True)
            if not answer.started:
                await says(500, "the page has a fault of its own")(scope, receive, answer.send)


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


def says(status: int, line: str) -> JSONResponse:
    """Return an answer of one line of JSON."""
    return JSONResponse({"ok": False, "says": line}, status_code=status)


def judge(scope: Scope, hosts: frozenset[str]) -> None:
    """Raise RefusedError for a request that another machine or another site's page may have started."""
    headers = Headers(scope=scope)
    host = headers.get("host", "")
    if _host_name(host) not in hosts:
        raise RefusedError(
            421, "this page answers only to this machine's own name: localhost, 127.0.0.1 or [::1]"
        )
    if scope["path"].startswith("/api/") and headers.get("sec-fetch-site", "none") not in OWN_SITE:
        raise RefusedError(403, "another site's page may not call this one")
    if scope["method"] == "POST":
        _judge_post(headers, host)


def _judge_post(headers: Headers, host: str) -> None:
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        raise RefusedError(415, f"found a body of {kind[:40] or 'no kind'!r}, expected application/json")
    if headers.get("origin") != f"http://{host}":
        raise RefusedError(403, "a request must come from this page itself (its Origin)")


def _host_name(host: str) -> str:
    """Return the name in a Host header; an empty one when it is not a plain name with a port."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port  # raises for what is no port
    except ValueError:
        return ""
    return (parts.hostname or "") if parts.netloc == host and "@" not in host else ""


async def _whole_body(scope: Scope, receive: Receive) -> bytes:
    """Read the body, as far as it is allowed to be."""
    length = Headers(scope=scope).get("content-length", "0")
    if not length.isdigit() or int(length) > BODY_LIMIT_BYTES:
        raise RefusedError(413, f"found a body of {length[:20]} bytes, expected at most {BODY_LIMIT_BYTES}")
    body = bytearray()
    try:
        async with asyncio.timeout(BODY_TIME_S):
            while True:
                message = await receive()
                body += message.get("body", b"")
                if len(body) > BODY_LIMIT_BYTES:
                    raise RefusedError(413, f"found a longer body, expected at most {BODY_LIMIT_BYTES} bytes")
                if not message.get("more_body", False):
                    return bytes(body)
    except TimeoutError as error:
        raise RefusedError(408, f"the body did not arrive in {BODY_TIME_S:g} s") from error


def _replay(body: bytes, receive: Receive) -> Receive:
    """Hand over a body that was read already, then what the client does next."""
    given = False

    async def replay() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return replay
