"""Runs the page's server, bound to this machine only, and stops it with its parent if asked.

This process holds no heat and no secret: it may be killed at any time, and the kiln does not notice.
"""

from __future__ import annotations

import errno
import logging
import os
import socket
import threading
import time
from pathlib import Path

import uvicorn

from controller.channel import SOCKET_NAME
from controller.errors import UsageError
from controller.home import RECORD_NAME
from web.app import build_app

LOOPBACK = "127.0.0.1"
# How soon a server without its parent ends.
PARENT_POLL_S = 0.5
# Live streams never end by themselves; after this they are cut.
GOODBYE_S = 2


def bind(port: int) -> socket.socket:
    """Return a listening socket on the loopback address. Raises UsageError when the port cannot be had."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((LOOPBACK, port))
        listener.listen(128)
    except (OSError, OverflowError) as error:
        listener.close()
        raise UsageError(f"the page cannot be served on port {port}: {_why(error)}") from error
    return listener


def serve(home: Path, port: int, with_parent: bool = False, kiln: Path | None = None) -> None:
    """Serve the page for the controller in `home` until told to stop. `kiln`: its file, for forecasts."""
    parent = os.getppid()
    listener = bind(port)
    logging.basicConfig(level=logging.WARNING, format="%(message)s")
    app = build_app(home / SOCKET_NAME, home / RECORD_NAME, kiln)
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        log_level="warning",
        server_header=False,
        timeout_graceful_shutdown=GOODBYE_S,
    )
    server = uvicorn.Server(config)
    if with_parent:
        threading.Thread(target=_watch, args=(server, parent), daemon=True).start()
    server.run(sockets=[listener])


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
