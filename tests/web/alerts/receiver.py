"""A receiver on this machine: an HTTP server that takes messages, answers 500, or never answers."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, Literal

Mood = Literal["well", "broken", "hanging"]


class Receiver:
    """Use as a context. `got` holds every message that was taken, `asked` every path that was called."""

    def __init__(self, mood: Mood = "well") -> None:
        self.mood: Mood = mood
        self.got: list[dict[str, Any]] = []
        self.asked: list[str] = []
        self.closing = threading.Event()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(self))
        self._server.daemon_threads = True
        self.port = int(self._server.server_address[1])
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)

    def __enter__(self) -> Receiver:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.closing.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(5)

    def address(self, more: str = "") -> str:
        """Return the library's address of this receiver, and how long is waited for its answer.

        Where one comes, that is long: what a busy computer answers late would be sent a second time.
        """
        wait_s = 0.2 if self.mood == "hanging" else 10.0
        return f"json://127.0.0.1:{self.port}/a-token-of-the-shed?rto={wait_s}{more}"

    @property
    def titles(self) -> list[str]:
        return [message["title"] for message in self.got]


def _handler(receiver: Receiver) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.answer():
                receiver.got.append(json.loads(body))

        def do_GET(self) -> None:
            self.answer()

        def answer(self) -> bool:
            receiver.asked.append(self.path)
            if receiver.mood == "hanging":
                receiver.closing.wait(10)
                self.close_connection = True
                return False
            self.send_response(200 if receiver.mood == "well" else 500)
            self.send_header("Content-Length", "0")
            self.end_headers()
            return receiver.mood == "well"

        def log_message(self, *_: object) -> None:
            pass

    return Handler


def until(true: Callable[[], Any], within_s: float = 15.0) -> Any:
    """Wait until something is true; return it. Fails when it never is."""
    end_s = time.monotonic() + within_s
    while not (value := true()):
        assert time.monotonic() < end_s, "it did not come about in time"
        time.sleep(0.01)
    return value
