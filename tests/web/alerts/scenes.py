"""A clock that tests move, recipients, and the kiln's second hand: one call of `Story.at` a moment."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from controller.live import Frame
from tests.web import invented
from web.alerts.decide import Message, State, decide
from web.alerts.facts import Now, Seen
from web.alerts.settings import Recipient, Settings

ADA = Recipient("Ada", ("json://ada.example",))
BEN = Recipient("Ben", ("json://ben.example",), after_s=900.0)
UTC_S = 1930356600.0  # 2031-03-04 02:10:00 UTC: the invented frames' own time
ONE = Settings(to=(ADA,))
TWO = Settings(to=(ADA, BEN))


class Story:
    """Decides moment by moment, and keeps every message with its time."""

    def __init__(self, settings: Settings = ONE) -> None:
        self.settings = settings
        self.state = State()
        self.now_s = 0.0
        self.told: list[tuple[float, Message]] = []

    def see(self, frame: Frame | None, for_s: float = 0.0, **seen: Any) -> list[Message]:
        """See one frame, or none, for so long, once a second at most; return what was sent meanwhile."""
        before, end_s, silent_s = len(self.told), self.now_s + for_s, seen.pop("silent_s", 0.0)
        step_s = max(1.0, for_s / 4000.0)
        while True:
            now = Now(1000.0 + self.now_s, UTC_S + self.now_s, 0.0)
            heard = Seen(aged(frame, self.now_s - end_s + for_s) if frame else None, silent_s, **seen)
            self.state, messages = decide(self.settings, self.state, heard, now)
            self.told += [(self.now_s, message) for message in messages]
            if self.now_s >= end_s:
                return [message for _, message in self.told[before:]]
            self.now_s = min(end_s, self.now_s + step_s)
            silent_s += step_s if frame is None else 0.0

    def times(self, name: str = "Ada", sort: str | None = None) -> list[float]:
        """When a recipient was told, in seconds of the story."""
        return [at_s for at_s, m in self.told if m.to == name and sort in (None, m.sort)]


def aged(frame: Frame, by_s: float) -> Frame:
    """The same frame a little later: what waits has waited longer, what comes has come nearer."""
    changes: dict[str, Any] = {}
    if frame["person"] is not None:
        changes["person"] = {**frame["person"], "waited_s": frame["person"]["waited_s"] + by_s}
    elif frame["pour"] is not None and frame["pour"]["in_s"] is not None and frame["state"] == "running":
        changes["pour"] = {**frame["pour"], "in_s": max(1.0, frame["pour"]["in_s"] - by_s)}
    return Frame(**{**frame, **changes})  # type: ignore[typeddict-item]


def with_changes(frame: Frame, **changes: Any) -> Frame:
    return Frame(**{**frame, **changes})  # type: ignore[typeddict-item]


def pour_in(in_s: float, **changes: Any) -> Frame:
    """Running, with the pour so far ahead and no stop before it."""
    pour = {"name": "keep for the pour", "kind": "hold", "in_s": in_s}
    return invented.changed(pour=pour, stop=pour, **changes)


def quiet(settings: Settings, hours: tuple[int, int], **changes: Any) -> Settings:
    """The same settings with quiet hours from one hour to another."""
    from web.alerts.settings import Quiet

    return replace(settings, quiet=Quiet(hours[0] * 60, hours[1] * 60), **changes)
