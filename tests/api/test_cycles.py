"""Cycles at the door: a run with its load, its trace, its verdict; bad input is told."""

from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.api.client import Clock, Device, ids, sealed

[BAG, OTHER] = ids(2, seed=11)
RUN = {
    "id": "019f1a50-0000-7000-8000-00000000c0de",
    "occurred_at": "2026-07-01T11:21:00+05:30",
    "started_at": "2026-07-01T10:00:00+05:30",
    "actor": "operator-1",
    "machine": "kiln-autoclave-1",
    "step": "autoclave",
    "party": "plant-kiln",
    "cycle": "K-1",
}


@pytest.fixture
def plant_with_load(officer: Device, plant: Device, clock: Clock) -> Device:
    """A plant to which a red bag came, which it has autoclaved."""
    officer.tell(sealed(BAG, category="red"))
    return plant


def _put(http: TestClient, device: Device, content: bytes, **headers: str) -> Any:
    own = {**device.headers, "Content-Type": "text/csv"} | headers
    return http.put("/v1/cycles/K-1/trace", content=content, headers=own)
