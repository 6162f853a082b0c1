"""Finding a container by what somebody has of it: a code, an id with a slip in it."""

import pytest

from service.access.caller import Caller, Scope
from service.custody.identifiers import ALPHABET, is_valid, tag
from service.custody.words import Role
from service.duties import finding
from service.duties.finding import Coded
from tests.api.client import NOON, event, ids, sealed
from tests.duties.desk import Desk

[BAG] = ids(1, seed=73_000)


def wrong(at: int) -> str:
    """The id with another character at a place, which its check character gives away."""
    changed = (BAG[:at] + c + BAG[at + 1 :] for c in ALPHABET if c != BAG[at])
    return next(one for one in changed if not is_valid(one))


@pytest.mark.parametrize(
    ("typed", "group"),
    [
        (wrong(1), 1),
        (wrong(6), 2),
        (wrong(9), 3),
        (BAG[:5] + BAG[6:], 2),
        (BAG[:9] + "7" + BAG[9:], 3),
        (BAG[:2] + BAG[3] + BAG[2] + BAG[4:], 1),
    ],
    ids=["first", "second", "third", "one too few", "one too many", "changed places"],
)
def test_one_slip_is_found_with_its_group(desk: Desk, typed: str, group: int) -> None:
    """Whatever the slip, the container on record is offered."""
    desk.tell(sealed(BAG))
    [(view, told)] = finding.near_misses(desk.store, desk.caller(), typed, NOON)
    assert view.standing.container == BAG
    assert told == group


def test_what_is_out_of_reach_is_no_near_miss(desk: Desk) -> None:
    """A slip of the pen opens nobody else's containers."""
    desk.tell(sealed(BAG, unit="icu"))
    ward = Caller(desk.facility, "w", Role.WARD, Scope(units=frozenset({"pharmacy"})))
    assert finding.near_misses(desk.store, ward, wrong(6), NOON) == []


def test_a_codes_tag_says_whether_the_label_is_ours(desk: Desk) -> None:
    """A bare id says nothing of it."""
    key = desk.store.label_keys(desk.facility)[0]
    caller = desk.caller()
    assert finding.coded(desk.store, caller, f"/{BAG}/{tag(BAG, key)}") == Coded(BAG, True)
    assert finding.coded(desk.store, caller, f"/{BAG}/0000000") == Coded(BAG, False)
    assert finding.coded(desk.store, caller, BAG.lower()) == Coded(BAG, None)
    with pytest.raises(ValueError, match="check character"):
        finding.coded(desk.store, caller, wrong(6))


def test_a_path_tells_what_was_struck_out(desk: Desk) -> None:
    """With what was said at first, and the reason."""
    lost = event("lost", BAG)
    desk.tell(
        sealed(BAG), lost, event("amended", supersedes=lost["id"], reason="it was never away")
    )
    path = finding.path(desk.store, desk.caller(), BAG, NOON)
    [struck] = path.struck_out
    assert struck.original is not None
    assert struck.original.event.kind == "lost"
    assert path.due_at == path.view.standing.due_at is not None
