"""The service's own clock jumps by hours, back and forth, between requests."""

import shutil
from datetime import UTC, datetime, timedelta
from itertools import islice
from pathlib import Path
from random import Random

from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from service.store.store import Store
from tests.api.client import Clock
from tests.faults.clients import happenings
from tests.faults.kill import rebuilt
from tests.faults.world import DATABASE, Blank, World


def test_a_clock_that_jumps_loses_nothing_and_keeps_the_order_of_arrival(
    blank: Blank, tmp_path: Path
) -> None:
    """Jumps of up to two days: all is recorded, in order of arrival, and the check holds."""
    random = Random(10)
    folder = tmp_path / "world"
    shutil.copytree(blank.folder, folder)
    world = World(folder, blank.facility, blank.token)
    clock = Clock(datetime.now(UTC))
    noon = clock.now
    store = Store(f"sqlite:///{folder / DATABASE}")
    sent = list(islice(happenings(10), 120))
    try:
        with TestClient(create_app(Settings(_env_file=None), clock, store)) as http:
            http.headers["Authorization"] = f"Bearer {blank.token}"
            for event in sent:
                clock.now = noon + timedelta(minutes=random.randrange(-2_880, 2_880))
                answer = http.post("/v1/events", json=event)
                assert answer.json()[0]["outcome"] == "recorded", answer.text
            page = http.get("/v1/events?limit=1000").json()["entries"]
    finally:
        store.close()

    assert [e["event"]["id"] for e in page] == [event["id"] for event in sent]
    assert [e["seq"] for e in page] == list(range(2, len(sent) + 2))
    assert len({e["recorded_at"] for e in page}) > 100
    assert world.checked() == []
    assert rebuilt(world) == []
