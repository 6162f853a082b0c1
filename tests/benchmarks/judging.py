"""A history and a sensor trace judged, beside reading them alone; processor time."""

import json
from datetime import date
from functools import partial

import numpy as np

from service.custody.events import EVENT
from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.steam import saturation_kpa
from service.treatment.trace import read_trace
from service.treatment.verdict import judge
from tests.benchmarks.due import on_the_road, recompute
from tests.benchmarks.frame import Curve, Rounds, Row, Size, Told, cpu_s, seconds

READINGS = {"tiny": (100, 200), "quick": (1_000, 10_000), "full": (1_000, 10_000, 100_000)}
STORIES = {"tiny": 2, "quick": 100, "full": 1_000}
DAY = date(2026, 7, 1)


def measure(size: Size, rounds: int) -> Told:
    """Compare; then judge longer traces."""
    story, repeats = on_the_road(), STORIES[size]
    told = [entry.event.model_dump_json() for entry in story.entries]
    found = Rounds.of(
        rounds,
        {
            "judging": lambda: cpu_s(lambda: [recompute(story) for _ in range(repeats)]),
            "reading": lambda: cpu_s(
                lambda: [EVENT.validate_python(json.loads(t)) for _ in range(repeats) for t in told]
            ),
        },
    )
    yield Row("a container of 5 events folded, judged and its deadline found",
              seconds(found["judging"] / repeats),
              f"its events parsed and validated {seconds(found['reading'] / repeats)}",
              found.ratios("judging", "reading"))  # fmt: skip
    lines = []
    for readings in READINGS[size]:
        text = file_text(readings)
        ways = {"judged": partial(_judged, text), "read": partial(_read, text)}
        found = Rounds.of(rounds, ways)
        lines.append([f"{readings:,}", seconds(found["judged"]), seconds(found["read"])])
    yield Row(f"a trace of {readings:,} readings judged", seconds(found["judged"]),
              f"the same read alone {seconds(found['read'])}",
              found.ratios("judged", "read"))  # fmt: skip
    yield Curve("a trace of more readings", ("readings", "judged", "read"), lines)


def file_text(readings: int) -> str:
    """A gravity cycle of 100 min with two probes, noisy as loggers are."""
    noise = np.random.default_rng(7).normal(0, 0.05, readings)
    time_s = np.linspace(0, 6_000, readings)
    celsius = np.interp(time_s, [0, 700, 5000, 6000], [25, 122, 122, 50]) + noise
    kpa = np.maximum(101.3, saturation_kpa(celsius))
    rows = zip(time_s.tolist(), celsius.tolist(), kpa.tolist(), strict=True)
    header = "time_s,temperature_drain_c,temperature_load_c,pressure_kpa"
    return "\n".join([header, *(f"{s:.2f},{c:.2f},{c - 0.1:.2f},{p:.1f}" for s, c, p in rows)])


def _judged(text: str) -> float:
    trace, regime = read_trace(text), assemble("india-2016")
    return cpu_s(lambda: judge(trace, Machine.GRAVITY, regime, DAY))


def _read(text: str) -> float:
    return cpu_s(lambda: read_trace(text))
