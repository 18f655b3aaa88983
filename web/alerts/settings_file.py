"""alerts.toml, read: `load_alerts(path)`. All mistakes are told at once, each with its line and no secret.

`KEYS` is the one table of what the file may hold. An address is never repeated in a message, nor is a line
that is no TOML, because either may hold a password.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from controller.schedule.fields import Fields
from controller.schedule.forms import Form, line_of_text, yes_or_no
from controller.schedule.keys import Key
from controller.schedule.located import FileProblems, Located, Problem, load_toml, read_toml
from controller.schedule.units import DURATION_FORM, UnitError, duration_s, shown
from web.alerts.settings import KINDS, URGENT, Quiet, Recipient, Settings

FILE_NAME = "alerts.toml"
HOURS_FORM = 'hours such as "22:00 to 07:00"'
ADDRESS_FORM = "an address that is known here, such as mailtos:// or json:// with what belongs to it"
_HOURS = re.compile(r"([01]?\d|2[0-3]):([0-5]\d) to ([01]?\d|2[0-3]):([0-5]\d)")
_ADDRESS = re.compile(r"\w[\w+.-]*:/{1,2}\S+")
LONGEST_ADDRESS = 1000
MOST_RECIPIENTS = 20

Knows = Callable[[str], bool]


def _seconds(least_s: float, most_s: float) -> Form:
    def read(value: object) -> float:
        seconds = duration_s(value)
        if not least_s <= seconds <= most_s:
            raise UnitError(shown(value), f"{DURATION_FORM}, from {least_s:g} s to {most_s / 3600:g} h")
        return seconds

    return read


def _hours(value: object) -> Quiet:
    match = _HOURS.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise UnitError(shown(value), HOURS_FORM)
    from_h, from_min, to_h, to_min = map(int, match.groups())
    if (from_h, from_min) == (to_h, to_min):
        raise UnitError(shown(value), f"{HOURS_FORM}, and never the whole day")
    return Quiet(from_h * 60 + from_min, to_h * 60 + to_min)


def _some_of(*choices: str) -> Form:
    listed = ", ".join(f'"{choice}"' for choice in choices)

    def read(value: object) -> tuple[str, ...]:
        if not isinstance(value, list):
            raise UnitError(shown(value), f"a list of {listed}")
        for each in value:
            if each not in choices:
                raise UnitError(shown(each), f"some of {listed}")
        return tuple(choice for choice in choices if choice in value)

    return read


def _web_address(value: object) -> str:
    """An http(s) address, which is never repeated in an error."""
    text = value.strip() if isinstance(value, str) else ""
    parts = urlsplit(text) if text.isprintable() and " " not in text else None
    if parts is None or parts.scheme not in ("http", "https") or not parts.hostname:
        raise UnitError("something else", "an address that begins with https:// or http://")
    return text


def _page(value: object) -> str:
    address = _web_address(value)
    if "@" in urlsplit(address).netloc:
        raise UnitError("an address with a password", "one without: it goes into every message")
    return address


def _addresses(value: object) -> tuple[str, ...]:
    if not isinstance(value, list) or not value or not all(isinstance(each, str) for each in value):
        raise UnitError(f"a {type(value).__name__}", "a list of addresses, each in quotes")
    if any(not 0 < len(each) <= LONGEST_ADDRESS for each in value):
        raise UnitError("an address that is empty or too long", f"at most {LONGEST_ADDRESS} characters")
    return tuple(each.strip() for each in value)


TOP = {
    "quiet": Key("quiet_hours", _hours, False, "when what can wait does wait", '"22:00 to 07:00"'),
    "can_wait": Key(
        "can_wait", _some_of("pour", "finished"), False, "what waits in these hours", '["finished"]'
    ),
    "pour_soon_s": Key("pour_soon", _seconds(60, 86400), False, "how long before the pour", '"30 min"'),
    "melting_s": Key("melting", _seconds(60, 86400), False, "from lighting to ready metal", '"50 min"'),
    "lost_after_s": Key(
        "lost_after", _seconds(10, 3600), False, "how long the controller may be away", '"2 min"'
    ),
    "alarm_after_s": Key(
        "alarm_after", _seconds(0, 1800), False, "how long an alarm that is no trip lasts first", '"1 min"'
    ),
    "repeat_s": Key(
        "repeat_after", _seconds(60, 3600), False, "the first pause; each further one is doubled", '"5 min"'
    ),
    "simulated": Key("simulated", yes_or_no, False, "tell of a simulated kiln too", "true"),
    "page": Key("page", _page, False, "the page's address, for the messages", '"https://kiln.example"'),
}
TO = {
    "name": Key("name", line_of_text(60), True, "who is told", '"Ada"'),
    "urls": Key("urls", _addresses, True, "where to, one address or more", '["json://localhost:8080"]'),
    "kinds": Key("kinds", _some_of(*KINDS), False, "of what; absent: of all", '["person", "alarm"]'),
    "after_s": Key("after", _seconds(0, 86400), False, "only if nobody acknowledged so long", '"15 min"'),
}
HEARTBEAT = {
    "url": Key("url", _web_address, True, "fetched while all is well", '"https://monitor.example/kiln"'),
    "every_s": Key("every", _seconds(10, 3600), False, "how often", '"1 min"'),
}
KEYS: dict[str, dict[str, Key]] = {"": TOP, "to": TO, "heartbeat": HEARTBEAT}
"""Table, then the field that a key fills, then the key."""


def load_alerts(path: Path) -> Settings:
    """Return alerts.toml's settings. Raises UsageError if unreadable, FileProblems with all its mistakes."""
    try:
        return _read(load_toml(path), _knows)
    except FileProblems as problems:
        raise without_secrets(problems) from None


def read_alerts(text: str, file: str = FILE_NAME, knows: Knows | None = None) -> Settings:
    """Return settings from their text. `knows` tells whether an address can be used. Raises FileProblems."""
    try:
        return _read(read_toml(text, file), knows or _knows)
    except FileProblems as problems:
        raise without_secrets(problems) from None


def without_secrets(problems: FileProblems) -> FileProblems:
    """Return the same problems without anything that may be a secret."""
    return FileProblems(_without_secret(problem) for problem in problems.problems)


def _without_secret(problem: Problem) -> Problem:
    if problem.where == "not TOML":
        return problem._replace(found="a line that is none")
    where, found = (_ADDRESS.sub("an address", text) for text in (problem.where, problem.found))
    return problem._replace(where=where, found=found)


def _knows(address: str) -> bool:
    from web.alerts.service import knows  # the library takes a while to load

    return knows(address)


def _read(located: Located, knows: Knows) -> Settings:
    top = Fields(located, (), "", located.data)
    top.read(TOP.values(), also_known=("to", "heartbeat"))
    people = list(_people(top))
    heartbeat = _heartbeat(top)
    to = tuple(_recipient(each) for each in people if not each.problems)
    _judge_addresses(people, knows)
    problems = [problem for fields in (top, heartbeat, *people) for problem in fields.problems]
    if not problems:
        _judge_together(top, people, to)
        problems = [problem for fields in (top, *people) for problem in fields.problems]
    if problems:
        raise FileProblems(problems)
    beat = _values(heartbeat, HEARTBEAT)
    every = {"heartbeat_every_s": beat["every_s"]} if "every_s" in beat else {}
    return Settings(to=to, heartbeat_url=beat.get("url"), **every, **_values(top, TOP))


def _people(top: Fields) -> Iterator[Fields]:
    raw = top.table.get("to", [])
    if not isinstance(raw, list) or not all(isinstance(each, dict) for each in raw):
        top.complain("to", "something else", "tables, each under [[to]]")
        return
    if len(raw) > MOST_RECIPIENTS:
        top.complain("to", f"{len(raw)} recipients", f"at most {MOST_RECIPIENTS}")
        return
    for index, table in enumerate(raw):
        fields = Fields(top.located, ("to", index), f"recipient {index + 1}", table)
        fields.read(TO.values())
        yield fields


def _heartbeat(top: Fields) -> Fields:
    raw = top.table.get("heartbeat")
    if raw is not None and not isinstance(raw, dict):
        top.complain("heartbeat", "something else", "a table, [heartbeat]")
        raw = None
    fields = Fields(top.located, ("heartbeat",), "heartbeat", raw or {})
    if raw is not None:
        fields.read(HEARTBEAT.values())
    return fields


def _recipient(fields: Fields) -> Recipient:
    return Recipient(**_values(fields, TO))


def _values(fields: Fields, keys: dict[str, Key]) -> dict[str, Any]:
    return {field: fields.values[key.name] for field, key in keys.items() if key.name in fields.values}


def _judge_addresses(people: list[Fields], knows: Knows) -> None:
    for fields in people:
        for number, address in enumerate(fields.values.get("urls", ()), 1):
            if not knows(address):
                fields.complain("urls", f"address {number}, which is not known here", ADDRESS_FORM)


def _judge_together(top: Fields, people: list[Fields], to: tuple[Recipient, ...]) -> None:
    """Complain of what cannot stand together: two of one name, and nobody at once for what is urgent."""
    names = [one.name for one in to]
    for fields, name in zip(people, names, strict=True):
        if names.count(name) > 1:
            fields.complain("name", f'"{name}" more than once', "a name of its own for each")
    for kind in URGENT if to else ():
        if not any(kind in one.kinds and one.after_s == 0.0 for one in to):
            expected = f'at least one [[to]] with "{kind}" among its kinds and no `after`'
            top.complain("to", f'nobody who is told "{kind}" at once', expected)
