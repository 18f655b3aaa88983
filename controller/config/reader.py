"""A kiln's file, read: `load_kiln(path)`. All its mistakes are told at once, each with its line.

The file is TOML: a few values at the top, then `[bus.NAME]`, `[reader.ROLE]`, `[heater]`,
`[main_contactor]`, `[contact.ROLE]`, `[shown.NAME]`, `[control]`, `[guard]` and `[vent]`. What each may hold
is said in `buses.py`, `sensors.py` and `model.py`; what must be true of them together, in `checks.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

from controller.config.buses import BUS_KINDS, BusConfig, TcpBusConfig
from controller.config.checks import check
from controller.config.draft import Draft, Path, keys_of
from controller.config.model import (
    CONTACT_ROLES,
    BoardContactConfig,
    BoardHeaterConfig,
    BoardSwitchConfig,
    ContactConfig,
    ControlConfig,
    GuardConfig,
    HeaterConfig,
    KilnConfig,
    SwitchConfig,
    VentConfig,
)
from controller.config.parts import Parts
from controller.config.sensors import READER_ROLES, BoardReaderConfig, ReaderConfig, SensorConfig, ShownConfig
from controller.schedule.located import Located, load_toml, read_toml

TABLES = ("bus", "reader", "heater", "main_contactor", "contact", "shown", "control", "guard", "vent")


def load_kiln(path: FilePath | str) -> KilnConfig:
    """Return a kiln's file. Raises UsageError if it cannot be opened, FileProblems if it has mistakes."""
    return _read(load_toml(FilePath(path)))


def read_kiln(text: str, file: str) -> KilnConfig:
    """Return a kiln from a file's text; `file` is its name in messages. Raises FileProblems."""
    return _read(read_toml(text, file))


def _read(located: Located) -> KilnConfig:
    draft = Draft(located)
    raw = located.data
    draft.known_keys(raw, (*keys_of(KilnConfig), *TABLES))
    parts = _parts(draft, raw)
    for path, found, expected in check(parts):
        draft.problem(path, found, expected)
    draft.raise_problems()
    heater, control, guard, vent = parts.heater, parts.control, parts.guard, parts.vent
    if heater is None or control is None or guard is None or vent is None:
        raise AssertionError("a part is missing, yet no problem was noted")
    return KilnConfig(
        **parts.top,
        buses=parts.buses,
        readers=parts.readers,
        heater=heater,
        main_contactor=parts.main_contactor,
        contacts=parts.contacts,
        shown=parts.shown,
        control=control,
        guard=guard,
        vent=vent,
        text=located.text,
        file=located.file,
    )


def _parts(draft: Draft, raw: dict[str, Any]) -> Parts:
    """Return what could be read of a file, with every mistake noted in the draft."""
    return Parts(
        top=draft.scalars(KilnConfig, raw),
        bus_names=tuple(raw["bus"]) if isinstance(raw.get("bus"), dict) else (),
        bus_uses=tuple(_bus_uses(raw)),
        buses=_buses(draft, raw),
        readers=_readers(draft, raw),
        heater=_heater(draft, raw),
        main_contactor=_main_contactor(draft, raw),
        contacts=_contacts(draft, raw),
        shown=_shown(draft, raw),
        control=draft.section(ControlConfig, raw.get("control", {}), ("control",)),
        guard=draft.section(GuardConfig, raw.get("guard", {}), ("guard",)),
        vent=draft.section(VentConfig, raw.get("vent", {}), ("vent",)),
    )


def _on_board(raw: dict[str, Any], table: object) -> bool:
    """Return whether a table names a bus that is a board; such a table has other keys."""
    bus = table.get("bus") if isinstance(table, dict) else None
    buses = raw.get("bus")
    named = buses.get(bus) if isinstance(buses, dict) and isinstance(bus, str) else None
    return isinstance(named, dict) and named.get("kind") == "board"


def _has(draft: Draft, raw: dict[str, Any], *path: str) -> bool:
    """Return whether a table that must be there is there, and note it when it is not."""
    at: Any = raw
    for key in path:
        at = at.get(key) if isinstance(at, dict) else None
    if at is None:
        draft.problem(path, "no such table", f"the table [{'.'.join(path)}]")
    return at is not None


def _bus_uses(raw: object, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Yield every table that names a bus, with the name."""
    if isinstance(raw, dict):
        if isinstance(raw.get("bus"), str):
            yield path, raw["bus"]
        for key, value in raw.items():
            yield from _bus_uses(value, (*path, key))


def _buses(draft: Draft, raw: dict[str, Any]) -> dict[str, BusConfig]:
    buses: dict[str, BusConfig] = {}
    if not raw.get("bus"):
        draft.problem(("bus",), "no such table", "at least one wire, as a table [bus.NAME]")
        return {}
    for name, table, path in draft.named("bus", raw["bus"]):
        kind = table.get("kind") if isinstance(table, dict) else None
        cls = BUS_KINDS.get(kind, TcpBusConfig) if isinstance(kind, str) else TcpBusConfig
        bus = draft.section(cls, table, path, name=name)
        if bus is not None:
            buses[name] = bus
    return buses


def _readers(draft: Draft, raw: dict[str, Any]) -> dict[str, SensorConfig]:
    _has(draft, raw, "reader", "air")
    readers: dict[str, SensorConfig] = {}
    for role, table, path in draft.named("reader", raw.get("reader", {}), READER_ROLES):
        cls: type[SensorConfig] = BoardReaderConfig if _on_board(raw, table) else ReaderConfig
        reader = draft.section(cls, table, path, role=role)
        if reader is not None:
            readers[role] = reader
    return readers


def _heater(draft: Draft, raw: dict[str, Any]) -> HeaterConfig | BoardHeaterConfig | None:
    if not _has(draft, raw, "heater"):
        return None
    cls: type[HeaterConfig | BoardHeaterConfig]
    cls = BoardHeaterConfig if _on_board(raw, raw["heater"]) else HeaterConfig
    return draft.section(cls, raw["heater"], ("heater",))


def _main_contactor(draft: Draft, raw: dict[str, Any]) -> SwitchConfig | BoardSwitchConfig | None:
    table = raw.get("main_contactor")
    if table is None:
        return None
    cls: type[SwitchConfig | BoardSwitchConfig]
    cls = BoardSwitchConfig if _on_board(raw, table) else SwitchConfig
    return draft.section(cls, table, ("main_contactor",))


def _contacts(draft: Draft, raw: dict[str, Any]) -> dict[str, ContactConfig | BoardContactConfig]:
    contacts: dict[str, ContactConfig | BoardContactConfig] = {}
    for role, table, path in draft.named("contact", raw.get("contact", {}), CONTACT_ROLES):
        cls: type[ContactConfig | BoardContactConfig]
        cls = BoardContactConfig if _on_board(raw, table) else ContactConfig
        contact = draft.section(cls, table, path, role=role)
        if contact is not None:
            contacts[role] = contact
    return contacts


def _shown(draft: Draft, raw: dict[str, Any]) -> dict[str, ShownConfig]:
    shown = {}
    for name, table, path in draft.named("shown", raw.get("shown", {})):
        one = draft.section(ShownConfig, table, path, name=name)
        if one is not None:
            shown[name] = one
    return shown
