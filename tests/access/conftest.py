"""Here hashes cost what they cost those who use them."""

import pytest


@pytest.fixture(autouse=True, scope="module")
def cheap() -> None:
    """They stay as they are."""
