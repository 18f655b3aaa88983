"""The settings in words, and each address tried once: for the command line. No address is shown."""

from __future__ import annotations

from collections.abc import Iterator

from controller.schedule.units import duration_text
from web.alerts import heartbeat, service
from web.alerts.decide import LONGEST_PAUSE_S, MOST_AN_HOUR
from web.alerts.sender import How, try_once
from web.alerts.settings import KINDS, Quiet, Recipient, Settings

KIND_WORDS = {
    "person": "a person is needed",
    "alarm": "an alarm",
    "pour": "pour soon",
    "finished": "finished",
    "lost": "controller lost",
}
TITLE = "A test from the kiln"
BODY = "Nothing has happened. Somebody has asked whether this arrives. Nothing need be done."


def shown(settings: Settings) -> list[str]:
    """Return lines that say who is told of what, and when."""
    lines = [line for one in settings.to for line in _recipient(one)] or ["Nobody is told: no [[to]]."]
    lines += [
        f"Told again until acknowledged: after {duration_text(settings.repeat_s)}, then with pauses that "
        f"double, to {duration_text(LONGEST_PAUSE_S)}; at most {MOST_AN_HOUR} messages an hour to each.",
        f"Quiet hours: {_quiet(settings.quiet, settings.can_wait)}.",
        f"Pour soon: {duration_text(settings.pour_soon_s)} before.{_melting(settings)}",
        f"An alarm that is no trip is told once it has lasted {duration_text(settings.alarm_after_s)}; "
        f"the controller is lost after {duration_text(settings.lost_after_s)}.",
        f"A simulated kiln: {'told too' if settings.simulated else 'not told'}.",
    ]
    beat = settings.heartbeat_url is not None
    every = f"every {duration_text(settings.heartbeat_every_s)} while all is well" if beat else "none"
    return [*lines, f"Heartbeat for an outside monitor: {every}."]


def _recipient(one: Recipient) -> Iterator[str]:
    kinds = "everything" if one.kinds == KINDS else ", ".join(KIND_WORDS[kind] for kind in one.kinds)
    ways = ", ".join(service.way(url) for url in one.urls)
    after = f", only if nobody has acknowledged for {duration_text(one.after_s)}" if one.after_s else ""
    yield f"{one.name} ({ways}): {kinds}{after}"


def _quiet(quiet: Quiet | None, can_wait: tuple[str, ...]) -> str:
    if quiet is None or not can_wait:
        return "none"
    from_h, from_min = divmod(quiet.from_min, 60)
    to_h, to_min = divmod(quiet.to_min, 60)
    waiting = " and ".join(KIND_WORDS[kind] for kind in can_wait)
    return f"{from_h:02d}:{from_min:02d} to {to_h:02d}:{to_min:02d}, for {waiting}"


def _melting(settings: Settings) -> str:
    if settings.melting_s is None:
        return ""
    return f" Light the melting furnace: {duration_text(settings.melting_s)} before it."


def try_each(settings: Settings) -> Iterator[tuple[str, str | None]]:
    """Send a test to each address and fetch the heartbeat's; yield what it is, and why it failed or None."""
    for one in settings.to:
        for number, url in enumerate(one.urls, 1):
            label = one.name if len(one.urls) == 1 else f"{one.name}, address {number}"
            yield f"{label} ({service.way(url)})", try_once(How(), url, TITLE, BODY, False)[0]
    if settings.heartbeat_url is not None:
        yield heartbeat.NAME, heartbeat.fetch(settings.heartbeat_url)
