"""Who holds a token that counts. The record says so, and it is asked anew for every request from afar.

So whatever revokes a device, this process or the command line, acts at the next request; an open stream is
looked at twice a second. A record that does not answer does not take hold and abort from those who were
paired when it last did.
"""

from __future__ import annotations

import logging
import time
from pathlib import Path

import anyio

from controller.errors import RecordError
from controller.pairing.secret import hash_of
from controller.record.devices import Device, devices
from controller.record.write_devices import device_seen

# Reading takes about a millisecond. A disk that takes longer than this is told as one that does not answer.
READ_WITHIN_S = 1.5
# A list that is as fresh as this may be looked at without reading it anew.
FRESH_S = 0.5
# How often it is kept when a device was last seen.
SEEN_EVERY_S = 600.0

log = logging.getLogger("stokehold.web")


class Holders:
    """The paired devices, by the hash of what they hold."""

    def __init__(self, record: Path) -> None:
        self._record = record
        self._known: dict[str, Device] = {}
        self._looked_s = float("-inf")
        self._seen_s: dict[int, float] = {}
        self._lane: anyio.CapacityLimiter | None = None

    async def holder(self, token: str) -> Device | None:
        """Return the device that holds this token, as the record has it now; None: nobody, or revoked."""
        await self._read()
        return self._known.get(hash_of(token))

    async def still_paired(self, number: int) -> bool:
        """Whether a device is paired, by a list that may be half a second old."""
        if (now_s := time.monotonic()) - self._looked_s > FRESH_S:
            self._looked_s = now_s  # whoever else looks meanwhile need not read as well
            await self._read()
        return any(device.number == number for device in self._known.values())

    async def note_seen(self, number: int) -> None:
        """Keep that a device has asked for something, now and then. A record that refuses does no harm."""
        now_s = time.monotonic()
        if now_s - self._seen_s.get(number, float("-inf")) < SEEN_EVERY_S:
            return
        self._seen_s[number] = now_s
        await anyio.to_thread.run_sync(self._write_seen, number, time.time())

    def _write_seen(self, number: int, utc_s: float) -> None:
        try:
            device_seen(self._record, number, utc_s)
        except RecordError as error:
            log.debug("when a device was seen cannot be kept: %s", error)

    async def _read(self) -> None:
        """Read the list in a lane of its own: no report that is being drawn may keep an abort waiting."""
        self._lane = self._lane or anyio.CapacityLimiter(4)
        try:
            with anyio.fail_after(READ_WITHIN_S):
                found = await anyio.to_thread.run_sync(
                    devices, self._record, abandon_on_cancel=True, limiter=self._lane
                )
        except (RecordError, TimeoutError) as error:
            log.warning("the paired devices cannot be read, the last known ones count: %s", error)
            return
        self._known = {device.token_hash: device for device in found if device.paired}
