"""The quarter's figures: what belongs to it, what adds up, and what stood at its end."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.custody.events import Registered
from service.custody.words import Severity
from service.manifests.consignments import beyond
from service.manifests.quarter import Quarter
from service.manifests.tally import Amount
from tests.house import hospital
from tests.manifests.quarters import LATER, Q3, invented, reckoned, told
from tests.trade import Story, at, bag

MICROSECOND = timedelta.resolution


def test_totals_are_the_plain_sum_of_what_was_sealed() -> None:
    """Generation counts what was sealed in the quarter, as corrected, in whole grams."""
    f = reckoned()
    assert f.made == Amount(containers=4, grams=3420 + 1100 + 2000, unweighed=1)
    assert {s.id: a.grams for s, a in f.by_category.items()} == {
        "plastics": 2000,
        "sharps": 0,
        "soiled": 4520,
    }
    assert {u: a.containers for u, a in f.by_unit.items()} == {"theatre": 1, "ward-3": 3}


def test_what_was_held_and_sealed_less_what_went_is_what_is_held() -> None:
    """The balance closes, a container nobody registered among it."""
    b = reckoned().balance
    assert b.held_before == Amount(1, 3420)
    assert b.unregistered == Amount(1, 0, 1)
    assert b.disposed == Amount(2, 6840)
    assert b.held_after == Amount(4, 3100, 2)
    assert b.held_before + b.sealed + b.unregistered == b.disposed + b.held_after


def test_one_quarter_ends_with_what_the_next_begins_with() -> None:
    """Held at the end of June's quarter is held at the start of September's, and so on."""
    q2, q3, q4 = (reckoned(quarter=Quarter(2026, n)).balance for n in (2, 3, 4))
    assert (q2.held_after, q3.held_after) == (q3.held_before, q4.held_before)


def test_routes_and_steps_are_those_taken_in_the_quarter() -> None:
    """A container brought forward counts as disposed of by its own time; so does its treatment."""
    f = reckoned()
    ((route, gone),) = f.routes.items()
    assert (route[0].id, route[1], route[2].value) == ("soiled", "incinerate", "ash_landfill")
    assert gone == Amount(2, 6840)
    assert {s.value: (a.containers, n) for s, (a, n) in f.steps.items()} == {
        "autoclave": (1, 1),
        "incinerate": (2, 1),
    }
    assert (f.acts["registered"], f.acts["disposed"], f.acts["received"]) == (4, 2, 2)


def test_a_consignment_says_what_scales_cannot_explain() -> None:
    """C-1 arrived with a kilogram less in one bag: both scales' errors explain 220 g of it.

    OIML R 76-1 table 6 by hand: class III, e 10 g, 342 e gives 5 g; class IIII, e 100 g, 35 e
    gives 50 g; twice that in service, for two bags: 220 g.
    """
    stories = told()
    short = stories[0].amended("2026-07-03 09:00", "weighed", weight_g=2460)
    assert short.container == "WELL"
    first, second = reckoned(stories).consignments
    assert (first.id, first.sent, first.received, first.missing) == ("C-1", 2, 2, 0)
    assert (first.sent_g, first.received_g, first.difference_g) == (6920, 5920, -1000)
    assert (first.tolerance_g, first.unexplained_g, first.singly_g) == (220, -780, 890)
    assert (second.id, second.missing, second.missing_g) == ("C-9", 1, 2040)
    assert (second.difference_g, second.one_end_g, second.unexplained_g) == (-2040, 0, 0)


@pytest.mark.parametrize(
    ("difference_g", "left_g"), [(220, 0), (-220, 0), (221, 1), (-221, -1), (0, 0)]
)
def test_at_the_scales_error_nothing_is_unexplained(difference_g: int, left_g: int) -> None:
    """The limit itself is allowed, one gram more is not."""
    assert beyond(difference_g, 220) == left_g


def test_open_containers_stand_as_at_the_quarters_end() -> None:
    """What happened in October does not move a container of September."""
    held = {c.container: c for c in reckoned().open}
    assert set(held) == {"LATE", "MISSING", "SPILLED", "ASTRAY"}
    assert (held["SPILLED"].state, held["SPILLED"].custodian) == ("collected", "handlers")
    assert (held["LATE"].place, held["LATE"].due_at) == ("yard-store", at("2026-08-03 08:00"))


def test_violations_brought_forward_and_opened_less_closed_are_standing() -> None:
    """Each rule's count closes, and each violation names its clause and its events."""
    f = reckoned()
    standing = {c.code.value: (c.brought_forward, c.opened, c.closed, c.standing) for c in f.counts}
    assert standing == {
        "holding.near": (0, 1, 1, 0),
        "holding.exceeded": (0, 1, 0, 1),
        "custody.gap": (0, 1, 0, 1),
        "custody.overdue": (0, 1, 0, 1),
        "custody.missing": (0, 1, 0, 1),
    }
    exceeded = next(x for x in f.violations if x.violation.code == "holding.exceeded")
    assert exceeded.violation.clause == "limit (House text)"
    assert exceeded.violation.notified_at is not None
    assert exceeded.ground == "house policy or common practice"
    assert exceeded.violation.evidence


def test_a_rule_whose_violations_differ_in_severity_is_counted_once_for_each() -> None:
    """Plastics to landfill are wrong, chlorine in the fire unsafe: one rule, one number."""
    plastics = bag("plastics", "P").sealed("2026-08-01 08:00")
    plastics.disposed("2026-08-01 20:00", outlet="landfill")
    soiled = bag("soiled", "S").sealed("2026-08-01 08:00")
    soiled.treated("2026-08-01 12:00", "hypochlorite").treated("2026-08-01 14:00", "incinerate")
    f = reckoned([plastics, soiled])
    forbidden = [c for c in f.counts if c.code == "route.forbidden"]
    assert [(c.severity, c.opened) for c in forbidden] == [("wrong", 1), ("unsafe", 1)]
    assert len({c.number for c in forbidden}) == 1
    for severity in Severity:
        lines = [x for x in f.violations if x.violation.severity is severity]
        assert sum(c.opened for c in f.counts if c.severity is severity) == len(lines)


def test_a_violation_of_the_last_quarter_is_brought_forward_while_it_stands() -> None:
    """The late bag of August is late in October as well, and is not opened twice."""
    f = reckoned(quarter=Quarter(2026, 4))
    count = next(c for c in f.counts if c.code == "holding.exceeded")
    assert (count.brought_forward, count.opened, count.standing) == (1, 0, 1)


def test_amendments_and_incidents_are_told() -> None:
    """Who corrected what and why; who was exposed; who was told."""
    stories = told()
    f = reckoned(stories)
    (correction,) = f.amendments
    assert (correction.reason, correction.correction) == ("slip of the pen", "registered")
    assert correction.supersedes == str(stories[2].entries[0].event.id)
    notice, spill = f.incidents
    assert (notice.kind, notice.reference, spill.people_exposed) == ("notice: holding", "N-7", 2)


def test_a_later_amendment_of_what_is_listed_is_told_and_another_is_not() -> None:
    """A slip of August put right in October stands in the third quarter's manifest too."""
    late, other = told()[2], bag(container="OTHER").sealed("2026-10-05 08:00", weight_g=1)
    late.amended("2026-10-06 08:00", "collected", note="by the back door")
    other.amended("2026-10-06 09:00", "registered", weight_g=2)
    f = reckoned([late, other])
    assert [a.containers for a in f.amendments] == [("LATE",), ("LATE",)]


def test_a_spill_that_was_struck_out_did_not_happen() -> None:
    """Incidents hold as amended."""
    spilled = told()[5].voided("2026-09-30 12:00", "spilled")
    assert [i.kind for i in reckoned([spilled]).incidents] == []


def test_returns_and_retention_are_named() -> None:
    """The return is due a month after the quarter, its records are kept three years."""
    f = reckoned()
    assert [str(r.due_on) for r in f.returns] == ["2026-10-31"]
    assert [str(until) for _, until in f.keep] == ["2029-09-30"]


@pytest.mark.parametrize("zone", ["Asia/Kolkata", "America/New_York", "Europe/London"])
def test_a_bag_belongs_to_the_quarter_of_its_local_time(zone: str) -> None:
    """23:59:59 on 30 September is the third quarter's, 00:00:00 on 1 October the fourth's."""
    here = ZoneInfo(zone)
    last = at("2026-09-30 23:59:59").replace(tzinfo=here)
    stories = [
        bag(container="THIRD").sealed(last, weight_g=300),
        bag(container="FOURTH").sealed(last + timedelta(seconds=1), weight_g=400),
    ]
    rules = invented(time_zone=zone)
    grams = [
        reckoned(stories, rules, Quarter(2026, n), last + timedelta(days=9)).made.grams
        for n in (3, 4)
    ]
    assert grams == [300, 400]


def test_before_its_end_a_quarter_is_not_finished_and_nothing_later_counts() -> None:
    """On 1 August the bag of that morning is held, and is not late yet."""
    f = reckoned(now=at("2026-08-01 12:00"))
    assert not f.finished
    assert [c.container for c in f.open] == ["LATE"]
    assert f.counts == ()
    assert reckoned(now=at("2026-10-01 00:00")).finished
    assert not reckoned(now=at("2026-10-01 00:00") - MICROSECOND).finished


def test_what_happens_at_the_very_moment_counts() -> None:
    """``now`` itself is known; the microsecond after is not."""
    story = [bag().sealed("2026-08-01 08:00", weight_g=5)]
    assert reckoned(story, now=at("2026-08-01 08:00")).made.containers == 1
    assert reckoned(story, now=at("2026-08-01 08:00") - MICROSECOND).made.containers == 0


def test_an_empty_quarter_has_figures() -> None:
    """A quarter before anything happened adds up to nothing, without an error."""
    f = reckoned(quarter=Quarter(2025, 1))
    assert (f.made, f.lines, f.open, f.violations) == (Amount(), (), (), ())


def test_a_cart_and_an_unused_label_are_no_waste() -> None:
    """Transport containers and labels never bound to a bag have no line."""
    story = (
        bag()
        .sealed("2026-08-01 08:00")
        .packed("2026-08-01 08:30")
        .labelled("2026-08-01 07:00", "UNUSED")
    )
    stories = [Story(c, entries=story.entries) for c in ("BAG-1", "CART-1", "UNUSED")]
    assert [x.container for x in reckoned(stories).lines] == ["BAG-1"]


def test_a_container_sent_twice_is_in_both_consignments() -> None:
    """Refused at the plant and sent again: two sendings, one of them received."""
    twice = (
        bag()
        .sealed("2026-08-01 08:00", weight_g=900, scale="ward-scale")
        .dispatched("2026-08-01 09:00")
        .refused("2026-08-01 10:00")
        .dispatched("2026-08-02 09:00", consignment="C-2")
        .received("2026-08-02 10:00", consignment="C-2", weight_g=900, scale="plant-scale")
    )
    first, second = reckoned([twice]).consignments
    assert (first.refused, first.received, second.received) == (1, 0, 1)
    assert (second.sent_g, second.received_g) == (900, 900)


SEALED = st.tuples(
    st.sampled_from(["soiled", "plastics", "sharps", "unknown-to-the-regime"]),
    st.sampled_from(["ward-3", "theatre", "not-in-the-set-up"]),
    st.one_of(st.none(), st.integers(1, 9000)),
    st.integers(-5, 96),
    st.booleans(),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(SEALED, max_size=12))
def test_sums_by_category_and_by_unit_are_the_total(
    sealed: list[tuple[str, str, int | None, int, bool]],
) -> None:
    """Whatever was sealed, every way to add it up gives the same containers and grams."""
    stories = []
    for number, (category, unit, weight_g, day, gone) in enumerate(sealed):
        when = at("2026-07-01 10:00") + timedelta(days=day)
        story = Story(f"B{number}", category).sealed(when, unit=unit, weight_g=weight_g)
        stories.append(story.disposed(when + timedelta(days=3)) if gone else story)
    f = reckoned(stories, now=LATER)
    inside = [
        e.event
        for s in stories
        for e in s.entries
        if isinstance(e.event, Registered) and f.start <= e.at < f.end
    ]
    grams = sum(e.weight_g or 0 for e in inside)
    expected = Amount(len(inside), grams, sum(not e.weight_g for e in inside))
    for table in (f.by_category, f.by_unit, f.by_category_and_unit):
        assert sum(table.values(), Amount()) == expected
    b = f.balance
    assert b.held_before + b.sealed + b.unregistered == b.disposed + b.held_after
    assert sum(f.routes.values(), Amount()) == b.disposed


def test_names_come_from_the_set_up() -> None:
    """Ids are shown by the site's names; what is not in the set-up is shown as written."""
    f = reckoned(by=invented(unit=[{"id": "ward-3", "name": "Éloïse", "location": "wards"}]))
    assert (f.name("ward-3"), f.name("plant"), f.name("nobody")) == ("Éloïse", "Plant", "nobody")
    assert f.site.time_zone == hospital().time_zone
    assert f.quarter == Q3
