"""One event a request on PostgreSQL, two services, beside the engine's measure and a row lock."""

import re
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

from scenario.hospital import load_site
from service.custody.words import Role
from service.duties import administrator, officer
from service.duties.access import Caller
from service.store.store import Store
from tests.benchmarks.frame import Rounds, Row, Size, Told, at_least, rate
from tests.benchmarks.serving import load, peer, requests, room
from tests.faults.world import World
from tests.postgres import Cluster, cluster

CLIENTS, WORKERS, FACILITIES = 32, 2, 8
COUNTS = {"tiny": 64, "quick": 800, "full": 800}
PGBENCH_S = {"tiny": 1, "quick": 3, "full": 5}
PGBENCH_SCALE = 10


def measure(size: Size, rounds: int) -> Told:
    """Compare: one busy facility, and several, with one service and with two."""
    with cluster({}) as server, room() as folder:  # fsync on, as the server comes
        yield from _compared(server, folder, size, rounds)


def set_up_facilities(url: str, count: int) -> list[str]:
    """Set up so many facilities in one database; give an officer's token of each."""
    store, now, tokens = Store(url), datetime.now(UTC), []
    for n in range(count):
        site = load_site().model_copy(update={"id": f"house-{n}"})
        caller = Caller(site.id, "bench", Role.ADMINISTRATOR)
        officer.set_up(store, caller, site, now)
        days = timedelta(days=30)
        tokens.append(
            administrator.admit_program(store, caller, "officer", Role.OFFICER, now, days)
        )
    store.close()
    return tokens


def tpcb(server: Cluster, clients: int, seconds: int) -> float:
    """Transactions a second of PostgreSQL's own benchmark, once it is laid out."""
    said = server.run("pgbench", "-c", str(clients), "-j", "2", "-T", str(seconds), *_to(server))
    found = re.search(r"tps = ([\d.]+) \(without", said)
    assert found, said
    return float(found[1])


def _to(server: Cluster) -> list[str]:
    return ["-h", "127.0.0.1", "-p", str(server.port), "-U", "custody", "pgbench"]


def _compared(server: Cluster, folder: Path, size: Size, rounds: int) -> Told:
    url, count = server.made("ours"), COUNTS[size]
    tokens = set_up_facilities(url, FACILITIES)
    server.made("pgbench")
    scale = "1" if size == "tiny" else str(PGBENCH_SCALE)
    server.run("pgbench", "-i", "-q", "-s", scale, *_to(server))
    worlds = [World(folder, "", tokens[0], server=url) for _ in range(WORKERS)]
    with ExitStack() as open_:
        for world in worlds:
            open_.enter_context(world).start()
        ports = [world.port for world in worlds]
        lock = open_.enter_context(peer("locked", server.made("locked")))

        def way(to: Sequence[int], sent: int, who: Sequence[str]) -> Callable[[], float]:
            return lambda: load(to, CLIENTS, requests(sent, who)).rate

        for to in (ports, [lock]):
            way(to, max(CLIENTS * 2, count // 10), tokens)()
        found = Rounds.of(
            rounds,
            {
                "one": way(ports, count, tokens[:1]),
                "tpcb": lambda: tpcb(server, CLIENTS, PGBENCH_S[size]),
                "lock": way([lock], count // 3, tokens[:1]),
                "many": way(ports, count, tokens),
                "many, one service": way(ports[:1], count, tokens),
            },
        )
    what = f"one event a request, {CLIENTS} clients, PostgreSQL, {WORKERS} services"
    one, many = (rate(found[name], "events") for name in ("one", "many"))
    yield Row(f"{what}, one facility", one, f"pgbench tpcb-like {found['tpcb']:,.0f} tps",
              found.ratios("one", "tpcb"), at_least(1))  # fmt: skip
    yield Row(f"{what}, one facility", one, f"a row lock a request {rate(found['lock'], 'events')}",
              found.ratios("one", "lock"), at_least(4))  # fmt: skip
    alone = rate(found["many, one service"], "events")
    yield Row(f"{what}, {FACILITIES} facilities", many, f"one service {alone}",
              found.ratios("many", "many, one service"), at_least(1.5))  # fmt: skip
