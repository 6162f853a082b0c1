"""Closing a consignment: a number of its own that is the same for the same request."""

from typing import Any
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from service.custody.identifiers import ALPHABET
from service.custody.words import Role
from service.duties import handler, lookup
from service.duties.handler import consignment_number
from service.duties.record import Told
from tests.api.client import NOON, event, event_id, ids, sealed
from tests.duties.desk import Desk

[BAG] = ids(1)
TOLD = Told(NOON)


def leaving(**said: Any) -> dict[str, Any]:
    """What a handler sends when a bag leaves."""
    usual = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "seal": "S-1"}
    sent = event("dispatched", BAG, **(usual | said))
    del sent["kind"]
    return sent


@settings(derandomize=True, max_examples=200)
@given(st.uuids())
def test_a_number_has_a_check_character_that_others_agree_with(event: UUID) -> None:
    """ISO 7064:2003 MOD 37,36 as python-stdnum reckons it; eight characters without look-alikes."""
    number = consignment_number(event)
    assert number == consignment_number(event)
    assert len(number) == 10
    assert number[0] == "C"
    assert mod_37_36.is_valid(number[1:])
    assert {*number[1:9]} <= {*ALPHABET}


def test_numbers_of_ids_made_one_after_another_differ() -> None:
    """The end of a UUIDv7 is chance (RFC 9562 §5.7), and the number is made of its end."""
    made = {consignment_number(UUID(int=0x19F1A50 << 96 | n << 3)) for n in range(2_000)}
    assert len(made) == 2_000


def test_a_consignment_without_a_number_is_given_one(desk: Desk) -> None:
    """The same request again: the same number, recorded once."""
    desk.tell(sealed(BAG))
    sent = leaving()
    number, outcome = handler.dispatch(desk.store, desk.caller(Role.HANDLER), sent, TOLD)
    assert outcome.outcome == "recorded"
    assert number == consignment_number(UUID(sent["id"]))
    again, repeated = handler.dispatch(desk.store, desk.caller(Role.HANDLER), sent, TOLD)
    assert (again, repeated.outcome) == (number, "repeated")
    found = lookup.consignment(desk.store, desk.caller(), number)
    assert [row.container for row in found.cargo] == [BAG]


def test_a_number_of_ones_own_is_kept(desk: Desk) -> None:
    """What the paper form says."""
    desk.tell(sealed(BAG))
    sent = leaving(consignment="FORM-77")
    number, _ = handler.dispatch(desk.store, desk.caller(), sent, TOLD)
    assert number == "FORM-77"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"id": None}, "id is not a UUID"),
        ({"id": "7"}, "id is not a UUID"),
        ({"id": [1]}, "id is not a UUID"),
        ({"consignment": 5}, "consignment must be text"),
        ({"consignment": "x" * 65}, "consignment"),
        ({"carrier": None}, "carrier must be text"),
        ({"containers": "all"}, "containers must be a list"),
    ],
)
def test_what_is_malformed_is_refused_and_not_raised(
    desk: Desk, said: dict[str, Any], words: str
) -> None:
    """With a sentence for each fault."""
    _, outcome = handler.dispatch(desk.store, desk.caller(), leaving(**said), TOLD)
    assert outcome.outcome == "refused"
    assert words in outcome.reason


def test_who_may_not_dispatch_is_refused(desk: Desk) -> None:
    """Whatever kind the body says it is."""
    sent = leaving() | {"kind": "registered", "id": event_id()}
    _, outcome = handler.dispatch(desk.store, desk.caller(Role.WARD), sent, TOLD)
    assert outcome.reason == "a token for ward may not record 'dispatched'"
