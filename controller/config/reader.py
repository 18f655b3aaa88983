"""A kiln's file, read: `load_kiln(path)`. All its mistakes are told at once, each with its line.

The file is TOML: a few values at the top, then `[bus.NAME]`, `[reader.ROLE]`, `[heater]`,
`[main_contactor]`, `[contact.ROLE]`, `[control]` and `[guard]`. What each may hold is said in
`model.py`; what must be true of them together, in `checks.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from controller.config.checks import Parts, check
from controller.config.draft import Draft, keys_of
from controller.config.model import (
    BUS_KINDS,
    CONTACT_ROLES,
    READER_ROLES,
    BusConfig,
    ContactConfig,
    ControlConfig,
    GuardConfig,
    HeaterConfig,
    KilnConfig,
    ReaderConfig,
    SwitchConfig,
)
from controller.schedule.located import Located, load_toml, read_toml

TABLES = ("bus", "reader", "heater", "main_contactor", "contact", "control", "guard")


def load_kiln(path: Path | str) -> KilnConfig:
    """Return a kiln's file. Raises UsageError if it cannot be opened, FileProblems if it has mistakes."""
    return _read(load_toml(Path(path)))


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
    heater, control, guard = parts.heater, parts.control, parts.guard
    if heater is None or control is None or guard is None:
        raise AssertionError("a part is missing, yet no problem was noted")
    return KilnConfig(
        **parts.top,
        buses=parts.buses,
        readers=parts.readers,
        heater=heater,
        main_contactor=parts.main_contactor,
        contacts=parts.contacts,
        control=control,
        guard=guard,
        text=located.text,
        file=located.file,
    )


def _parts(draft: Draft, raw: dict[str, Any]) -> Parts:
    """Return what could be read of a file, with every mistake noted in the draft."""
    main = raw.get("main_contactor")
    return Parts(
        top=draft.scalars(KilnConfig, raw),
        bus_names=tuple(raw["bus"]) if isinstance(raw.get("bus"), dict) else (),
        bus_uses=tuple(_bus_uses(raw)),
        buses=_buses(draft, raw),
        readers=_readers(draft, raw),
        heater=draft.section(HeaterConfig, raw["heater"], ("heater",))
        if _has(draft, raw, "heater")
        else None,
        main_contactor=None if main is None else draft.section(SwitchConfig, main, ("main_contactor",)),
        contacts=_contacts(draft, raw),
        control=draft.section(ControlConfig, raw.get("control", {}), ("control",)),
        guard=draft.section(GuardConfig, raw.get("guard", {}), ("guard",)),
    )


def _has(draft: Draft, raw: dict[str, Any], *path: str) -> bool:
    """Return whether a table that must be there is there, and note it when it is not."""
    at: Any = raw
    for key in path:
        at = at.get(key) if isinstance(at, dict) else None
    if at is None:
        draft.problem(path, "no such table", f"the table [{'.'.join(path)}]")
    return at is not None


def _bus_uses(raw: object, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield every table that names a bus, with the name."""
    if isinstance(raw, dict):
        if isinstance(raw.get("bus"), str):
            yield path, raw["bus"]
        for key, value in raw.items():
            yield from _bus_uses(value, (*path, key))


def _buses(draft: Draft, raw: dict[str, Any]) -> dict[str, BusConfig]:
    buses = {}
    if not raw.get("bus"):
        draft.problem(("bus",), "no such table", "at least one wire, as a table [bus.NAME]")
        return {}
    for name, table, path in draft.named("bus", raw["bus"]):
        kind = table.get("kind") if isinstance(table, dict) else None
        cls = BUS_KINDS.get(kind, BusConfig) if isinstance(kind, str) else BusConfig
        bus = draft.section(cls, table, path, name=name)
        if bus is not None:
            buses[name] = bus
    return buses


def _readers(draft: Draft, raw: dict[str, Any]) -> dict[str, ReaderConfig]:
    _has(draft, raw, "reader", "air")
    readers = {}
    for role, table, path in draft.named("reader", raw.get("reader", {}), READER_ROLES):
        reader = draft.section(ReaderConfig, table, path, role=role)
        if reader is not None:
            readers[role] = reader
    return readers


def _contacts(draft: Draft, raw: dict[str, Any]) -> dict[str, ContactConfig]:
    contacts = {}
    for role, table, path in draft.named("contact", raw.get("contact", {}), CONTACT_ROLES):
        contact = draft.section(ContactConfig, table, path, role=role)
        if contact is not None:
            contacts[role] = contact
    return contacts
