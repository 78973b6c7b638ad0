"""Settings for all tests: in CI, hypothesis tries the same examples every time."""

import os

from hypothesis import settings

settings.register_profile("ci", derandomize=True, deadline=None)
settings.register_profile("developer", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "developer")
