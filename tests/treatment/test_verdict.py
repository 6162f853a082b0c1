"""Pass, fail or cannot be judged: each condition with its boundary, and what it cites."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from service.regimes.load import assemble
from service.treatment.machines import Machine
from service.treatment.reasons import MissingRowError, Verdict
from service.treatment.sterilisation import Reference
from service.treatment.verdict import Judgement, Told, judge_text
from tests.house import house
from tests.treatment.traces import cycle, invented, text_of

DAY = date(2026, 7, 1)
INDIA = assemble("india-2016")


def judged(
    text: str, machine: Machine = Machine.GRAVITY, regime: object = INDIA, told: Told | None = None
) -> Judgement:
    """A judgement by the rows of the day."""
    return judge_text(text, machine, regime, told or Told(), today=DAY)  # type: ignore[arg-type]


def rules(found: Judgement, met: bool | None) -> set[str]:
    """The rules of the reasons that were met, not met or not shown."""
    return {reason.rule for reason in found.reasons if reason.met is met}


def remarks(found: Judgement) -> set[str]:
    """The rules of the remarks, but for the day."""
    return {remark.rule for remark in found.remarks} - {"trace.day"}


def test_a_pass_cites_its_row() -> None:
    """The one window that was met, with its figure, clause, text and how that was checked."""
    found = judged(cycle())
    (reason,) = found.reasons
    assert found.verdict is Verdict.PASS
    assert (reason.met, reason.asked, reason.unit) == (True, 60, "min")
    assert reason.figure == pytest.approx(61, abs=0.2)
    assert reason.clause == "Schedule II, autoclave"
    assert reason.source.startswith("Bio-Medical Waste")
    assert reason.verified == "read"
    assert [window.met for window in found.windows] == [True, False, False]


@pytest.mark.parametrize(("minutes", "verdict"), [(60, Verdict.PASS), (59.5, Verdict.FAIL)])
def test_sixty_minutes_to_the_second(minutes: float, verdict: Verdict) -> None:
    """Exactly sixty minutes at exactly 121 °C pass; half a minute less does not."""
    corners = [(0, 25), (10, 118), (10.5, 121), (10.5 + minutes, 121), (11 + minutes, 100)]
    assert judged(text_of(corners)).verdict is verdict


def test_what_was_short_is_said_with_its_figure() -> None:
    """The nearest window's reasons, cut and never rounded up to the figure that was asked."""
    corners = [(0, 25), (10, 118), (10.5, 121), (70.495, 121), (71, 100)]
    found = judged(text_of(corners, step_s=0.3))
    said = next(r.said for r in found.reasons if r.rule == "window.temperature")
    assert "for 59.99 min unbroken" in said


def test_temperature_pressure_and_time_together() -> None:
    """Each for long enough, but not at the same time."""
    head, *lines = text_of([(0, 25), (10, 121.8), (80, 121.8), (90, 60)]).splitlines()
    moved = [line.split(",") for line in lines]
    early = [row[2] for row in moved[25:]] + ["101.3"] * 25
    rows = zip(range(len(moved)), moved, early, strict=True)
    text = "\n".join([head, *(f"{s},{float(c) + n % 2 / 100},{p}" for n, (s, c, _), p in rows)])
    found = judged(text)
    assert found.verdict is Verdict.FAIL
    assert "window.together" in rules(found, False)


def test_a_gauge_at_a_high_place() -> None:
    """15 psi above the air: at 85 kPa outside that is less absolute, and 121 °C is still asked."""
    assert judged(cycle(), told=Told(ambient_kpa=85.0)).verdict is Verdict.PASS
    assert "window.pressure" in rules(judged(cycle(celsius=119)), False)
    cold = judged(cycle(celsius=119), told=Told(ambient_kpa=85.0))
    assert rules(cold, False) == {"window.temperature"}, "119 °C is over 15 psi gauge up there"


def test_a_gap_counts_for_nothing() -> None:
    """Met only with the gap: cannot be judged; not even with it: fail; F0 is less by its part."""
    whole = cycle(61).splitlines()
    holed = "\n".join(whole[:60] + whole[72:])
    found = judged(holed)
    assert found.verdict is Verdict.CANNOT_BE_JUDGED
    assert rules(found, None) == {"window.gap"}
    assert "trace.gaps" in remarks(found)
    short = cycle(50).splitlines()
    assert judged("\n".join(short[:60] + short[72:])).verdict is Verdict.FAIL
    full, less = judged(cycle(61)).lethality, found.lethality
    assert full
    assert less
    minutes = 13 * 0.5
    assert full.worst_min - less.worst_min == pytest.approx(minutes * 10**0.04, rel=1e-3)


@pytest.mark.parametrize(("step_s", "verdict"), [(120, "pass"), (121, "cannot_be_judged")])
def test_how_long_a_straight_line_may_be(step_s: float, verdict: str) -> None:
    """Two minutes between readings are a line; longer is a gap, all of them."""
    corners = [(0, 25), (12, 121.8), (80, 121.8), (90, 60)]
    assert judged(text_of(corners, step_s=step_s)).verdict == verdict


def test_ten_times_the_usual_interval_is_a_gap() -> None:
    """A logger that writes each second and leaves eleven out has a gap."""
    lines = text_of([(0, 25), (12, 121.8), (73, 121.8), (80, 60)], step_s=1).splitlines()
    assert judged("\n".join(lines[:2000] + lines[2009:])).verdict is Verdict.PASS
    assert judged("\n".join(lines[:2000] + lines[2010:])).verdict is Verdict.CANNOT_BE_JUDGED


def test_f0_is_told_with_its_reference_and_decides_nothing() -> None:
    """134 °C for 18 min: F0 over 350 min; the text asks for a window, and it is not met."""
    found = judged(text_of([(0, 25), (12, 134.2), (30, 134.2), (36, 60)]))
    assert found.verdict is Verdict.FAIL
    assert found.lethality
    assert found.lethality.worst_min > 350
    assert found.lethality.reference == Reference("F0", 121.1, 10, 1.5)
    assert found.lethality.log_reduction == pytest.approx(found.lethality.worst_min / 1.5)


def test_the_worst_probe_counts() -> None:
    """F of each probe is told, the least is the cycle's."""
    lines = cycle().splitlines()
    cold = "\n".join(
        ["time_s,temperature_drain_c,temperature_load_c,pressure_kpa"]
        + [f"{s},{c},{float(c) - 1:.4f},{p}" for s, c, p in (line.split(",") for line in lines[1:])]
    )
    found = judged(cold)
    assert found.verdict is Verdict.FAIL
    assert found.lethality
    assert found.lethality.worst_min == found.lethality.by_probe_min["load"]
    ratio = found.lethality.by_probe_min["drain"] / found.lethality.by_probe_min["load"]
    assert ratio == pytest.approx(10**0.1)


@pytest.mark.parametrize(("off_kpa", "air"), [(12.0, False), (15.0, True)])
def test_air_left_in(off_kpa: float, air: bool) -> None:
    """At 121.5 °C 13.3 kPa too many are 2 K: within it is steam, beyond it air was left in."""
    found = judged(text_of([(0, 25), (12, 121.5), (75, 121.5), (80, 60)], off_kpa=off_kpa))
    assert ("steam.air_left_in" in rules(found, False)) is air
    assert found.verdict is (Verdict.FAIL if air else Verdict.PASS)


def test_air_for_less_than_a_minute_is_not_held_against_it() -> None:
    """A lag of the probe at the start of exposure is no air."""
    lines = cycle().splitlines()
    for number in (26, 27):
        s, c, p = lines[number].split(",")
        lines[number] = f"{s},{c},{float(p) + 20:.3f}"
    assert judged("\n".join(lines)).verdict is Verdict.PASS


def test_superheated_steam_is_told() -> None:
    """Hotter than its pressure: a remark, for a gauge may be off."""
    found = judged(text_of([(0, 25), (12, 124), (75, 124), (80, 60)], off_kpa=-16))
    assert (found.verdict, remarks(found)) == (Verdict.PASS, {"steam.superheated"})


@pytest.mark.parametrize(
    ("told", "verdict", "rule"),
    [
        (Told(load_wet=True), Verdict.FAIL, "load.wet"),
        (Told(load_wet=False), Verdict.PASS, None),
        (Told(indicator_turned=False), Verdict.FAIL, "indicator"),
        (Told(indicator_turned=True), Verdict.PASS, None),
    ],
)
def test_what_people_saw(told: Told, verdict: Verdict, rule: str | None) -> None:
    """A wet load or an indicator that did not turn unmakes the best trace."""
    found = judged(cycle(), told=told)
    assert found.verdict is verdict
    assert rules(found, False) == ({rule} if rule else set())


def test_a_condition_not_met_outweighs_one_not_shown() -> None:
    """Wet, and without a pressure: it fails, though the window could not be judged."""
    lines = [line.rpartition(",")[0] for line in cycle().splitlines()]
    assert judged("\n".join(lines)).verdict is Verdict.CANNOT_BE_JUDGED
    assert judged("\n".join(lines), told=Told(load_wet=True)).verdict is Verdict.FAIL


def test_a_kind_that_is_not_told_is_judged_as_gravity() -> None:
    """And the result says so."""
    found = judged(cycle(), Machine.AUTOCLAVE)
    assert (found.verdict, remarks(found)) == (Verdict.PASS, {"machine.kind"})


def test_the_rows_are_those_of_the_day() -> None:
    """Before the Rules of 2016 there is no window; the trace's own clock chooses the day."""
    early = judge_text(cycle(), Machine.GRAVITY, INDIA, today=DAY, on=date(2016, 3, 27))
    assert early.verdict is Verdict.CANNOT_BE_JUDGED
    lines = cycle().splitlines()
    head = lines[0].replace("time_s", "time")
    clock = [
        f"2016-03-27T{22 + int(float(s)) // 3600:02}:{int(float(s)) // 60 % 60:02}:"
        f"{int(float(s)) % 60:02}Z,{c},{p}"
        for s, c, p in (line.split(",") for line in lines[1:])
    ]
    text = "\n".join([head, *clock])
    assert judged(text).day == date(2016, 3, 27)
    assert judged(text, told=Told(zone=ZoneInfo("Asia/Kolkata"))).day == date(2016, 3, 28)


@pytest.mark.parametrize(
    ("started", "said"),
    [
        ("2026-07-01T09:16:00+00:00", None),
        ("2026-07-01T09:45:00+00:00", None),
        ("2026-07-01T09:46:00+00:00", "another cycle"),
        ("2026-07-01T04:00:00+00:00", "a wrong zone, by +5.5 h"),
        ("2026-07-01T09:30:00+05:30", "a wrong zone, by +5.5 h"),
        ("2026-06-28T09:30:00+00:00", "another cycle"),
    ],
)
def test_a_trace_of_another_time(started: str, said: str | None) -> None:
    """A quarter of an hour apart is the cycle; whole or half hours are a zone; else another's."""
    lines = cycle().splitlines()
    rows = [line.split(",") for line in lines[1:]]
    clock = [
        f"2026-07-01T{9 + (30 + int(float(s)) // 60) // 60:02}:{(30 + int(float(s)) // 60) % 60:02}"
        f":{int(float(s)) % 60:02}Z,{c},{p}"
        for s, c, p in rows
    ]
    text = "\n".join(["time,temperature_c,pressure_kpa", *clock])
    found = judged(text, told=Told(started=datetime.fromisoformat(started)))
    assert (found.verdict is Verdict.PASS) is (said is None)
    assert said is None or said in found.reasons[0].said


def test_windows_in_other_units_and_with_a_ceiling() -> None:
    """kPa above the air, a highest temperature, microwaves: as an invented text has them."""
    band = {
        "step": "autoclave",
        "temperature_c_min": "134",
        "temperature_c_max": "137",
        "pressure_kpa_min": "200",
        "minutes_min": "3",
    }
    regime = invented(band, {"step": "microwave", "temperature_c_min": "97", "minutes_min": "30"})
    hot = [(0, 25), (9, 130), (9.5, 135), (13, 135), (14, 120)]
    assert judged(text_of(hot), regime=regime).verdict is Verdict.PASS
    too_hot = [(0, 25), (9, 130), (9.5, 138), (13, 138), (14, 120)]
    assert judged(text_of(too_hot), regime=regime).verdict is Verdict.FAIL
    wave = "time_s,temperature_c\n" + "".join(
        f"{60 * m},{min(25 + 8 * m, 98)}\n" for m in range(45)
    )
    assert judged(wave, Machine.MICROWAVE, regime).verdict is Verdict.PASS
    assert judged(wave, Machine.MICROWAVE, regime).lethality is None


def test_no_window_of_the_text_lies_below_its_own_floor() -> None:
    """Schedule II: never under 121 °C, 15 psi or 30 min, whatever the program."""
    floor = {row.id: row.value for row in INDIA.limit if row.id.startswith("autoclave-floor-")}
    rows = [row for row in INDIA.window if row.step == "autoclave"]
    assert rows
    for row in rows:
        assert row.temperature_c_min is not None
        assert row.pressure_psi_min is not None
        assert row.minutes_min is not None
        assert row.temperature_c_min >= floor["autoclave-floor-temperature"]
        assert row.pressure_psi_min >= floor["autoclave-floor-pressure"]
        assert row.minutes_min >= floor["autoclave-floor-minutes"]


def test_a_regime_without_good_practice_is_told() -> None:
    """Without the limits on gaps a trace is not judged by a guess."""
    with pytest.raises(MissingRowError, match="must add good-practice"):
        judged(cycle(), regime=house())


def test_a_file_that_cannot_be_read_cannot_be_judged() -> None:
    """Its problems are the reasons; there are no figures."""
    found = judged("time_s,temperature_c,pressure_kpa\n0,Err,101\n1,2,3\n")
    assert (found.verdict, found.lethality, found.windows) == (Verdict.CANNOT_BE_JUDGED, None, ())
    assert "line 2" in found.reasons[0].said
