"""Whatever the readings, a verdict comes: no error, no warning, and never a pass by a gap."""

from datetime import date

from hypothesis import given, settings
from hypothesis import strategies as st

from service.regimes.load import assemble, available
from service.treatment.machines import Machine
from service.treatment.reasons import Verdict
from service.treatment.verdict import Told, judge_text

DAY = date(2026, 7, 1)
REGIMES = {name: assemble(name) for name in available()}

wild = st.one_of(
    st.sampled_from(["121", "121.0", "205", "20", "0", "-273.15", "1e308", "-1e308", "1e-300", ""]),
    st.floats(-50, 2000).map(lambda value: f"{value:.2f}"),
)
steps = st.sampled_from([0, 0.001, 1, 30, 60, 120, 3600, 1e9])


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(steps, wild, wild, wild), min_size=1, max_size=30),
    st.sampled_from(Machine),
    st.sampled_from(sorted(REGIMES)),
    st.sampled_from([None, 0.0, 2.0]),
)
def test_any_trace_is_judged(
    rows: list[tuple[float, str, str, str]], machine: Machine, regime: str, residence: float | None
) -> None:
    """Wild readings of every machine by every regime."""
    time_s, lines = 0.0, ["time_s,temperature_primary_c,temperature_secondary_c,pressure_kpa"]
    for step, one, other, kpa in rows:
        time_s += step
        lines.append(f"{time_s},{one},{other},{kpa}")
    told = Told(residence_s=residence)
    found = judge_text("\n".join(lines), machine, REGIMES[regime], told, today=DAY)
    assert found.reasons
    assert (found.verdict is Verdict.PASS) == all(reason.met for reason in found.reasons)


pieces_of_one_kind = st.tuples(
    st.integers(1, 50),
    st.sampled_from([(60, 121.5), (120, 121.9), (60, 120.9), (400, 121.6)]),
)


@given(st.lists(pieces_of_one_kind, max_size=8))
def test_a_pass_rests_on_an_unbroken_hour(runs: list[tuple[int, tuple[int, float]]]) -> None:
    """Reckoned reading by reading: a pass has 60 min of short pieces at 121 °C or above."""
    pieces = [piece for count, piece in runs for _ in range(count)]
    time_s, run_s, best_s, before = 0, 0.0, 0.0, 20.0
    lines = ["time_s,temperature_c,pressure_kpa", "0,20,101.3"]
    for step, celsius in pieces:
        time_s += step
        inside = step <= 120 and celsius >= 121 and before >= 121
        run_s = run_s + step if inside else 0.0
        best_s, before = max(best_s, run_s), celsius
        lines.append(f"{time_s},{celsius},{212 if celsius >= 121 else 200}")
    found = judge_text("\n".join(lines), Machine.GRAVITY, REGIMES["india-2016"], today=DAY)
    if found.verdict is Verdict.PASS:
        assert best_s + 2 * 120 > 3600, "at most the parts of two pieces more"
    if best_s >= 3600:
        assert found.verdict is Verdict.PASS
