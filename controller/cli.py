"""The command line: `stokehold COMMAND`. Every command is a file in `commands/`.

A command's file has `HELP` (one line), `arguments(parser)` and `run(args) -> int` (the exit status).
It imports what it needs inside `run`, so that no command pays for another's imports. No traceback
reaches a user: an error that a person can mend is one line on standard error; a bug is one line and a
file with the rest.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import tempfile
import traceback

from controller.errors import StokeholdError

COMMANDS = (
    "check",
    "forecast",
    "run",
    "start",
    "ask",
    "firings",
    "report",
    "export",
    "replay",
    "learn",
    "note",
    "rate",
    "job",
    "pair",
    "devices",
    "commission",
    "demo",
    "probe",
    "kiln",
    "fault",
    "alerts",
    "controller",
    "web",
)


def build_parser() -> argparse.ArgumentParser:
    """Return the whole command line's parser."""
    parser = argparse.ArgumentParser(
        prog="stokehold",
        description="Runs, guards, shows and records the burnout of ceramic shells in an electric kiln.",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in COMMANDS:
        module = importlib.import_module(f"controller.commands.{name}")
        command = commands.add_parser(name, help=module.HELP, description=module.HELP)
        module.arguments(command)
        command.set_defaults(run=module.run)
    return parser


def main(argv: list[str] | None = None) -> int:
    """Run one command; return its exit status (0 done, 1 not done, 2 asked wrongly, 70 a bug)."""
    args = build_parser().parse_args(argv)
    try:
        return int(args.run(args))
    except StokeholdError as error:
        print(error, file=sys.stderr)
        return error.exit_status
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        # What we print to was closed (`stokehold firings | head`): point standard output at nothing.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        with tempfile.NamedTemporaryFile("w", prefix="stokehold-", suffix=".log", delete=False) as log:
            traceback.print_exc(file=log)
        print(f"stokehold has a fault of its own: {error!r}; the details are in {log.name}", file=sys.stderr)
        return 70


if __name__ == "__main__":
    sys.exit(main())
