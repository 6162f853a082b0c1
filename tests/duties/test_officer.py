"""The officer's duties: setting up, letting in, turning out, rebuilding, the quarter's papers."""

from datetime import timedelta
from typing import Any

import pytest

from scenario.hospital import load_site
from service.custody.site import Travel
from service.custody.words import Role
from service.duties import administrator, lookup, officer
from service.duties.access import NoSetupError, NotAllowedError, holder_of
from service.duties.lookup import NotFoundError
from service.manifests.quarter import QuarterError
from tests.api.client import NOON, event, ids, scanned, sealed
from tests.duties.desk import Desk
from tests.store.record import exactly

[BAG, CART] = ids(2)
DAY = timedelta(days=1)


def test_a_set_up_is_kept_in_versions_and_its_label_key_for_good(desk: Desk) -> None:
    """Labels printed under the first set-up stay genuine under the second."""
    site = load_site().model_copy(update={"id": f"{desk.facility}-too"})
    admin = Desk(desk.store, site.id).caller(Role.ADMINISTRATOR)
    assert officer.set_up(desk.store, admin, site, NOON) == 1
    key = desk.store.label_key(site.id)
    assert len(key) == 32
    renamed = site.model_copy(update={"name": "New name"})
    assert officer.set_up(desk.store, admin, renamed, NOON) == 2
    assert desk.store.label_key(site.id) == key
    assert desk.store.rules(site.id).site.name == "New name"
    there = Desk(desk.store, site.id)
    [outcome] = there.tell(sealed(scanned(BAG, key)))
    assert outcome.violations == ()


def test_a_site_under_a_regime_that_there_is_not_is_not_set_up(desk: Desk) -> None:
    """The words name those that there are."""
    site = load_site().model_copy(update={"id": "nowhere", "regime": "atlantis-1900"})
    with pytest.raises(NotFoundError, match=r"no regime 'atlantis-1900'; there are: .*india-2016"):
        officer.set_up(desk.store, Desk(desk.store, site.id).caller(Role.ADMINISTRATOR), site, NOON)
    assert "nowhere" not in desk.store.facilities()
    with pytest.raises(NoSetupError, match="facility 'nowhere' has not been set up"):
        lookup.rules(desk.store, Desk(desk.store, "nowhere").caller())


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"facts": ("remote-island",)}, "india-2016 has no fact 'remote-island'"),
        ({"unit": ("purple",)}, "india-2016 has no category 'purple'; there are: blue-a, "),
        ({"travel": (Travel(between=("block-a", "moon"), minutes=2),)}, "location 'moon'"),
        ({"party": ("purple",)}, "india-2016 has no category 'purple'; there are: blue-a, "),
    ],
)
def test_a_category_fact_or_location_that_there_is_not_is_refused(
    desk: Desk, said: dict[str, tuple[Any, ...]], words: str
) -> None:
    """A misspelt one would be passed over, and nothing would be flagged by it."""
    site = load_site().model_copy(update={"id": "nowhere", "travel": ()})
    ((what, names),) = said.items()
    if what == "unit":
        said = {"unit": (site.unit[0].model_copy(update={"categories": names}),)}
    elif what == "party":
        carrier = next(p for p in site.party if p.authorisation)
        narrowed = carrier.authorisation[0].model_copy(update={"categories": names})
        said = {"party": (carrier.model_copy(update={"authorisation": (narrowed,)}),)}
    admin = Desk(desk.store, "nowhere").caller(Role.ADMINISTRATOR)
    with pytest.raises(NotFoundError, match=words):
        officer.set_up(desk.store, admin, site.model_copy(update=said), NOON)
    assert "nowhere" not in desk.store.facilities()


def test_a_client_is_let_in_by_a_token_until_it_ends(desk: Desk) -> None:
    """Only its hash is kept; at the last instant it holds no longer; each token is another."""
    admin = desk.caller(Role.ADMINISTRATOR)
    token = administrator.admit_program(desk.store, admin, "tablet", Role.WARD, NOON, DAY)
    other = administrator.admit_program(desk.store, admin, "tablet", Role.WARD, NOON, DAY)
    assert token != other
    caller = holder_of(desk.store, token, NOON + DAY - timedelta(microseconds=1))
    assert caller is not None
    assert (caller.facility, caller.name, caller.role) == (desk.facility, "tablet", Role.WARD)
    assert holder_of(desk.store, token, NOON + DAY) is None
    assert holder_of(desk.store, token[:-1], NOON) is None
    assert holder_of(desk.store, "", NOON) is None
    with desk.store.reading() as connection:
        dump = str(connection.exec_driver_sql("SELECT * FROM client").all())
    assert token not in dump


@pytest.mark.parametrize("name", ["", "x" * 65, "tab\tlet"])
def test_a_client_has_a_name_that_an_event_can_bear(desk: Desk, name: str) -> None:
    """It is the device of what it prints: 1 to 64 characters without control characters."""
    with pytest.raises(ValueError, match="1 to 64 characters"):
        administrator.admit_program(
            desk.store, desk.caller(Role.ADMINISTRATOR), name, Role.WARD, NOON, DAY
        )


def test_a_client_that_is_turned_out_is_out_with_all_its_tokens(desk: Desk) -> None:
    """Others stay; turning out again finds nothing left."""
    admin = desk.caller(Role.ADMINISTRATOR)
    lost = [
        administrator.admit_program(desk.store, admin, "tablet", Role.WARD, NOON, DAY)
        for _ in range(2)
    ]
    stays = administrator.admit_program(desk.store, admin, "scanner", Role.HANDLER, NOON, DAY)
    assert administrator.revoke_client(desk.store, admin, "tablet", NOON) == 2
    assert [holder_of(desk.store, token, NOON) for token in lost] == [None, None]
    assert holder_of(desk.store, stays, NOON) is not None
    assert administrator.revoke_client(desk.store, admin, "tablet", NOON) == 0


@pytest.mark.parametrize("role", [r for r in Role if r != Role.ADMINISTRATOR])
def test_only_the_administrator_lets_in_turns_out_and_rebuilds(desk: Desk, role: Role) -> None:
    """Everybody else is told whose it is."""
    caller = desk.caller(role)
    for act in (
        lambda: administrator.admit_program(desk.store, caller, "x", Role.WARD, NOON, DAY),
        lambda: administrator.revoke_client(desk.store, caller, "x", NOON),
        lambda: officer.rebuild(desk.store, caller, NOON),
    ):
        with pytest.raises(NotAllowedError, match="is for administrator"):
            act()


def test_a_rebuild_changes_nothing_and_tells_how_far_it_is(desk: Desk) -> None:
    """Steps go up to the whole; the rows are the same to the letter."""
    desk.tell(sealed(BAG), event("packed", BAG, parent=CART), event("lost", CART))
    before = exactly(desk.store, desk.facility)
    steps = list(officer.rebuild(desk.store, desk.caller(Role.ADMINISTRATOR), NOON))
    assert steps == sorted(steps)
    assert steps[-1][0] == steps[-1][1]
    assert exactly(desk.store, desk.facility) == before


def test_a_rebuild_that_is_broken_off_leaves_the_old_rows(desk: Desk) -> None:
    """Until it ends others see what was there, and the next writer is not held up."""
    desk.tell(sealed(BAG))
    before = exactly(desk.store, desk.facility)
    going = officer.rebuild(desk.store, desk.caller(Role.ADMINISTRATOR), NOON)
    next(iter(going))
    del going
    assert exactly(desk.store, desk.facility) == before
    desk.tell(event("lost", BAG))


def test_a_quarter_is_reckoned_for_those_who_may_read_the_record(desk: Desk) -> None:
    """By its name alone; the inspector may, the ward may not."""
    desk.tell(sealed(BAG))
    for role in (Role.OFFICER, Role.INSPECTOR):
        officer.manifest(desk.store, desk.caller(role), "2026-Q3", NOON)
    with pytest.raises(
        NotAllowedError, match="to fetch manifest is for administrator, inspector, officer"
    ):
        officer.manifest(desk.store, desk.caller(Role.WARD), "2026-Q3", NOON)
    with pytest.raises(QuarterError):
        officer.manifest(desk.store, desk.caller(), "2026-Q5", NOON)
    paper = officer.paper(desk.store, desk.caller(), "2026-Q3", "csv", NOON)
    assert BAG in paper.decode("utf-8-sig")


def test_what_was_found_wrong_before_the_sealing_stays_in_its_quarter(desk: Desk) -> None:
    """A container stored in September and sealed in October: the gap is September's."""
    stored = event("stored", BAG, at="2026-09-30T10:00:00Z", store="ambient-store")
    desk.tell(stored, sealed(BAG, at="2026-10-02T10:00:00Z"), hours=24 * 100)
    now = NOON + 100 * DAY
    found = officer.manifest(desk.store, desk.caller(), "2026-Q3", now)
    assert [(f.violation.code.value, f.closed_in) for f in found.violations] == [
        ("custody.gap", False)
    ]
    assert (found.made.containers, found.balance.held_after.containers) == (0, 0)
    assert officer.manifest(desk.store, desk.caller(), "2026-Q4", now).made.containers == 1


def test_a_correction_of_this_very_moment_is_told_in_the_manifest(desk: Desk) -> None:
    """What the figures count is named among the amendments too."""
    wrong = sealed(BAG)
    desk.tell(wrong)
    right = wrong | {"weight_g": 3500}
    desk.tell(event("amended", BAG, supersedes=wrong["id"], reason="misread", corrected=right))
    found = officer.manifest(desk.store, desk.caller(), "2026-Q3", NOON)
    assert found.made.grams == 3500
    assert [a.supersedes for a in found.amendments] == [wrong["id"]]
