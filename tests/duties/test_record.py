"""Recording: what is taken down, what is sent back and with which words, and who may write what."""

from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.custody.events import Origin
from service.custody.words import Role
from service.duties import lookup
from service.duties.access import MAY_RECORD
from service.duties.record import BATCH_MAX, Told, TooManyError, record_events
from service.store.tables import RECORD
from tests.api.client import NOON, event, ids, scanned, sealed
from tests.duties.desk import Desk
from tests.pace import tries
from tests.store.record import record, rows

[BAG, OTHER, CART] = ids(3)
WRONG = f"{BAG[:-1]}{'2' if BAG[-1] != '2' else '3'}"
"""An id with a wrong check character."""


def entry(desk: Desk) -> Any:
    """The only entry on record."""
    [(_, found)] = lookup.entries_after(desk.store, desk.caller(), 0, 10)
    return found


# --- codes


def test_a_typed_id_with_a_wrong_check_character_is_sent_back(desk: Desk) -> None:
    """The person can compare it with the label at once; nothing is recorded."""
    assert "check character" in desk.refused(sealed(WRONG))
    assert "compare the three groups" in desk.refused(event("packed", BAG, parent=WRONG))
    assert rows(desk.store, desk.facility, RECORD) == []


def test_an_id_is_read_as_people_type_it(desk: Desk) -> None:
    """Small letters, groups, O for 0: one container."""
    typed = f"{BAG[:4]} {BAG[4:8]}-{BAG[8:]}".lower().replace("0", "o")
    desk.tell(sealed(typed), event("packed", BAG, parent=f"{CART[:4]} {CART[4:]}"))
    assert desk.store.known_ids(desk.facility, [BAG, CART]) == {BAG, CART}


def test_a_genuine_label_leaves_no_mark(desk: Desk) -> None:
    """Scanned, it is the same as its id."""
    [outcome] = desk.tell(sealed(scanned(BAG)))
    assert outcome.violations == ()
    assert entry(desk).false_codes == ()
    assert entry(desk).event.containers == (BAG,)


@pytest.mark.parametrize(
    "code", [scanned(BAG, b"another key"), f"HTTPS://CUSTODY.EXAMPLE/{WRONG}/0000000"]
)
def test_a_label_that_is_not_ours_is_recorded_and_flagged(desk: Desk, code: str) -> None:
    """Whether the tag or the check character is wrong: the bag is there and must be found."""
    [outcome] = desk.tell(sealed(code))
    assert [v.code for v in outcome.violations] == ["label.not_genuine"]
    container = code.split("/")[3]
    assert entry(desk).false_codes == (container,)
    assert entry(desk).event.containers == (container,)


def test_a_false_label_is_seen_on_a_cart_an_outer_bag_and_in_an_amendment(desk: Desk) -> None:
    """Wherever a code stands in an event."""
    false = scanned(CART, b"another key")
    said = sealed(BAG)
    corrected = said | {"containers": [scanned(OTHER, b"another key")]}
    desk.tell(
        said,
        event("packed", BAG, parent=false),
        event("double_bagged", BAG, outer=false),
        event("amended", BAG, supersedes=said["id"], reason="other bag", corrected=corrected),
    )
    marks = [row.false_codes for row in record(desk.store, desk.facility)]
    assert marks == ["", CART, CART, OTHER]


# --- what is sent back


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "vanished"}, "kind is none of: labelled, registered"),
        ({"kind": None}, "kind is none of"),
        ({"occurred_at": "2026-07-01T12:00:00"}, "no time zone"),
        ({"category": "purple"}, "there is no category 'purple' here"),
        ({"unit": "attic"}, "there is no unit 'attic' here"),
        ({"containers": [BAG, OTHER]}, "exactly one container"),
        ({"containers": ["https://somewhere.example/else"]}, "not one of a container label"),
    ],
)
def test_what_cannot_stand_is_sent_back_in_words(
    desk: Desk, change: dict[str, Any], words: str
) -> None:
    """One sentence in the trade's words, with the id of the event it is about."""
    said = sealed(BAG) | change
    [outcome] = desk.send(said)
    assert outcome.outcome == "refused"
    assert words in outcome.reason
    assert str(outcome.id) == said["id"]


def test_a_time_that_has_not_come_is_sent_back_unless_the_clock_is_known_to_be_ahead(
    desk: Desk,
) -> None:
    """Five minutes are nothing; two hours are taken off where the device is two hours ahead."""
    ahead = NOON + timedelta(hours=2)
    assert "120 min in the future" in desk.refused(sealed(BAG, at=ahead))
    desk.tell(sealed(OTHER, at=NOON + timedelta(minutes=5)))
    desk.tell(sealed(BAG, at=ahead), clock_offset_s=7_200)
    view = lookup.container(desk.store, desk.caller(), BAG, NOON)
    assert view.standing.sealed_at == NOON


def test_an_amendment_cannot_bring_in_what_would_be_sent_back(desk: Desk) -> None:
    """The corrected event is looked at as any other."""
    said = sealed(BAG)
    desk.tell(said)
    for change, words in (
        ({"unit": "attic"}, "no unit 'attic'"),
        ({"weight_g": 900_000}, "more than a bag can weigh"),
        ({"occurred_at": (NOON + timedelta(hours=1)).isoformat()}, "in the future"),
        ({"containers": [WRONG]}, "check character"),
    ):
        wrong = event("amended", supersedes=said["id"], reason="slip", corrected=said | change)
        assert words in desk.refused(wrong)


def test_one_event_that_is_sent_back_does_not_stop_the_others(desk: Desk) -> None:
    """Each outcome is at the place of its event."""
    outcomes = desk.send(sealed(BAG), 5, sealed(WRONG), sealed(OTHER), sealed(BAG))
    told = ["recorded", "refused", "refused", "recorded", "recorded"]
    assert [o.outcome for o in outcomes] == told
    assert outcomes[1].id is None


def test_a_submission_holds_two_thousand_events_and_no_more(desk: Desk) -> None:
    """One too many and none is looked at; an empty one is answered with nothing."""
    with pytest.raises(TooManyError, match="2001 events in one submission; at most 2000"):
        desk.send(*[None] * (BATCH_MAX + 1))
    assert len(desk.send(*[None] * BATCH_MAX)) == BATCH_MAX
    assert desk.send() == []


def test_sources_that_do_not_match_the_events_are_an_error_of_ours(desk: Desk) -> None:
    """Events without a source must not fall off the end unseen."""
    caller = desk.caller()
    with pytest.raises(ValueError, match="shorter"):
        record_events(
            desk.store, caller, [sealed(BAG)] * 2, Told(NOON), [Origin("book.csv", 1, "ward")]
        )


junk = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(st.characters())
    | st.sampled_from([BAG, WRONG, scanned(BAG), "\ud800", "//", NOON.isoformat()]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["id", "kind", "containers", "parent", "corrected", "\ud800", "x"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)


@settings(
    deadline=None,
    derandomize=True,
    max_examples=tries(120),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(junk, st.dictionaries(st.sampled_from([*sealed(BAG), "supersedes", "outer"]), junk))
def test_no_rubbish_brings_the_service_down(desk: Desk, rubbish: Any, fields: Any) -> None:
    """Each is refused with a reason that can be written; a good event beside them stands."""
    good = sealed(OTHER)
    outcomes = desk.send(rubbish, good, sealed(BAG) | fields)
    assert outcomes[0].outcome == "refused"
    assert outcomes[1].outcome == "recorded"
    for outcome in outcomes:
        assert outcome.outcome == "recorded" or outcome.reason.encode()


# --- who may write what


@pytest.mark.parametrize("role", Role)
def test_a_role_records_its_own_kinds_of_event_and_no_others(desk: Desk, role: Role) -> None:
    """What is not the role's is refused by name, before its content is believed."""
    said = {
        "registered": sealed(BAG),
        "treated": event("treated", BAG, step="incinerate", party="plant-kiln", cycle="1"),
        "notified": event("notified", BAG, authority="board", about="other", reason="told"),
        "disposed": event("disposed", BAG, outlet="ash_landfill", party="plant-kiln"),
    }
    for kind, raw in said.items():
        [outcome] = desk.send(raw, role=role)
        if kind in MAY_RECORD[role]:
            assert outcome.outcome == "recorded"
        else:
            assert outcome.reason == f"a token for {role} may not record '{kind}'"


def test_who_may_not_record_an_act_may_not_amend_it_or_strike_it_out(desk: Desk) -> None:
    """A ward cannot make a plant's treatment unsaid, nor turn its own slip into a treatment."""
    treated = event("treated", BAG, step="incinerate", party="plant-kiln", cycle="1")
    own = sealed(BAG)
    desk.tell(treated, role=Role.PLANT)
    desk.tell(own, role=Role.WARD)
    struck = event("amended", supersedes=treated["id"], reason="no")
    turned = event(
        "amended", supersedes=own["id"], reason="no", corrected=treated | {"id": own["id"]}
    )
    for raw in (struck, turned):
        words = "a token for ward may not amend 'treated'"
        assert desk.refused(raw, role=Role.WARD) == words
    assert "may not record 'amended'" in desk.refused(
        event("amended", supersedes=own["id"], reason="no"), role=Role.INSPECTOR
    )
    desk.tell(event("amended", supersedes=own["id"], reason="no such bag"), role=Role.WARD)
    desk.tell(event("amended", supersedes=treated["id"], reason="other bag"), role=Role.PLANT)


# --- what is told


def test_what_will_only_open_later_is_not_told_yet(desk: Desk) -> None:
    """A bag sealed now will be late in two days: no finding today, one in three days."""
    [outcome] = desk.tell(sealed(BAG))
    assert outcome.violations == ()
    [late] = desk.tell(
        sealed(OTHER, at=NOON), event("weighed", BAG, at=NOON, weight_g=3_400), hours=72
    )[:1]
    assert {v.code.value for v in late.violations} >= {"holding.exceeded", "record.late"}
    assert all(v.container == OTHER for v in late.violations)
