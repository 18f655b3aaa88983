"""`stokehold learn N`: fits the kiln's model to a firing, and keeps it for the control of the next one.

`stokehold learn --each` waits for firings to end and does so after each: a process beside the controller.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from controller.forecast.models import FittedKiln
    from controller.record.queries import Record

HELP = "learn the kiln from a firing, so that the next one is controlled better"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument(
        "number", metavar="N", nargs="?", default="last", help='the firing\'s number, or "last" (default)'
    )
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")
    parser.add_argument(
        "--home", metavar="FOLDER", help="where to keep the model (default: beside the record)"
    )
    parser.add_argument(
        "--each", action="store_true", help="wait, and learn after each firing (stokehold run starts this)"
    )
    parser.add_argument(
        "--with-parent", action="store_true", help="with --each: end when the process that started this ends"
    )


def run(args: argparse.Namespace) -> int:
    """Fit, keep and tell; exit status 1 when the fit was refused."""
    import time
    from pathlib import Path

    from controller.errors import UsageError
    from controller.forecast.models import keep, to_text
    from controller.home import RECORD_NAME, default_home, record_path
    from controller.record.kiln_models import write_model
    from controller.record.queries import Record

    home = Path(args.home).expanduser() if args.home else None
    if args.each:
        return _each(home or default_home(), with_parent=args.with_parent)
    path = record_path(args.record) if args.record or home is None else home / RECORD_NAME
    record = Record(path)
    number = record.number(args.number)
    home = home or path.parent
    try:
        fitted = _fitted(record, number, home)
    except UsageError as error:
        write_model(path, number, time.time(), str(error), "")
        raise
    kept = keep(fitted, home)
    write_model(path, number, time.time(), fitted.refused, to_text(fitted))
    for line in _lines(fitted):
        print(line)
    if fitted.refused:
        print(f"refused: {fitted.refused}. The model in use, if there is one, stays. This one: {kept}")
        return 1
    print(f"kept in {kept}; the next firing begins with it")
    return 0


def _each(home: Path, *, with_parent: bool) -> int:
    """Learn after each firing until told to end."""
    import signal
    import threading

    from controller.learner import learn_on

    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    learn_on(home, stop, with_parent=with_parent)
    return 0


def _fitted(record: Record, number: int, home: Path) -> FittedKiln:
    """Fit, and hold what came out to the model in use. Raises UsageError where there is nothing to fit."""
    from controller.errors import UsageError
    from controller.forecast import models
    from controller.forecast.fit import fit
    from controller.forecast.fit_compare import compared
    from controller.review.kiln_text import heater_power_w

    power_w = heater_power_w(record.firing(number).start.kiln_text)
    if power_w is None:
        raise UsageError(f"firing {number}: found no heater's power in its kiln's file, expected one")
    curve = record.ticks(number)
    fitted = fit(curve, power_w, number)
    try:
        old = models.load(home)
    except UsageError:
        old = None  # what cannot be read is not in use
    if old is None or old.firing == number or not models.same_power(old.kiln.power_w, power_w):
        return fitted
    return compared(fitted, old, curve)


def _lines(fitted: FittedKiln) -> list[str]:
    from controller.physics.grey import highest_c, holding_power_w

    kiln = fitted.kiln
    told = [
        ("fitted on", f"firing {fitted.firing}, {fitted.span_h:.1f} h"),
        ("air", f"{fitted.lowest_c:.0f} to {fitted.highest_c:.0f} C"),
        ("what is left of the air", f"{fitted.rms_k:.2f} K (RMS)"),
        ("where it was not fitted", f"{fitted.held_out_rms_k:.2f} K (RMS)"),
        ("heat that is not the kiln's", f"{fitted.unknown_w:.0f} W (RMS)"),
        ("the same while plastic burns", f"{100.0 * fitted.fire_part:.1f} % of the heat given"),
        ("holding power at 815 C", f"{holding_power_w(kiln, 815.0):.0f} W in the long run"),
        ("hottest that full heat keeps", f"{highest_c(kiln):.0f} C"),
    ]
    for name, words, unit in SHOWN:
        told.append((words, f"{getattr(kiln, name):.4g} {unit} (+-{100 * fitted.spread(name):.0f} %)"))
    if fitted.quick is not None:
        quick = fitted.quick
        lags = f"thermocouple {quick.probe_s:.3g} s, dead time {quick.dead_s:.2g} s"
        told.append(("for control, tick by tick", f"{lags}, elements {quick.elements_j_per_k:.4g} J/K"))
    return [f"{words:<30}{value}" for words, value in told]


SHOWN = (
    ("chamber_j_per_k", "chamber's heat capacity", "J/K"),
    ("elements_j_per_k", "elements' heat capacity", "J/K"),
    ("load_j_per_k", "load's heat capacity", "J/K"),
    ("inner_j_per_k", "lining, inner layer", "J/K"),
    ("outer_j_per_k", "lining, outer layer", "J/K"),
    ("face_w_per_k", "chamber to lining", "W/K"),
    ("probe_s", "thermocouple's lag", "s"),
    ("dead_s", "dead time", "s"),
)
