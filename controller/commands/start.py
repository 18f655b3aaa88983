"""`stokehold start SCHEDULE`: start a firing from the kiln's own computer."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.live import Reply

HELP = "start a firing on the controller that runs"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    add = parser.add_argument
    add("schedule", help="a profile's name, or a schedule file")
    add("--job", type=Path, metavar="JOB.toml", help="the job sheet, kept with the firing")
    add("--home", type=Path, metavar="FOLDER", help="the controller's home folder")
    add("--presence", metavar="CODE", help="the code on the kiln's console (default: ask for it)")
    add(
        "--looked-at",
        metavar="ID,ID",
        help="the ids of the list before a start that were looked at (default: ask for each)",
    )
    add("--reachable", metavar="WHO", help="who can be reached while the kiln is hot, and how (default: ask)")
    add("--attended", action="store_true", help="a person stays at the kiln: start without a commissioning")


def run(args: argparse.Namespace) -> int:
    """Send the schedule's whole text, so that it is the file that you see that runs."""
    from controller.commands.ask import client, send
    from controller.home import default_home
    from controller.schedule.index import find, own_folder

    path = find(args.schedule, own_folder((args.home or default_home()).expanduser()))
    job = {} if args.job is None else {"job": _sheet(args.job)}
    about = {"schedule": path.read_text(encoding="utf-8"), "name": path.name}
    found = client(args).ask({"request": "prefire", "by": "console", **about})  # type: ignore[typeddict-item]
    if not found["ok"]:
        print(found["says"])
        return 1
    ticked = args.looked_at.split(",") if args.looked_at is not None else _look(found)
    reachable = args.reachable or input("who can be reached while the kiln is hot, and how? ")
    return send(
        args,
        {
            "request": "start",
            **about,
            **job,
            "ticked": ticked,
            "reachable": reachable,
            "attended": args.attended,
        },
    )


def _sheet(path: Path) -> str:
    """Return a job sheet's text. Raises FileProblems with all its mistakes, before anyone looks at a list."""
    from controller.forecast.job_file import load_job

    return load_job(path).text


def _look(found: Reply) -> list[str]:
    """Ask for each thing whether it was looked at; return the ids of those that were."""
    if found["says"]:
        print(found["says"])
    print("Before the start, look at each of these, and type y when it is so:")
    return [
        item["id"]
        for item in found.get("items", [])
        if input(f"  {item['says']}? ").strip().lower() in ("y", "yes")
    ]
