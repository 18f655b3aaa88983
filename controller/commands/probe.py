"""`stokehold probe`: what every mapped point of a kiln says, raw and in units. It asks; it switches nothing.

Works without a controller. A serial port belongs to one program: stop the controller first. Opening a
board's port resets many boards, and with that their heat goes off.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console, Group
    from rich.table import Table

    from controller.config import KilnConfig
    from controller.wire.inputs import Heard, Inputs, Polled

HELP = "show what every point on a kiln's wires says, raw and in units; writes nothing"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("--kiln", type=Path, required=True, metavar="FILE", help="the kiln's configuration")
    parser.add_argument(
        "--once", action="store_true", help="ask once, show it, and end (1: something is missing)"
    )


def run(args: argparse.Namespace) -> int:
    """Show the points once (1 if one of them has no value), or until Ctrl-C."""
    from rich.console import Console

    from controller.config import load_kiln
    from controller.wire.kiln_wire import open_inputs

    config = load_kiln(args.kiln)
    inputs = open_inputs(config, time.monotonic)  # the inputs alone: what switches is not made here
    console = Console(highlight=False)
    try:
        if not args.once:
            return _live(config, inputs, console)
        whole, shown = look(config, inputs)
        console.print(shown)
    finally:
        inputs.close()
    return 0 if whole else 1


def _live(config: KilnConfig, inputs: Inputs, console: Console) -> int:
    """Show the points tick by tick until Ctrl-C."""
    from rich.live import Live

    try:
        with Live(console=console, auto_refresh=False) as live:
            for _, shown in looks(config, inputs, time.monotonic, time.sleep):
                live.update(shown, refresh=True)
    except KeyboardInterrupt:
        pass
    return 0


def looks(
    config: KilnConfig, inputs: Inputs, now: Callable[[], float], sleep: Callable[[float], None]
) -> Iterator[tuple[bool, Group]]:
    """Yield one look a tick, without end."""
    while True:
        began_s = now()
        yield look(config, inputs)
        sleep(max(0.0, config.tick_s - (now() - began_s)))


def look(config: KilnConfig, inputs: Inputs) -> tuple[bool, Group]:
    """Ask for everything once; return whether every point had a value, and what to show."""
    from rich.console import Group
    from rich.text import Text

    polled = inputs.poll()
    heard = inputs.heard()
    whole = all(one.raw is not None for one in heard) and not any(r.fault for r in polled.readings.values())
    head = Text(f"{config.name}: {len(heard)} points, asked every {config.tick_s:g} s; nothing is written")
    errors = [Text(error, style="bold") for error in polled.errors]
    return whole, Group(head, _points(config, heard, polled), _instruments(inputs), *errors)


def _points(config: KilnConfig, heard: list[Heard], polled: Polled) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table("what", "bus", "where", "raw", "means")
    for one in heard:
        table.add_row(
            *map(Text, (one.what, one.bus, one.place, raw_text(one.raw), _meaning(config, one, polled)))
        )
    return table


def _instruments(inputs: Inputs) -> Table:
    from rich.table import Table
    from rich.text import Text

    table = Table("bus", "unit", "answers", "misses", "last took", "last miss")
    for (bus, unit), one in sorted(inputs.health().items()):
        took = f"{one.took_s * 1000:.1f} ms" if one.answers else ""
        row = (bus, str(unit or ""), str(one.answers), str(one.misses), took, one.last_reason)
        table.add_row(*map(Text, row))
    return table


def raw_text(raw: tuple[object, ...] | None) -> str:
    """Return what came off the wire, for a person: registers in decimal and hexadecimal, bits as 0 or 1."""
    if raw is None:
        return "nothing"
    if all(isinstance(value, int) and not isinstance(value, bool) for value in raw):
        return f"{' '.join(map(str, raw))} ({' '.join(f'{value:04X}' for value in raw)})"
    return " ".join(str(int(value)) if isinstance(value, bool) else str(value) for value in raw)


def _meaning(config: KilnConfig, one: Heard, polled: Polled) -> str:
    """Return what a point means, in words."""
    kind, _, name = one.what.partition(" ")
    if kind == "reader":
        reading = polled.readings[name]
        return reading.fault or _temperature(config, name, reading.value_c)
    if kind == "contact":
        contact = polled.contacts[name]
        return contact.fault or ("well" if contact.on else "not well")
    if kind == "shown":
        return one.text
    on = polled.heat_on if one.what == "heat" else polled.main_on
    return "unknown" if on is None else "on" if on else "off"


def _temperature(config: KilnConfig, role: str, value_c: float | None) -> str:
    if value_c is None:
        return "unknown"
    band_k = config.readers[role].band_k(value_c)
    band = f" ± {band_k:.1f} K as delivered" if band_k is not None else ""
    return f"{value_c:.1f} C{band}"
