"""The way onto the wire: `open_wire(config, now)` gives the inputs to whoever asks and the heat to the guard.

The ladder, from bytes to meaning: `modbus_tcp` (a question and its answer) behind the seam `bus`;
`points` (which questions); `encoding` (registers to a number); `meaning` (a number to a temperature);
`inputs` and `heat` (a kiln).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from controller.config.model import BusConfig, KilnConfig
from controller.wire.bus import Bus
from controller.wire.heat import HeatOutput
from controller.wire.inputs import Inputs, Polled
from controller.wire.modbus_tcp import ModbusTcpBus

__all__ = ["HeatOutput", "Inputs", "Polled", "open_wire", "wire_over"]

# The kinds of bus. A second kind is one more row, and one more in the configuration's BUS_KINDS.
KINDS: dict[str, Callable[[BusConfig, Callable[[], float], float], Bus]] = {"modbus-tcp": ModbusTcpBus}


def open_wire(config: KilnConfig, now: Callable[[], float]) -> tuple[Inputs, HeatOutput]:
    """Return a kiln's inputs and its heat output. `now` is the controller's monotonic clock (s).

    Nothing is asked yet, and nothing fails yet: a kiln that does not answer shows in the first poll.
    """
    quiet_s = config.tick_s / 2  # what has failed to answer in a tick is asked again in the next
    buses = {name: KINDS[bus.kind](bus, now, quiet_s) for name, bus in config.buses.items()}
    return wire_over(config, buses, now)


def wire_over(
    config: KilnConfig, buses: Mapping[str, Bus], now: Callable[[], float]
) -> tuple[Inputs, HeatOutput]:
    """Return a kiln's inputs and heat output over wires that are there already."""
    return Inputs(config, buses, now), HeatOutput(config.heater, config.main_contactor, buses)
