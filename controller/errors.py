"""The error tree, drawn once. Every error that a person can meet is one clear line.

    StokeholdError            a person can mend it; the command line prints it and exits with its status
    ├── UsageError            what was asked for cannot be done as asked
    ├── FileProblems          a file has mistakes; all of them are told at once (schedule/located.py)
    ├── WireError             a reader, heater or contact did not answer as it should
    ├── ThermocoupleError     a voltage or temperature that its type does not have (wire/thermocouple)
    ├── CalibrationError      a calibration table with mistakes (wire/thermocouple)
    ├── RecordError           the record cannot be opened, read or written
    ├── ChannelError          the controller cannot be reached, or refused the request
    └── BusyError             too many wait for an estimate, or it took too long (web/estimates/worker.py)

Nothing else may reach a user; a bug is caught at the top of the command line, told in one line and
written in full to a log file.
"""

from __future__ import annotations


class StokeholdError(Exception):
    """One clear line for a person: where, what was found, what was expected."""

    exit_status = 2


class UsageError(StokeholdError):
    """What was asked for cannot be done as asked."""


class WireError(StokeholdError):
    """A reader, heater or contact did not answer as it should."""


class RecordError(StokeholdError):
    """The record cannot be opened, read or written."""


class ChannelError(StokeholdError):
    """The controller cannot be reached, or it refused the request."""
