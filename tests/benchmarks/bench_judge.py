"""A trace of 100,000 readings judged, beside reading the same file alone; CPU time.

Run it as ``python -m tests.benchmarks.bench_judge``; prints, asserts nothing.
"""

import time
from collections.abc import Callable
from datetime import date
from statistics import median

import numpy as np

from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.steam import saturation_kpa
from service.treatment.trace import read_trace
from service.treatment.verdict import judge

READINGS, ROUNDS, SEED = 100_000, 15, 7
DAY = date(2026, 7, 1)


def file_text() -> str:
    """A gravity cycle of 100 min with two probes, noisy as loggers are."""
    noise = np.random.default_rng(SEED).normal(0, 0.05, READINGS)
    time_s = np.arange(READINGS) * 0.06
    celsius = np.interp(time_s, [0, 700, 5000, 6000], [25, 122, 122, 50]) + noise
    kpa = np.maximum(101.3, saturation_kpa(celsius))
    rows = zip(time_s.tolist(), celsius.tolist(), kpa.tolist(), strict=True)
    header = "time_s,temperature_drain_c,temperature_load_c,pressure_kpa"
    return "\n".join([header, *(f"{s:.2f},{c:.2f},{c - 0.1:.2f},{p:.1f}" for s, c, p in rows)])


def cpu_ms(what: Callable[[], object]) -> float:
    """The median CPU time of one call, in milliseconds."""
    taken = []
    for _ in range(ROUNDS):
        start = time.process_time()
        what()
        taken.append(time.process_time() - start)
    return 1e3 * median(taken)


def main() -> None:
    """Read, judge, print."""
    text, regime = file_text(), assemble("india-2016")
    trace = read_trace(text)
    print(f"verdict: {judge(trace, Machine.GRAVITY, regime, DAY).verdict}")  # noqa: T201
    reading = cpu_ms(lambda: read_trace(text))

    def judging() -> None:
        vars(trace).pop("coldest_c", None)  # what the first judgement kept
        vars(trace).pop("hottest_c", None)
        judge(trace, Machine.GRAVITY, regime, DAY)

    judged = cpu_ms(judging)
    splitting = cpu_ms(lambda: [line.split(",") for line in text.splitlines()])
    print(f"{READINGS:,} readings of 4 columns read: {reading:.0f} ms")  # noqa: T201
    print(f"judged: {judged:.1f} ms, {judged / reading:.2f} of reading it")  # noqa: T201
    print(f"bare split of the text into cells: {splitting:.0f} ms")  # noqa: T201


if __name__ == "__main__":
    main()
