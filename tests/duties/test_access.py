"""The one table of who may do what."""

import pytest

from service.custody.events import KINDS
from service.custody.words import Role
from service.duties.access import MAY_RECORD, Caller, NotAllowedError, demand

EVERY_KIND = {str(k.model_fields["kind"].default) for k in KINDS}


def test_every_role_stands_in_the_table_and_every_kind_is_somebodys() -> None:
    """What is in no row is denied; nothing is in a row that there is not."""
    assert {*MAY_RECORD} == {*Role}
    assert set().union(*MAY_RECORD.values()) == EVERY_KIND
    assert MAY_RECORD[Role.OFFICER] == EVERY_KIND


def test_who_looks_on_records_nothing() -> None:
    """The inspector."""
    assert MAY_RECORD[Role.INSPECTOR] == frozenset()


@pytest.mark.parametrize("role", [Role.WARD, Role.HANDLER, Role.PLANT])
def test_only_the_officer_tells_the_authority(role: Role) -> None:
    """A notice is the facility's word, not a worker's."""
    assert "notified" not in MAY_RECORD[role]


def test_custody_is_taken_by_the_one_who_takes_it() -> None:
    """The plant says what it received, the handler what was collected; the ward neither."""
    assert "received" in MAY_RECORD[Role.PLANT] - MAY_RECORD[Role.HANDLER]
    assert "collected" in MAY_RECORD[Role.HANDLER] - MAY_RECORD[Role.PLANT]
    assert not MAY_RECORD[Role.WARD] & {"collected", "received", "treated", "disposed"}


def test_a_demand_lets_pass_or_says_who_may() -> None:
    """The refusal names the act, the roles that cover it and the caller's."""
    ward = Caller("hill", "tablet", Role.WARD)
    demand(ward, "record_events")
    with pytest.raises(
        NotAllowedError, match="to rebuild is for administrator; you are known as w"
    ):
        demand(ward, "rebuild")
