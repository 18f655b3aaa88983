"""What the tests of survival share: a look through the channel, at the heat, at the record."""

from __future__ import annotations

import json
import socket
from typing import Any

from pymodbus.client import ModbusTcpClient

from tests.processes.conftest import House


def frame(house: House) -> dict[str, Any]:
    """Return the newest frame, as a page would get it."""
    with socket.socket(socket.AF_UNIX) as channel:
        channel.settimeout(5.0)
        channel.connect(str(house.home / "channel.sock"))
        channel.sendall(b'{"subscribe": true}\n')
        with channel.makefile("rb") as lines:
            got: dict[str, Any] = json.loads(lines.readline())
            return got


def alarms(house: House) -> set[str]:
    """Return the ids of the alarms that are active."""
    return {one["id"] for one in frame(house)["alarms"] if one["state"] != "returned to normal"}


def heat_is_on(house: House) -> bool:
    """Ask the kiln itself."""
    with ModbusTcpClient("127.0.0.1", port=house.kiln_port) as client:
        return bool(client.read_discrete_inputs(0, count=1, device_id=2).bits[0])


def numbers(house: House) -> list[int]:
    """Return the numbers of the first firing's ticks."""
    return [row.n for _, row in house.record.rows(1)]


def without_a_hole(counted: list[int]) -> bool:
    """Whether every number follows the one before."""
    return counted == list(range(counted[0], counted[0] + len(counted)))
