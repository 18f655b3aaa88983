"""For every test: hypothesis draws the same examples in CI each time, and new ones on a desk."""

import os

from hypothesis import settings

settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")
