"""One message from everything of one sort that is due to one recipient. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from controller.live import Frame
from controller.schedule.units import duration_text
from web.alerts import words
from web.alerts.facts import Now
from web.alerts.settings import Recipient, Settings

if TYPE_CHECKING:
    from web.alerts.decide import Matter


def message(
    settings: Settings,
    kiln: str,
    due: Sequence[Matter],
    recipient: Recipient,
    frame: Frame | None,
    now: Now,
) -> tuple[str, str]:
    """Return a title and a text for what is due. `kiln`: its name."""
    more = f", and {len(due) - 1} more" if len(due) > 1 else ""
    title = f"{kiln}: {due[0].words.title}{more}"
    blocks = [_block(matter, len(due) > 1, recipient, now) for matter in due]
    if frame is not None:
        blocks.append(words.measured(frame))
    if settings.page:
        blocks.append(f"Page: {settings.page}")
    return title, "\n".join(block for block in blocks if block)


def _block(matter: Matter, named: bool, recipient: Recipient, now: Now) -> str:
    said = matter.words
    lines = [f"{said.title[0].upper()}{said.title[1:]}." if named else "", said.says]
    if matter.repeats:
        waited_s = max(0.0, now.utc_s - matter.since_utc_s)
        since = words.clock(matter.since_utc_s, now.offset_s)
        again = " Not acknowledged yet." if matter.told else ""
        lines.append(f"Since {since} ({duration_text(waited_s)}).{again}")
    lines += [said.do, _others(matter, recipient, now)]
    return "\n".join(line for line in lines if line)


def _others(matter: Matter, recipient: Recipient, now: Now) -> str:
    """Say who was told before, where that is somebody else."""
    others = [told.to for told in matter.told if told.to != recipient.name]
    return f"Told before: {', '.join(others)}." if matter.repeats and recipient.after_s and others else ""
