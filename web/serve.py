"""Runs the page's server: on this machine always, on a network once a device is paired, and stops with its
parent if asked.

This process holds no heat: it may be killed at any time, and the kiln does not notice.

Over loopback it speaks without TLS, on the network with the user's certificate where there is one.
"""

from __future__ import annotations

import asyncio
import errno
import logging
import os
import signal
import socket
import threading
import time
from pathlib import Path
from typing import Any

import uvicorn
from starlette.types import ASGIApp

from controller.channel import SOCKET_NAME
from controller.errors import UsageError
from controller.home import RECORD_NAME
from controller.pairing.place import Place, forget_place, say_place
from web.app import build_app
from web.door import Door, anyone_to_come
from web.network import Network
from web.outside import HERE_ONLY, LOOPBACK, Outside

# How soon a server without its parent ends.
PARENT_POLL_S = 0.5
# Live streams never end by themselves; after this they are cut.
GOODBYE_S = 2


def bind(port: int, host: str = LOOPBACK) -> socket.socket:
    """Return a listening socket. Raises UsageError when the port cannot be had.

    The port is shared among sockets of this process only: the one on loopback stays when the network's comes.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if host == LOOPBACK and port:
            with socket.socket(family, socket.SOCK_STREAM) as probe:
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
                probe.bind((host, port))  # says that somebody else has it, which sharing would hide
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        listener.bind((host, port))
        listener.listen(128)
    except (OSError, OverflowError) as error:
        listener.close()
        raise UsageError(f"the page cannot be served on port {port}: {_why(error)}") from error
    return listener


def settings(app: ASGIApp, **more: Any) -> uvicorn.Config:
    """Return how the page is served. What a proxy says is for caller.py to judge, and for nobody else."""
    return uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        log_level="warning",
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=GOODBYE_S,
        **more,
    )


def serve(
    home: Path,
    port: int,
    with_parent: bool = False,
    kiln: Path | None = None,
    outside: Outside = HERE_ONLY,
) -> None:
    """Serve the page for the controller in `home` until told to stop. `kiln`: its file, for forecasts."""
    parent = os.getppid()
    listener = bind(port)
    port = listener.getsockname()[1]
    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    network = Network(frozenset(name.lower() for name in outside.names), outside.behind_proxy)
    app = build_app(home / SOCKET_NAME, home / RECORD_NAME, kiln, network=network)
    server = uvicorn.Server(settings(app))
    if with_parent:
        threading.Thread(target=_watch, args=(server, parent), daemon=True).start()
    if not (outside.on_network or outside.behind_proxy):
        return server.run(sockets=[listener])
    # The server gives the signal on once it has ended; what stands below is to be done first.
    signal.signal(signal.SIGTERM, lambda *_: None)
    named = outside.names[0] if outside.names else ""
    say_place(home, Place(outside.cert is not None, outside.host, port, named, outside.behind_proxy))
    try:
        if outside.behind_proxy:
            return server.run(sockets=[listener])
        bind(port, outside.host).close()  # says now what would be wrong with it later
        asyncio.run(_both(server, listener, app, home, outside))
    finally:
        forget_place(home)


async def _both(
    server: uvicorn.Server, listener: socket.socket, app: ASGIApp, home: Path, outside: Outside
) -> None:
    """Serve loopback, and the network for as long as somebody may come from there."""
    port = listener.getsockname()[1]
    door = Door(
        lambda: bind(port, outside.host),
        lambda: settings(app, lifespan="off", **outside.tls()),
        lambda: anyone_to_come(home, home / RECORD_NAME),
        outside.cert is not None,
    )
    keeping = asyncio.create_task(door.keep(lambda: server.should_exit))
    try:
        await server.serve(sockets=[listener])
    finally:
        await keeping


def _watch(server: uvicorn.Server, parent: int) -> None:
    """End the server when the process that started it is gone."""
    while os.getppid() == parent:
        time.sleep(PARENT_POLL_S)
    server.should_exit = True


def _why(error: OSError | OverflowError) -> str:
    if isinstance(error, OSError) and error.errno == errno.EADDRINUSE:
        return "another program uses it; choose one with --port"
    if isinstance(error, OSError) and error.errno == errno.EACCES:
        return "this user may not use it; choose one above 1023 with --port"
    return str(error)
