"""For every test: hypothesis draws the same examples in CI each time, and new ones on a desk.

Files whose tests wait for processes or a browser come first: at the end both workers then have short ones.
"""

import os

import pytest
from hypothesis import settings

settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")

# The longest first; each is a file or a folder.
LONG = ("tests/processes", "tests/survival", "tests/web/test_browser", "tests/faults", "tests/commissioning")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the long files first, and leave the order within each as it is."""
    items.sort(key=lambda item: not item.nodeid.startswith(LONG))
