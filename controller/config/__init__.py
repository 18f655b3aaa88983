"""A kiln's configuration: the file that describes its wires, readers, heater and contacts.

`load_kiln(path)` is the way in. Everything that the house knows about a kiln is in what it returns.
"""

from controller.config.buses import BoardBusConfig, BusConfig, RtuBusConfig, TcpBusConfig
from controller.config.model import (
    BoardContactConfig,
    BoardHeaterConfig,
    BoardSwitchConfig,
    ContactConfig,
    ControlConfig,
    GuardConfig,
    HeaterConfig,
    KilnConfig,
    ReadBackConfig,
    SwitchConfig,
    VentConfig,
    WatchdogConfig,
)
from controller.config.reader import load_kiln, read_kiln
from controller.config.sensors import BoardReaderConfig, ReaderConfig, SensorConfig, ShownConfig

__all__ = [
    "BoardBusConfig",
    "BoardContactConfig",
    "BoardHeaterConfig",
    "BoardReaderConfig",
    "BoardSwitchConfig",
    "BusConfig",
    "ContactConfig",
    "ControlConfig",
    "GuardConfig",
    "HeaterConfig",
    "KilnConfig",
    "ReadBackConfig",
    "ReaderConfig",
    "RtuBusConfig",
    "SensorConfig",
    "ShownConfig",
    "SwitchConfig",
    "TcpBusConfig",
    "VentConfig",
    "WatchdogConfig",
    "load_kiln",
    "read_kiln",
]
