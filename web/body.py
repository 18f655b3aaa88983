"""What an address takes of a body: which kinds, how many bytes, and in how much time.

A body is read whole before the application sees anything of it.
"""

from __future__ import annotations

import asyncio
import re
from typing import NamedTuple

from starlette.datastructures import Headers
from starlette.types import Message, Receive, Scope


class RefusedError(Exception):
    """The request goes no further: a status and one line that says why."""

    def __init__(self, status: int, says: str) -> None:
        super().__init__(says)
        self.status = status
        self.says = says


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


def room(path: str) -> Room:
    """Return what an address takes."""
    return next((room for pattern, room in BODIES if pattern.fullmatch(path)), USUAL_ROOM)


def judge_kind(headers: Headers, takes: Room) -> None:
    """Raise RefusedError for a kind of body that is not taken: a form, above all, which any site may send."""
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in takes.kinds:
        expected = " or ".join(takes.kinds)
        raise RefusedError(415, f"found a body of {kind[:40] or 'no kind'!r}, expected {expected}")


async def whole_body(scope: Scope, receive: Receive) -> bytes:
    """Read the body, as far as it is allowed to be. Raises RefusedError: too long, or too slow."""
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


def replayed(body: bytes, receive: Receive) -> Receive:
    """Hand over a body that was read already, then what the client does next."""
    given = False

    async def replay() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return replay
