"""What a test needs of the system: without it the test is skipped, or fails where all must run."""

import os
from typing import NoReturn

import pytest


def without(missing: str) -> NoReturn:
    """End the test, with what is missing and how it is installed."""
    if os.environ.get("CUSTODY_REQUIRE_ALL"):
        pytest.fail(missing)
    pytest.skip(missing)
