"""The simulated kiln in a process of its own, over TCP or a serial line, that notes when its relay moves.

`python -m tests.bench.far_side tcp|rtu` prints where it is to be found (a TCP port, a serial port), then
answers each line on standard input with the relay's moves so far, as JSON: [[on, seconds], ...]. Seconds are
those of `time.monotonic`, which all processes of one computer share.

The serial line is a pseudo-terminal, which is infinitely fast; its bytes are paced here as 19200 baud would:
a question has come when its last character would have, and 3.5 characters of silence have told the
instrument so; the answer's characters go out one by one.
"""

from __future__ import annotations

import asyncio
import json
import os
import sys
import threading
import time
import tty

from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU

from controller.simulator.modbus_face import ModbusFace, serve
from controller.simulator.plant import Plant

CHARACTER_S = 11 / 19200  # start, eight bits, parity, stop
SILENCE_S = 3.5 * CHARACTER_S
THINKS_S = 0.005  # how long an instrument takes to answer: a usual figure (common practice, no source)


def noting(plant: Plant) -> list[tuple[bool, float]]:
    """Make a plant note when its heat coil moves; return the notes."""
    moves: list[tuple[bool, float]] = []
    switch = plant.set_heat

    def set_heat(on: bool, lease_s: float = 0.0) -> None:
        was_on = plant.heat_coil
        switch(on, lease_s)
        if plant.heat_coil != was_on:
            moves.append((plant.heat_coil, time.monotonic()))

    plant.set_heat = set_heat  # type: ignore[method-assign]
    return moves


def tell(moves: list[tuple[bool, float]]) -> None:
    """Answer each line on standard input with the moves so far; end the process with it."""
    for _ in sys.stdin:
        print(json.dumps(moves), flush=True)
    os._exit(0)


async def tcp(face: ModbusFace) -> None:
    """Answer over TCP."""
    _, port = await serve(face, 0)
    print(port, flush=True)
    await asyncio.Event().wait()


async def rtu(face: ModbusFace) -> None:
    """Answer over a serial line, at its pace."""
    near, far = os.openpty()
    tty.setraw(far)
    print(os.ttyname(far), flush=True)
    framer = FramerRTU(DecodePDU(is_server=True))
    while True:
        question = os.read(near, 512)
        came_s = time.monotonic()
        until(came_s + len(question) * CHARACTER_S + SILENCE_S)
        _, pdu = framer.handleFrame(question, 0, 0)
        if pdu is None or pdu.dev_id not in face.units:
            continue
        reply = await pdu.datastore_update(face, pdu.dev_id)  # type: ignore[arg-type]
        reply.dev_id = pdu.dev_id
        answer_s = time.monotonic() + THINKS_S
        for place, byte in enumerate(framer.buildFrame(reply), 1):
            until(answer_s + place * CHARACTER_S)
            os.write(near, bytes([byte]))


def until(at_s: float) -> None:
    """Sleep until a time of `time.monotonic`."""
    if (left_s := at_s - time.monotonic()) > 0:
        time.sleep(left_s)


def main() -> None:
    """Serve the kiln by the way that was asked for."""
    plant = Plant()
    moves = noting(plant)
    threading.Thread(target=tell, args=(moves,), daemon=True).start()
    face = ModbusFace(plant, time.monotonic)
    asyncio.run(tcp(face) if sys.argv[1] == "tcp" else rtu(face))


if __name__ == "__main__":
    main()
