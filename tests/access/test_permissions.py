"""The one table of who may do what."""

import pytest
from fastapi.routing import APIRoute

from service.access.caller import Caller
from service.access.permissions import (
    MAY_RECORD,
    NEEDS_SECOND_FACTOR,
    OPEN_TO_ALL,
    OPERATIONS,
    WITHOUT_SECOND_FACTOR,
    NotAllowedError,
    demand,
)
from service.api.routers import ROUTERS
from service.custody.events import KINDS
from service.custody.words import Role

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
        NotAllowedError, match="to rebuild is for administrator; you are known as ward"
    ):
        demand(ward, "rebuild")


@pytest.mark.parametrize("role", Role)
def test_what_the_table_does_not_name_is_nobodys(role: Role) -> None:
    """A door that somebody forgot to put in it is shut, to the administrator too."""
    with pytest.raises(NotAllowedError, match="to paint the shed is for nobody"):
        demand(Caller("hill", "x", role), "paint_the_shed")


@pytest.mark.parametrize("role", sorted(NEEDS_SECOND_FACTOR))
def test_until_a_second_factor_is_set_little_is_open(role: Role) -> None:
    """What leads to one, and the way out."""
    confined = Caller("hill", "p-1", role, confined=True)
    for operation in OPERATIONS:
        if operation in WITHOUT_SECOND_FACTOR:
            demand(confined, operation)
        else:
            with pytest.raises(NotAllowedError):
                demand(confined, operation)


def test_every_door_is_in_the_table_or_open_to_all() -> None:
    """By the name it has in the interface's description; none is in both."""
    routes = [route for router in ROUTERS for route in router.routes]
    doors = {route.operation_id for route in routes if isinstance(route, APIRoute)}
    assert len(doors) == len(routes)
    assert doors <= {*OPERATIONS, *OPEN_TO_ALL}
    assert not OPEN_TO_ALL & {*OPERATIONS}
