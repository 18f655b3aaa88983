"""The page's door to the network: open while a device is paired or about to be, shut while nobody is.

A kiln that nobody paired with is not on the network at all; the first `stokehold pair` opens the door, and
when its offer ends unused, or the last device is revoked, the door is shut again. What it opens is a second
server of the same application in the same loop; the one on loopback never notices.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import time
from collections.abc import Callable, Generator
from pathlib import Path

import uvicorn

from controller.errors import StokeholdError
from controller.pairing.offer import open_offer
from controller.record.devices import devices

# A person who has just read the code off the console has not typed it in by then.
LOOK_EVERY_S = 0.5
# A port that another program took is tried again this often.
AGAIN_S = 30.0
UNPAIRED = (
    "no device is paired, so the page is on this computer only: pair one with `stokehold pair NAME` on this "
    "console"
)
PLAIN = (
    "the page is on the network WITHOUT TLS: whoever can listen on this network can read what it shows, "
    "and can take over a paired device. Starting and releasing still need the code at the kiln. Use "
    "--tls-cert and --tls-key, or a proxy with TLS (README, 'On the phone')"
)
WITH_TLS = "the page is on the network, with TLS"


def anyone_to_come(home: Path, record: Path) -> bool:
    """Whether a device is paired, or an offer to pair one is open. Raises RecordError: it cannot be read."""
    offered = open_offer(home, time.monotonic()) is not None
    return offered or any(device.paired for device in devices(record))


class _Beside(uvicorn.Server):
    """A server that leaves signals to the one beside it."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        yield


class Door:
    """Opens and shuts the network's side. `wanted` may raise StokeholdError: then it stays as it is."""

    def __init__(
        self,
        bind: Callable[[], socket.socket],
        settings: Callable[[], uvicorn.Config],
        wanted: Callable[[], bool],
        secure: bool,
        say: Callable[[str], None] = lambda line: print(line, flush=True),
    ) -> None:
        self._bind = bind
        self._settings = settings
        self._wanted = wanted
        self._secure = secure
        self._say = say
        self._server: uvicorn.Server | None = None
        self._serving: asyncio.Task[None] | None = None
        self._said = ""

    @property
    def is_open(self) -> bool:
        """Whether it listens on the network."""
        return self._serving is not None and not self._serving.done()

    async def keep(self, ending: Callable[[], bool]) -> None:
        """Open and shut as is wanted, until `ending`; shut then."""
        while not ending():
            pause_s = LOOK_EVERY_S
            try:
                wanted = await asyncio.to_thread(self._wanted)
                if wanted != self.is_open:
                    await (self._open() if wanted else self._shut())
                self._tell((WITH_TLS if self._secure else PLAIN) if wanted else UNPAIRED)
            except StokeholdError as error:
                self._tell(str(error))
                pause_s = LOOK_EVERY_S if self.is_open else AGAIN_S
            await _pause(pause_s, ending)
        await self._shut()

    async def _open(self) -> None:
        listener = self._bind()
        self._server = _Beside(self._settings())
        self._serving = asyncio.create_task(self._server.serve(sockets=[listener]))

    async def _shut(self) -> None:
        if self._server is None or self._serving is None:
            return
        self._server.should_exit = True
        await asyncio.wait([self._serving])
        self._server = self._serving = None

    def _tell(self, line: str) -> None:
        """Say how it stands, whenever that changes."""
        if line != self._said:
            self._said = line
            self._say(line)


async def _pause(for_s: float, ending: Callable[[], bool]) -> None:
    end_s = time.monotonic() + for_s
    while time.monotonic() < end_s and not ending():
        await asyncio.sleep(min(LOOK_EVERY_S, for_s))
