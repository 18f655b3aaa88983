"""A kiln's configuration: the file that describes its wires, readers, heater and contacts.

`load_kiln(path)` is the way in. Everything that the house knows about a kiln is in what it returns.
"""

from controller.config.model import (
    BusConfig,
    ContactConfig,
    ControlConfig,
    GuardConfig,
    HeaterConfig,
    KilnConfig,
    ReadBackConfig,
    ReaderConfig,
    SwitchConfig,
    WatchdogConfig,
)
from controller.config.reader import load_kiln, read_kiln

__all__ = [
    "BusConfig",
    "ContactConfig",
    "ControlConfig",
    "GuardConfig",
    "HeaterConfig",
    "KilnConfig",
    "ReadBackConfig",
    "ReaderConfig",
    "SwitchConfig",
    "WatchdogConfig",
    "load_kiln",
    "read_kiln",
]
