"""The simulated kiln as a process: the face on a scaled clock, until someone ends it."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from controller.clock import SystemClock
from controller.errors import UsageError
from controller.physics.matter import BOILING_C, MELTING_C
from controller.simulator.faults import Due
from controller.simulator.modbus_face import HOST, ModbusFace, serve
from controller.simulator.plant import SHELL_PLASTIC_KG, SHELL_WATER_KG, Plant

STRIDE_S = 0.2
"""The kiln is moved on at least this often (s on the wall) when nobody asks it anything."""

DEMO_PORT = 5020
"""The port that stands in `demo_kiln.toml`, and the command's default."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked of the process. `parent`: end when this is no longer the parent's process id."""

    port: int
    speed: float
    seed: int
    start_c: float
    config: Path | None
    due: Sequence[Due]
    parent: int | None


async def run(order: Order, say: Callable[[str], None]) -> None:
    """Run until SIGTERM, SIGINT or the parent's end; `say` gets one line when it listens."""
    face = ModbusFace(plant_for(order), SystemClock(order.speed).now_s, order.due)
    stop = asyncio.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, stop.set)
    server, port = await serve(face, order.port)
    try:
        if order.config is not None:
            write_config(order.config, port)
        say(f"listening on {HOST}:{port}")
        while not stop.is_set() and order.parent in (None, os.getppid()):
            face.catch_up()
            with suppress(TimeoutError):
                await asyncio.wait_for(stop.wait(), STRIDE_S)
    finally:
        await server.shutdown()  # type: ignore[no-untyped-call]


def plant_for(order: Order) -> Plant:
    """Return the kiln, with the water and plastic that a shell can still hold at its temperature."""
    return Plant(
        seed=order.seed,
        start_c=order.start_c,
        water_kg=SHELL_WATER_KG if order.start_c < BOILING_C else 0.0,
        plastic_kg=SHELL_PLASTIC_KG if order.start_c < MELTING_C else 0.0,
    )


def demo_config(port: int) -> str:
    """Return the configuration by which the controller talks to this kiln at `port`."""
    text = Path(__file__).with_name("demo_kiln.toml").read_text(encoding="utf-8")
    return text.replace(f"port = {DEMO_PORT} ", f"port = {port} ", 1)


def write_config(path: Path, port: int) -> None:
    """Write that configuration to a file; raise UsageError where that cannot be."""
    try:
        path.write_text(demo_config(port), encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{path}: found '{error.strerror}', expected a file that can be written") from error
