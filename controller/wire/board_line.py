"""The line protocol of a board of our own, as hardware_notes/board/protocol.md says it: lines out and in.

Rules:
- An answer is taken whole or not at all: its form is matched to the last character before its checksum is
  looked at, and its checksum before a single field is read.
- Pure: nothing here knows a clock, a port or a kiln.
"""

from __future__ import annotations

import re
from binascii import crc_hqx
from enum import IntFlag
from typing import NamedTuple

VERSION = 1
LONGEST_LINE = 80  # the board's own buffer for answers; the longest answer, of three sensors, has 71
HEAT_MS_MAX = 99_999  # what the order's field can carry; the board allows less


class LineError(ValueError):
    """A line that is no answer of the protocol, or a damaged one."""


class Flag(IntFlag):
    """What a board says about itself. All but CAPPED refuse heat while they stand."""

    RESTARTED = 0x01
    LIMIT = 0x02
    OVER = 0x04
    SENSOR = 0x08
    SILENT = 0x10
    STOP = 0x20
    DOOR = 0x40
    CAPPED = 0x80


class Contacts(IntFlag):
    """The board's contacts; a bit that is set is a closed contact: all is well."""

    DOOR = 0x01
    EMERGENCY_STOP = 0x02
    EXTRACTION = 0x04
    KEY = 0x08
    HEAT_PROVEN = 0x10
    MAIN_PROVEN = 0x20


class Cause(IntFlag):
    """Why the chip was last reset."""

    POWER_ON = 0x1
    EXTERNAL = 0x2
    BROWN_OUT = 0x4
    WATCHDOG = 0x8


class Sensor(NamedTuple):
    """One converter. `hot_c` None: the reason is in `fault`. `cold_c` None: the converter is not there."""

    hot_c: float | None
    fault: str | None
    cold_c: float | None


class Status(NamedTuple):
    """What a board answers to an order and to a question. The pins are as read back."""

    sequence: int
    flags: Flag
    contacts: Contacts
    heat_pin: bool
    main_pin: bool
    cause: Cause
    lease_ms: int
    sensors: tuple[Sensor, ...]


class Identity(NamedTuple):
    """What a board is. `bad_lines`: lines dropped since its reset, 255 for as many or more."""

    sequence: int
    version: int
    sensors: int
    limit_c: float
    longest_lease_ms: int
    silence_ms: int
    bad_lines: int


class Refusal(NamedTuple):
    """A line reached the board undamaged, but it cannot do what it says."""

    sequence: int
    code: int

    @property
    def says(self) -> str:
        """Return the reason in words."""
        return {1: "it does not know this message", 2: "the message has wrong fields"}.get(
            self.code, f"error {self.code:X}"
        )


Answer = Status | Identity | Refusal

FAULTS = {
    b"OPEN...": "open",
    b"GROUND.": "shorted to ground",
    b"SUPPLY.": "shorted to the supply",
    b"ABSENT.": "the converter does not answer",
}

_STATUS = re.compile(
    rb"<([0-9A-F]{2}) S ([0-9A-F]{2}) ([0-3][0-9A-F]) ([0-3]) ([0-9A-F]) ([0-9]{5}) "
    rb"((?:(?:[+-][0-9]{6}|OPEN\.\.\.|GROUND\.|SUPPLY\.|ABSENT\.) [+-][0-9]{5} ){1,3})[0-9A-F]{4}"
)
_IDENTITY = re.compile(
    rb"<([0-9A-F]{2}) I ([0-9]{2}) ([1-3]) ([0-9]{4}) ([0-9]{5}) ([0-9]{5}) ([0-9]{3}) [0-9A-F]{4}"
)
_REFUSAL = re.compile(rb"<([0-9A-F]{2}) E ([0-9A-F]) [0-9A-F]{4}")


def checksum(text: bytes) -> int:
    """Return CRC-16/IBM-3740: polynomial 0x1021, start 0xFFFF, not reflected; b"123456789" gives 0x29B1."""
    return crc_hqx(text, 0xFFFF)


def heat(sequence: int, lease_ms: int, main_contactor: bool) -> bytes:
    """Return the order to heat for `lease_ms` from its arrival (0: off now), and to move the main contactor.

    Raises ValueError for a lease that the field cannot carry.
    """
    if not 0 <= lease_ms <= HEAT_MS_MAX:
        raise ValueError(f"a lease of {lease_ms} ms; expected 0 to {HEAT_MS_MAX}")
    return _framed(f">{sequence:02X} H {lease_ms:05d} {main_contactor:d} ")


def read(sequence: int) -> bytes:
    """Return the question for the status; it changes nothing."""
    return _framed(f">{sequence:02X} R ")


def acknowledge(sequence: int) -> bytes:
    """Return the line that says: I know that you have restarted."""
    return _framed(f">{sequence:02X} A ")


def identify(sequence: int) -> bytes:
    """Return the question for the board's identity."""
    return _framed(f">{sequence:02X} I ")


def parse(line: bytes) -> Answer:
    """Return what a line, without its newline, says. Raises LineError."""
    for form, build in ((_STATUS, _status), (_REFUSAL, _refusal), (_IDENTITY, _identity)):
        if match := form.fullmatch(line):
            if checksum(line[:-4]) != int(line[-4:], 16):
                raise LineError("the checksum does not fit")
            return build(match)
    raise LineError("not an answer of this protocol")


class Lines:
    """Bytes in, whole lines out. '<' begins a line whatever came before; what is too long is dropped."""

    def __init__(self) -> None:
        self._line: bytearray | None = None

    def feed(self, data: bytes) -> list[bytes]:
        """Take bytes as they come; return the lines that ended among them, without their newlines."""
        ended = []
        for byte in data:
            if byte == 0x3C:  # '<'
                self._line = bytearray(b"<")
            elif self._line is None:
                continue
            elif byte == 0x0A:
                ended.append(bytes(self._line))
                self._line = None
            elif len(self._line) == LONGEST_LINE:
                self._line = None
            else:
                self._line.append(byte)
        return ended


def _framed(text: str) -> bytes:
    line = text.encode("ascii")
    return b"%s%04X\n" % (line, checksum(line))


def _status(match: re.Match[bytes]) -> Status:
    sequence, flags, contacts, pins, cause = (int(match[i], 16) for i in range(1, 6))
    fields = match[7].split()
    sensors = tuple(_sensor(hot, cold) for hot, cold in zip(fields[::2], fields[1::2], strict=True))
    return Status(
        sequence,
        Flag(flags),
        Contacts(contacts),
        bool(pins & 1),
        bool(pins & 2),
        Cause(cause),
        int(match[6]),
        sensors,
    )


def _sensor(hot: bytes, cold: bytes) -> Sensor:
    fault = FAULTS.get(hot)
    cold_c = None if hot == b"ABSENT." else int(cold) / 100
    return Sensor(None if fault else int(hot) / 100, fault, cold_c)


def _identity(match: re.Match[bytes]) -> Identity:
    return Identity(int(match[1], 16), *(int(match[i]) for i in range(2, 8)))


def _refusal(match: re.Match[bytes]) -> Refusal:
    return Refusal(int(match[1], 16), int(match[2], 16))
