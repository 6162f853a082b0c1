"""Reads the invented hospital's set-up file."""

import tomllib
from decimal import Decimal
from pathlib import Path

from service.custody.site import Site

FILE = Path(__file__).with_name("hospital.toml")


def load_site() -> Site:
    """Give the invented hospital with its units, stores, parties, scales and travel times."""
    return Site.model_validate(tomllib.loads(FILE.read_text("utf-8"), parse_float=Decimal))
