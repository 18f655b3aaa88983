"""The gate in front of every request: what a stranger's page or a wrong client may not do.

The page is bound to loopback and has no login yet, so the browser is the way in. The gate refuses
  - a Host that is not this machine's own name (a foreign name made to point here: DNS rebinding);
  - a call of the API that another site's page started (Sec-Fetch-Site, where the browser says so);
  - a POST that is not JSON (where photographs go: not a picture), or not from our own page (Origin);
  - a body that is longer than its address takes (`BODIES`), or that does not arrive in time.
It puts the headers on every answer that keep the page alone: no foreign script, no frame around it.
A fault of ours leaves here as one line; the details go to the log.

It is plain ASGI, so that live streams pass through untouched.
"""

from __future__ import annotations

import asyncio
import logging
import re
from typing import NamedTuple
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})


class Room(NamedTuple):
    """What an address takes: which kinds of body, how many bytes, and in how many seconds."""

    kinds: tuple[str, ...]
    limit_bytes: int
    time_s: float


# A schedule's text is a few KiB; 64 leaves room for long comments, and come in 10 s over a bad network.
USUAL_ROOM = Room(("application/json",), 64 * 1024, 10.0)
# By the address; the first that fits counts, else the usual room.
BODIES: tuple[tuple[re.Pattern[str], Room], ...] = (
    # A phone's photograph; a bad network (1.6 Mbit/s) takes 40 s for 8 MiB.
    (
        re.compile(r"/api/firings/\d{1,9}/photos"),
        Room(("image/jpeg", "image/png", "image/webp"), 8 * 1024 * 1024, 60.0),
    ),
)
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
        _judge_post(headers, host, room(scope["path"]))


def room(path: str) -> Room:
    """Return what an address takes."""
    return next((room for pattern, room in BODIES if pattern.fullmatch(path)), USUAL_ROOM)


def _judge_post(headers: Headers, host: str, takes: Room) -> None:
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in takes.kinds:
        expected = " or ".join(takes.kinds)
        raise RefusedError(415, f"found a body of {kind[:40] or 'no kind'!r}, expected {expected}")
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
    takes = room(scope["path"])
    length = Headers(scope=scope).get("content-length", "0")
    if not length.isdigit() or int(length) > takes.limit_bytes:
        raise RefusedError(413, f"found a body of {length[:20]} bytes, expected at most {takes.limit_bytes}")
    body = bytearray()
    try:
        async with asyncio.timeout(takes.time_s):
            while True:
                message = await receive()
                body += message.get("body", b"")
                if len(body) > takes.limit_bytes:
                    raise RefusedError(
                        413, f"found a longer body, expected at most {takes.limit_bytes} bytes"
                    )
                if not message.get("more_body", False):
                    return bytes(body)
    except TimeoutError as error:
        raise RefusedError(408, f"the body did not arrive in {takes.time_s:g} s") from error


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
