"""The event catalogue: everything that can be said to have happened, once.

The log, the screens and the documentation read this table. An event is kept as its kind and its fields;
the words are made from `message` when someone reads it, so that old records speak today's language.
Imports nothing of ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Severity = Literal["info", "person", "warning", "alarm"]


@dataclass(frozen=True, slots=True)
class EventKind:
    """`id` never changes once released. `severity`: info, person (someone is needed), warning, alarm."""

    id: str
    severity: Severity
    fields: tuple[str, ...]
    message: str


_KINDS = (
    EventKind("controller_started", "info", ("version",), "Controller started, version {version}"),
    EventKind("controller_stopped", "info", (), "Controller stopped in an orderly way"),
    EventKind(
        "firing_left_open",
        "warning",
        ("firing",),
        "Firing {firing} was cut short: the controller had stopped",
    ),
    EventKind(
        "interrupted",
        "warning",
        ("was", "outage"),
        "The controller was away for {outage}; the firing, then {was}, is held with the heat off",
    ),
    EventKind("recovered", "info", ("stage", "why"), "Resumed by itself in {stage}: {why}"),
    EventKind(
        "recovery_waits",
        "person",
        ("stage", "why"),
        "A person is needed, {stage}: the firing was cut short and waits, because {why}",
    ),
    EventKind("recovery_stopped", "warning", ("stage", "why"), "Stopped after an outage in {stage}: {why}"),
    EventKind(
        "prefire_checked",
        "info",
        ("by", "ticked", "reachable", "attended"),
        "Looked at before the start, by {by}: {ticked}; can be reached: {reachable}",
    ),
    EventKind("commissioning_missing", "warning", ("says",), "Started with a person staying: {says}"),
    EventKind(
        "certificate_due",
        "warning",
        ("sensor", "due_on"),
        "The calibration certificate of {sensor} counts no longer since {due_on}",
    ),
    EventKind("control_knows", "info", ("by",), "The kiln's heat is worked out from {by}"),
    EventKind("state_changed", "info", ("was", "now", "cue"), "From {was} to {now} ({cue})"),
    EventKind("stage_began", "info", ("stage", "kind", "index"), "Stage {index:+1} began: {stage} ({kind})"),
    EventKind("stage_ended", "info", ("stage", "index"), "Stage {index:+1} ended: {stage}"),
    EventKind("checkpoint_reached", "person", ("stage", "says"), "A person is needed, {stage}: {says}"),
    EventKind(
        "checkpoint_reminder",
        "person",
        ("stage", "waited_s"),
        "Still waiting, {stage}: {waited_s:min} by now",
    ),
    EventKind("nobody_came", "warning", ("stage", "then"), "Nobody came, {stage}: {then}"),
    EventKind("released", "info", ("stage",), "Released by a person: {stage}"),
    EventKind("pour_ready", "person", ("stage", "at_c"), "Ready for the pour at {at_c:.0f} C ({stage})"),
    EventKind(
        "pour_limit",
        "warning",
        ("stage", "held_s"),
        "Held for {held_s:min}, the longest allowed: {stage} ends",
    ),
    EventKind(
        "falls_behind",
        "warning",
        ("stage", "by_k"),
        "Full heat, and the kiln falls behind: {by_k:.0f} K behind the plan ({stage})",
    ),
    EventKind("alarm", "alarm", ("row", "says", "found", "reaction"), "{says} ({found}): {reaction}"),
    EventKind("alarm_warning", "warning", ("row", "says", "found", "reaction"), "{says} ({found})"),
    EventKind("alarm_cleared", "info", ("row", "says"), "Back to normal: {says}"),
    EventKind("trip", "alarm", ("row", "says", "found", "first_out"), "Trip: {says} ({found})"),
    EventKind("trips_cleared", "info", ("by",), "Trips cleared at the kiln by {by}"),
    EventKind("alarm_acknowledged", "info", ("row", "by"), "Alarm acknowledged by {by}: {row}"),
    EventKind(
        "alarm_shelved", "info", ("row", "by", "minutes"), "Alarm shelved for {minutes} min by {by}: {row}"
    ),
    EventKind("alarm_unshelved", "info", ("row", "why"), "Alarm no longer shelved, {why}: {row}"),
    EventKind("lease_ran_out", "warning", (), "A lease ran out unrenewed; the relay was dropped"),
    EventKind("device_paired", "info", ("name", "role", "number"), "{name} was paired, as {role}"),
    EventKind("device_revoked", "info", ("name", "number", "by"), "The pairing of {name} was ended by {by}"),
    EventKind(
        "pairing_refused",
        "warning",
        ("address", "name"),
        "A wrong code came from {address} while {name} was to be paired",
    ),
    EventKind("schedule_saved", "info", ("name", "by"), "The schedule {name} was saved by {by}"),
    EventKind(
        "schedule_renamed", "info", ("name", "to", "by"), "The schedule {name} was renamed {to} by {by}"
    ),
    EventKind("schedule_deleted", "info", ("name", "by"), "The schedule {name} was deleted by {by}"),
    EventKind(
        "web_restarted", "warning", ("status",), "The page's process had ended ({status}); started again"
    ),
)

EVENTS: Mapping[str, EventKind] = {kind.id: kind for kind in _KINDS}


class _Minutes(float):
    """A time in seconds that is written as minutes or hours."""

    def __format__(self, form: str) -> str:
        if form != "min":
            return format(float(self), form)
        minutes = round(self / 60.0)
        return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d} min"


class _Counted(int):
    """A place counted from nought that is written as counted from one (`{index:+1}`)."""

    def __format__(self, form: str) -> str:
        return str(int(self) + 1) if form == "+1" else format(int(self), form)


def _readable(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return _Counted(value)
    return _Minutes(value) if isinstance(value, float) else value


def say(kind: str, fields: Mapping[str, Any]) -> str:
    """Return an event in words. An event of another version, unknown here, is told as it was kept."""
    known = EVENTS.get(kind)
    try:
        if known is not None:
            readable = {
                name: _Minutes(value) if name.endswith("_s") and value is not None else _readable(value)
                for name, value in fields.items()
            }
            return known.message.format_map(readable)
    except (KeyError, ValueError, TypeError):
        pass
    told = ", ".join(f"{name} {value}" for name, value in fields.items())
    return f"{kind.replace('_', ' ')} ({told})" if told else kind.replace("_", " ")


def severity(kind: str) -> Severity:
    """Return how much an event matters; an unknown one is worth a look."""
    known = EVENTS.get(kind)
    return known.severity if known is not None else "warning"
