"""How long it takes to fold, judge and stand a container of eight events; prints, asserts nothing.

Run it as ``python -m tests.benchmarks.bench_judgement``.
"""

import time
from collections.abc import Callable
from datetime import timedelta

from service.custody.history import fold
from service.custody.rules import Rules
from service.custody.standing import stand, stand_case
from service.custody.verdict import Case
from service.custody.violations import judge, judge_case
from service.regimes.load import assemble
from tests.house import hospital
from tests.trade import CART, Story, at, bag

ROUNDS, REPEATS = 400, 5
T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)


def eight_events() -> Story:
    """An ordinary bag: sealed, double-bagged, carried in a cart, burnt, disposed of."""
    return (
        bag("yellow-c")
        .sealed(T0, weight_g=3_420, scale="ward-scale", fill_fraction="0.7", place="ward-3")
        .double_bagged(T0 + HOUR, tare_g=40, place="ward-3")
        .packed(T0 + 2 * HOUR, place="ward-3")
        .collected(T0 + 3 * HOUR, CART, place="ward-3")
        .dispatched(T0 + 10 * HOUR, CART, place="yard-store")
        .received(T0 + 12 * HOUR, weight_g=3_460, scale="plant-scale", place="plant")
        .treated(T0 + 14 * HOUR, place="plant")
        .disposed(T0 + 20 * HOUR, place="plant")
    )


def best_us(work: Callable[[], object]) -> float:
    """The best of several rounds, in microseconds a call."""
    best = float("inf")
    for _ in range(REPEATS):
        start = time.perf_counter()
        for _ in range(ROUNDS):
            work()
        best = min(best, time.perf_counter() - start)
    return best / ROUNDS * 1e6


def all_three(told: Story, text: Rules) -> None:
    """What the store does for each container that an event touches."""
    case = Case(told.history(), text)
    judge_case(case)
    stand_case(case)


def main() -> None:
    """Print microseconds a container."""
    text = Rules(assemble("india-2016"), hospital(regime="india-2016", time_zone="Asia/Kolkata"))
    story = eight_events()
    untreated = eight_events()
    untreated.entries = untreated.entries[:5]
    for name, told in (("8 events", story), ("5 events, on the road", untreated)):
        history = told.history()
        print(f"{name}: {[v.code.value for v in judge(history, text)]}")  # noqa: T201
        for what, work in (
            ("fold", lambda told=told: fold(told.container, told.entries)),
            ("judge", lambda history=history: judge(history, text)),
            ("stand", lambda history=history: stand(history, text)),
            ("all three on one case", lambda told=told: all_three(told, text)),
        ):
            print(f"  {what}: {best_us(work):.0f} us")  # noqa: T201


if __name__ == "__main__":
    main()
