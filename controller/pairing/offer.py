"""An offer to pair one device: made at the kiln's console, taken once on the page, over after five minutes.

It has two secrets. The **code** is eight digits that a person types; tries at it are limited, and 30 of them
in five minutes have one chance in three million. The **link** in the QR picture holds 128 random bits, which
nobody guesses, so that no lock on tries ever keeps out whoever stands at the console.

The offer is a file in the home folder that only the controller's user can read; there is at most one, and a
new one takes the place of the last. It holds hashes. (The code's keeps nobody out who can read the file: that
user may pair anyway.) Its time is the monotonic clock's within one start of the computer, which no change of
the date makes longer.
"""

from __future__ import annotations

import contextlib
import hmac
import json
import os
import secrets
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Literal

from controller.boot import boot
from controller.errors import UsageError
from controller.pairing.secret import hash_of

Role = Literal["watcher", "operator"]

FILE_NAME = "pairing-offer"
LASTS_S = 300.0
CODE_DIGITS = 8
LINK_BYTES = 16


@dataclass(frozen=True, slots=True)
class Offer:
    """What the page needs to know. `made_s`: monotonic time; `boot`: of which start of the computer."""

    id: str
    name: str
    role: Role
    code_hash: str
    link_hash: str
    made_s: float
    boot: str

    def open_at(self, now_s: float) -> bool:
        """Whether it can be taken now."""
        return self.boot == boot() and 0.0 <= now_s - self.made_s < LASTS_S

    def is_code(self, code: str) -> bool:
        """Whether these are the digits; spaces and dashes between them do not count."""
        digits = "".join(each for each in code if each not in " -")
        return hmac.compare_digest(hash_of(digits), self.code_hash)

    def is_link(self, link: str) -> bool:
        """Whether this is the link's secret."""
        return hmac.compare_digest(hash_of(link), self.link_hash)


def make_offer(home: Path, name: str, role: Role, now_s: float) -> tuple[Offer, str, str]:
    """Make the offer and keep it; return it with its code and its link's secret, which only the caller has.

    Raises UsageError when it cannot be written.
    """
    code = f"{secrets.randbelow(10**CODE_DIGITS):0{CODE_DIGITS}d}"
    link = secrets.token_urlsafe(LINK_BYTES)
    offer = Offer(secrets.token_hex(4), name, role, hash_of(code), hash_of(link), now_s, boot())
    new = home / f"{FILE_NAME}.{os.getpid()}.new"
    try:
        home.mkdir(parents=True, exist_ok=True)
        handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w") as file:
            json.dump(asdict(offer), file)
        new.replace(home / FILE_NAME)
    except OSError as error:
        with contextlib.suppress(OSError):
            new.unlink(missing_ok=True)
        raise UsageError(f"{home}: the offer cannot be kept there: {error.strerror}") from error
    return offer, code, link


def open_offer(home: Path, now_s: float) -> Offer | None:
    """Return the offer that can be taken now, or None: none, over, or not to be read."""
    offer = _read(home)
    return offer if offer is not None and offer.open_at(now_s) else None


def _read(home: Path) -> Offer | None:
    try:
        return Offer(**json.loads((home / FILE_NAME).read_text()))
    except (OSError, ValueError, TypeError):
        return None


def take_offer(home: Path, offer: Offer) -> None:
    """Use the offer up, or withdraw it. One that took its place meanwhile stays."""
    with contextlib.suppress(OSError):
        if _read(home) == offer:
            (home / FILE_NAME).unlink()
