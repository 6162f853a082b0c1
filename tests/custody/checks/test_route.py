"""Routes as violations: clause, severity, opening and closing."""

from datetime import timedelta

import pytest

from service.custody.words import Severity
from tests.house import rules
from tests.trade import at, bag, sharps_box

T0, HOUR = at("2026-07-06 10:00"), timedelta(hours=1)
HOUSE = rules()


def test_a_denied_step_cites_the_denial() -> None:
    """Fire after chlorine: unsafe, under the clause that denies it, shown by the act."""
    story = bag().sealed(T0).treated(T0 + HOUR, "hypochlorite").treated(T0 + 2 * HOUR, "incinerate")
    denied = story.only("route.forbidden", HOUSE)
    assert denied.opened_at == T0 + 2 * HOUR
    assert denied.severity is Severity.UNSAFE
    assert denied.clause == "no chlorine in the fire (House text)"
    assert denied.evidence == (story.last("treated").id,)
    assert "chlorine" in denied.message


def test_a_denial_that_the_text_holds_for_less_grave_is_shown_so() -> None:
    """The row's own severity is kept."""
    story = bag("plastics").sealed(T0).disposed(T0 + HOUR, "landfill")
    assert story.only("route.forbidden", HOUSE).severity is Severity.WRONG


def test_leaving_untreated_may_be_the_denied_act() -> None:
    """Laboratory waste leaves only once autoclaved."""
    story = bag("laboratory").sealed(T0).dispatched(T0 + HOUR)
    assert "leaving the site" in story.only("route.forbidden", HOUSE).message
    treated = bag("laboratory").sealed(T0).treated(T0 + HOUR, "autoclave").dispatched(T0 + 2 * HOUR)
    assert not treated.every("route.forbidden", HOUSE)


def test_a_step_on_no_route_is_not_permitted() -> None:
    """It is not listed; that is not the same as denied."""
    story = bag("plastics").sealed(T0).treated(T0 + HOUR, "plasma")
    found = story.only("route.not_permitted", HOUSE)
    assert (found.opened_at, found.severity) == (T0 + HOUR, Severity.WRONG)
    assert found.clause == "plastics (House text)"


def test_a_category_without_routes_is_not_judged_by_any() -> None:
    """Where the text lists no route there is none to leave."""
    story = bag("plain").sealed(T0).treated(T0 + HOUR, "plasma").disposed(T0 + 2 * HOUR, "landfill")
    assert not [c for c in story.codes(HOUSE) if c.startswith("route.")]


def test_shredding_before_disinfection_is_out_of_order_and_counts_as_done() -> None:
    """What is missing is the disinfection only."""
    story = sharps_box().sealed(T0).treated(T0 + HOUR, "shred")
    assert story.only("route.out_of_order", HOUSE).opened_at == T0 + HOUR
    story.treated(T0 + 2 * HOUR, "autoclave").disposed(T0 + 3 * HOUR, "sharps_pit")
    assert [c for c in story.codes(HOUSE) if c.startswith("route.")] == ["route.out_of_order"]


def test_disposal_before_the_end_of_the_route_is_incomplete() -> None:
    """It says what was done and where it went; only a notice closes it."""
    story = bag("plastics").sealed(T0).treated(T0 + HOUR, "autoclave")
    story.disposed(T0 + 2 * HOUR, "recycler")
    found = story.only("route.incomplete", HOUSE)
    assert (found.opened_at, found.closed_at) == (T0 + 2 * HOUR, None)
    assert "went to recycler after autoclave" in found.message
    story.notified(T0 + 5 * HOUR, "other")
    assert story.only("route.incomplete", HOUSE).closed_at is None
    story.notified(T0 + 6 * HOUR, "route")
    assert story.only("route.incomplete", HOUSE).closed_at == T0 + 6 * HOUR


def test_incomplete_is_raised_beside_not_permitted() -> None:
    """Untreated plastics in the sewer are both."""
    story = bag("plastics").sealed(T0).disposed(T0 + HOUR, "sewer")
    assert {"route.incomplete", "route.not_permitted"} <= set(story.codes(HOUSE))


@pytest.mark.parametrize("step", ["plasma", "shred"])
def test_a_route_violation_closes_at_disposal(step: str) -> None:
    """From then on it matters to nobody's hands."""
    story = bag("plastics").sealed(T0).treated(T0 + HOUR, step)
    story.disposed(T0 + 5 * HOUR, "recycler")
    found = [v for v in story.judged(HOUSE) if v.code.startswith("route.")]
    assert found[0].opened_at == T0 + HOUR
    assert found[0].closed_at == T0 + 5 * HOUR


def test_what_is_wrong_at_disposal_itself_closes_when_the_authority_was_told() -> None:
    """Never else."""
    story = bag("plastics").sealed(T0).disposed(T0 + HOUR, "landfill")
    assert story.only("route.forbidden", HOUSE).closed_at is None
    story.notified(T0 + 2 * HOUR, "route")
    assert story.only("route.forbidden", HOUSE).closed_at == T0 + 2 * HOUR


def test_a_site_fact_opens_a_route_and_lifts_a_denial() -> None:
    """Burial is for remote sites only."""
    story = bag().sealed(T0).disposed(T0 + HOUR, "deep_burial")
    assert "route.forbidden" in story.codes(HOUSE)
    assert not [c for c in story.codes(rules({"facts": ["remote"]})) if c.startswith("route.")]


def test_a_step_that_was_voided_was_not_done() -> None:
    """The failed cycle's step is struck out: the waste is untreated and its route unfinished."""
    story = bag("plastics").sealed(T0).treated(T0 + HOUR, "autoclave").voided(T0 + HOUR, "treated")
    story.treated(T0 + 2 * HOUR, "shred")
    assert story.only("route.out_of_order", HOUSE).opened_at == T0 + 2 * HOUR
