"""The heat output: the one object by which the elements and the main contactor are switched.

`open_wire` makes exactly one, for the guard. Whoever holds it can heat, so nobody else gets it. Every
call either has been acknowledged by the hardware when it returns, or raises WireError; after an error
the output's state is unknown until it is read back. Taking heat away is never held up by what failed
before; giving it is.
"""

from __future__ import annotations

from collections.abc import Mapping

from controller.config import HeaterConfig, SwitchConfig, WatchdogConfig
from controller.errors import WireError
from controller.wire.bus import Bus
from controller.wire.encoding import encode


class ModbusHeatOutput:
    """Switches the elements and the main contactor behind Modbus. Safe to call from any thread.

    `has_hardware_lease`: the lease's end lies in the relay board, which drops the heat by itself.
    `has_main_contactor`: there is a contactor that `open_main` opens.
    """

    def __init__(self, heater: HeaterConfig, main: SwitchConfig | None, buses: Mapping[str, Bus]) -> None:
        self._heater = heater
        self._main = main
        self._buses = buses
        self.has_hardware_lease = heater.watchdog is not None
        self.has_main_contactor = main is not None

    def energise(self, lease_s: float) -> None:
        """Switch the elements on; where the hardware holds the lease, for `lease_s` at most.

        The lease goes out before the heat, and with every call: a board that has not been told when to
        stop is never told to start. Raises WireError.
        """
        if self._heater.watchdog is not None:
            self._lease(self._heater.watchdog, lease_s)
        self._write(self._heater, self._heater.on)

    def drop(self) -> None:
        """Switch the elements off. Raises WireError."""
        self._write(self._heater, self._heater.off, urgent=True)

    def open_main(self) -> None:
        """Open the main contactor, if there is one. Raises WireError."""
        if self._main is not None:
            self._write(self._main, self._main.off, urgent=True)

    def close_main(self) -> None:
        """Close the main contactor, if there is one; this heats nothing by itself. Raises WireError."""
        if self._main is not None:
            self._write(self._main, self._main.on)

    def _lease(self, watchdog: WatchdogConfig, lease_s: float) -> None:
        # Rounded down: the hardware may end a lease early, never late. A count of 0 means "no time-out"
        # to many boards, so it is not sent.
        try:
            counts = int(lease_s * 1000 / watchdog.scale_ms + 1e-9)
            if counts < 1:
                raise ValueError(f"{lease_s:g} s is less than one count of the watchdog")
            registers = encode(counts, watchdog.type, watchdog.order)
        except (ValueError, OverflowError) as error:
            raise WireError(f"heater: the lease cannot be given to the hardware: {error}") from None
        self._buses[self._heater.bus].write_registers(self._heater.unit, watchdog.address, registers)

    def _write(self, switch: SwitchConfig, level: int, *, urgent: bool = False) -> None:
        bus = self._buses[switch.bus]
        if switch.kind == "coil":
            bus.write_coil(switch.unit, switch.address, bool(level), urgent=urgent)
        else:
            bus.write_registers(switch.unit, switch.address, [level], urgent=urgent)
