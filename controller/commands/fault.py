"""`stokehold fault`: switches a fault of the simulated kiln on or off, by its fault panel."""

from __future__ import annotations

import argparse

HELP = "switch a fault of the simulated kiln on or off, or list the faults"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("name", metavar="NAME", help="a fault's name, or list")
    parser.add_argument("state", nargs="?", choices=("on", "off"), help="what to do with it")
    parser.add_argument("--port", type=int, default=5020, help="the kiln's port (default: 5020)")


def run(args: argparse.Namespace) -> int:
    """Switch one fault, or show the table."""
    from controller.errors import UsageError
    from controller.simulator import faults

    if args.name == "list":
        for fault in faults.FAULTS:
            print(f"{fault.name:24}{fault.part:22}{fault.words}")
        return 0
    coil = faults.number(args.name)
    if args.state is None:
        raise UsageError(f"fault {args.name}: found neither on nor off, expected one of them")
    _write(args.port, coil, args.state == "on")
    print(f"{args.name} is {args.state}")
    return 0


def _write(port: int, coil: int, on: bool) -> None:
    """Write a coil of the fault panel; raise WireError where no kiln takes it."""
    import logging

    from pymodbus.client import ModbusTcpClient
    from pymodbus.exceptions import ModbusException

    from controller.errors import WireError
    from controller.simulator.modbus_face import HOST
    from controller.simulator.units import Panel

    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)
    client = ModbusTcpClient(HOST, port=port, timeout=2.0, retries=0)
    try:
        there = client.connect()  # type: ignore[no-untyped-call]
        taken = there and not client.write_coil(coil, on, device_id=Panel.number).isError()
    except (ModbusException, OSError):
        taken = False
    finally:
        client.close()  # type: ignore[no-untyped-call]
    if not taken:
        raise WireError(f"port {port}: found no fault panel on {HOST}, expected a kiln of `stokehold kiln`")
