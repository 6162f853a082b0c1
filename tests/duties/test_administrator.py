"""The administrator's duties: people, badges, codes, devices; each change entered, none beyond."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from service.access.caller import WHOLE, Caller, Kind, Scope
from service.access.entries import AccessKind
from service.access.lifetimes import ACTIVATION
from service.access.people import CredentialKind, Person
from service.access.permissions import BY_BADGE
from service.custody.words import Role
from service.duties import administrator, own_credentials, signing_in
from service.duties.access import NotAllowedError, caller_of, holder_of
from service.duties.access import Shown as Credentials
from service.duties.administrator import NewPerson
from service.duties.attempts import SignInError
from service.duties.lookup import NotFoundError
from service.duties.sessions import SignedIn
from service.duties.signing_in import NewPinError
from tests.api.client import NOON
from tests.duties.desk import Desk

DAY = timedelta(days=1)
PASSWORD, PIN = "seven damp kettles humming", "83104629"


@pytest.fixture
def admin(desk: Desk) -> Caller:
    """The administrator at the command line."""
    return desk.caller(Role.ADMINISTRATOR)


def added(desk: Desk, person_id: str = "p-ila", role: Role = Role.WARD, **said: Any) -> Person:
    """Somebody taken on."""
    new = NewPerson("Ila Marrow", role, id=person_id, **said)
    return administrator.add_person(desk.store, desk.caller(Role.ADMINISTRATOR), new, NOON)[0]


def entered(desk: Desk) -> list[dict[str, Any]]:
    """The access log."""
    admin = desk.caller(Role.ADMINISTRATOR)
    return [json.loads(b) for _, b in administrator.access_entries(desk.store, admin, 0, 1_000)]


def signed_in(desk: Desk, person_id: str = "p-ila") -> SignedIn:
    """Somebody with a password who signed in with it."""
    admin = desk.caller(Role.ADMINISTRATOR)
    code = administrator.issue_activation(desk.store, admin, person_id, NOON)
    signing_in.set_password(desk.store, desk.facility, code, PASSWORD, "", NOON)
    return signing_in.by_password(desk.store, desk.facility, person_id, PASSWORD, None, "", NOON)


def stays_in(desk: Desk, who: SignedIn) -> bool:
    """Whether the session still stands."""
    return caller_of(desk.store, Credentials(session=who.token), NOON) is not None


def tablet(desk: Desk, name: str = "tablet") -> signing_in.Enrolled:
    """An enrolled device."""
    admin = desk.caller(Role.ADMINISTRATOR)
    code = administrator.invite_device(desk.store, admin, name, Role.WARD, WHOLE, NOON)
    return signing_in.enrol_device(desk.store, desk.facility, code, "", NOON)


def credentials(desk: Desk, person_id: str = "p-ila") -> frozenset[CredentialKind]:
    """What somebody can prove by."""
    admin = desk.caller(Role.ADMINISTRATOR)
    return administrator.person(desk.store, admin, person_id, NOON).credentials


# --- people


def test_a_person_is_added_with_a_code_that_sets_a_password_once(desk: Desk, admin: Caller) -> None:
    """Within a day; the id is made by the service and tells nothing of them."""
    reach = Scope(frozenset({"icu"}))
    new = NewPerson("Ila Marrow", Role.WARD, reach)
    person, code = administrator.add_person(desk.store, admin, new, NOON)

    assert (person.name, person.role, person.scope) == ("Ila Marrow", Role.WARD, reach)
    assert person.id.startswith("p-")
    assert len(person.id) == 8
    assert administrator.people(desk.store, admin) == [person]
    last = NOON + ACTIVATION - timedelta(microseconds=1)
    where = (desk.store, desk.facility, code, PASSWORD, "")
    assert signing_in.set_password(*where, last) == person.id
    with pytest.raises(SignInError):
        signing_in.set_password(*where, last)


def test_the_entry_says_role_reach_and_end_and_no_name(desk: Desk) -> None:
    """By whom, and of whom by id."""
    added(desk, scope=Scope(frozenset({"icu"})), valid_until=NOON + DAY)

    first, code = entered(desk)
    assert (first["kind"], first["actor"]) == ("person_added", "administrator-device")
    assert first["about"] == {
        "person": "p-ila",
        "role": "ward",
        "units": ["icu"],
        "parties": [],
        "valid_until": "2026-07-02T12:00:00Z",
        "disabled_at": "",
    }
    assert code["about"] == {"person": "p-ila", "credential": "activation", "sessions": 0}
    assert "Marrow" not in str(entered(desk))


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"id": "Ila"}, "an id has 1 to 63"),
        ({"id": "-ila"}, "an id has 1 to 63"),
        ({"id": "p-taken"}, "the id 'p-taken' is taken"),
        ({"id": "kiln-link"}, "the id 'kiln-link' is taken"),
        ({"name": ""}, "1 to 64 characters"),
        ({"name": "a\nb"}, "no control character"),
        ({"scope": Scope(frozenset({"icy"}))}, "there is no unit 'icy'; there are: icu"),
        ({"scope": Scope(parties=frozenset({"icu"}))}, "there is no party 'icu'"),
        ({"role": Role.INSPECTOR}, "say until when"),
    ],
)
def test_somebody_who_cannot_stand_is_not_added(
    desk: Desk, admin: Caller, said: dict[str, Any], words: str
) -> None:
    """Nothing is kept and nothing entered."""
    added(desk, "p-taken")
    administrator.admit_program(desk.store, admin, "kiln-link", Role.PLANT, NOON, DAY)
    before = entered(desk)
    new = NewPerson(**{"name": "A", "role": Role.WARD} | said)
    with pytest.raises(ValueError, match=words):
        administrator.add_person(desk.store, admin, new, NOON)
    assert [p.id for p in administrator.people(desk.store, admin)] == ["p-taken"]
    assert entered(desk) == before


@pytest.mark.parametrize(
    ("change", "ends"),
    [
        ({"name": "Ila Fell"}, False),
        ({"role": Role.HANDLER}, True),
        ({"scope": Scope(frozenset({"icu"}))}, True),
        ({"valid_until": NOON + DAY}, True),
        ({"disabled": True}, True),
        ({"role": Role.WARD, "disabled": False, "valid_until": None, "scope": WHOLE}, False),
    ],
)
def test_what_changes_what_somebody_may_do_signs_them_out(
    desk: Desk, admin: Caller, change: dict[str, Any], ends: bool
) -> None:
    """A change of the name does not, nor one that changes nothing, which is not entered."""
    added(desk)
    who = signed_in(desk)
    before = len(entered(desk))

    person = administrator.change_person(desk.store, admin, "p-ila", NOON, **change)

    assert stays_in(desk, who) is not ends
    assert administrator.person(desk.store, admin, "p-ila", NOON).person == person
    told = entered(desk)[before:]
    assert [e["kind"] for e in told] == ([] if len(change) > 1 else ["person_changed"])
    if told:
        [name] = change
        assert told[0]["about"]["changed"] == ["disabled_at" if name == "disabled" else name]


def test_who_was_shut_out_can_be_let_in_again(desk: Desk, admin: Caller) -> None:
    """Shut out twice they were shut out at the first time."""
    added(desk)
    administrator.change_person(desk.store, admin, "p-ila", NOON, disabled=True)
    again = administrator.change_person(desk.store, admin, "p-ila", NOON + DAY, disabled=True)
    assert again.disabled_at == NOON
    for act in (administrator.issue_activation, administrator.issue_badge):
        with pytest.raises(ValueError, match="may not come in"):
            act(desk.store, admin, "p-ila", NOON)
    back = administrator.change_person(desk.store, admin, "p-ila", NOON + DAY, disabled=False)
    assert back.may_enter(NOON + DAY)


@pytest.mark.parametrize(
    "change",
    [
        {"disabled": True},
        {"role": Role.OFFICER},
        {"valid_until": NOON},
        {"valid_until": NOON + 90 * DAY},
    ],
)
def test_the_last_administrator_stays_one(
    desk: Desk, admin: Caller, change: dict[str, Any]
) -> None:
    """Nor is an end set that would leave nobody; with a second one it goes."""
    added(desk, "p-head", Role.ADMINISTRATOR)
    with pytest.raises(ValueError, match="'p-head' is the last administrator"):
        administrator.change_person(desk.store, admin, "p-head", NOON, **change)
    added(desk, "p-other", Role.ADMINISTRATOR)
    before = administrator.person(desk.store, admin, "p-head", NOON).person
    assert administrator.change_person(desk.store, admin, "p-head", NOON, **change) != before


def test_a_second_administrator_who_was_shut_out_counts_for_none(desk: Desk, admin: Caller) -> None:
    """He cannot let anybody in."""
    added(desk, "p-head", Role.ADMINISTRATOR)
    added(desk, "p-other", Role.ADMINISTRATOR)
    administrator.change_person(desk.store, admin, "p-other", NOON, disabled=True)
    with pytest.raises(ValueError, match="the last administrator"):
        administrator.change_person(desk.store, admin, "p-head", NOON, disabled=True)


def test_a_unit_that_was_closed_since_holds_up_no_other_change(desk: Desk, admin: Caller) -> None:
    """The reach stays as it is; nobody new gets it."""
    added(desk, scope=Scope(frozenset({"icu"})))
    site = desk.store.rules(desk.facility).site
    left = tuple(unit for unit in site.unit if unit.id != "icu")
    desk.store.set_up(site.model_copy(update={"unit": left}), NOON, b"")

    changed = administrator.change_person(desk.store, admin, "p-ila", NOON, disabled=True)

    assert changed.scope.units == {"icu"}
    with pytest.raises(ValueError, match="there is no unit 'icu'"):
        added(desk, "p-new", scope=Scope(frozenset({"icu"})))


def test_an_inspector_keeps_an_end(desk: Desk, admin: Caller) -> None:
    """It can be moved, and not taken away."""
    added(desk, "p-see", Role.INSPECTOR, valid_until=NOON + DAY)
    later = administrator.change_person(
        desk.store, admin, "p-see", NOON, valid_until=NOON + 2 * DAY
    )
    assert later.valid_until == NOON + 2 * DAY
    with pytest.raises(ValueError, match="say until when"):
        administrator.change_person(desk.store, admin, "p-see", NOON, valid_until=None)


# --- what they prove by


def test_a_new_code_ends_the_old_password(desk: Desk, admin: Caller) -> None:
    """And the sessions; a second code ends the first."""
    added(desk)
    who = signed_in(desk)
    first = administrator.issue_activation(desk.store, admin, "p-ila", NOON)
    assert not stays_in(desk, who)
    assert credentials(desk) == {CredentialKind.ACTIVATION}
    administrator.issue_activation(desk.store, admin, "p-ila", NOON)
    with pytest.raises(SignInError):
        signing_in.set_password(desk.store, desk.facility, first, PASSWORD, "", NOON)


def test_a_badge_opens_with_its_first_pin_once_another_is_chosen(desk: Desk, admin: Caller) -> None:
    """A new badge ends the old one with its PIN at once."""
    added(desk)
    device = tablet(desk).device
    old = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    with pytest.raises(NewPinError):
        signing_in.by_badge(desk.store, device, old.code, old.first_pin, None, NOON)
    who = signing_in.by_badge(desk.store, device, old.code, old.first_pin, PIN, NOON)
    new = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    assert not stays_in(desk, who)
    for badge, pin in ((old.code, PIN), (new.code, PIN), (old.code, new.first_pin)):
        with pytest.raises(SignInError):
            signing_in.by_badge(desk.store, device, badge, pin, None, NOON)


def test_a_first_pin_is_for_a_week(desk: Desk, admin: Caller) -> None:
    """Then another badge is given."""
    added(desk)
    device = tablet(desk).device
    badge = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    end = NOON + 7 * DAY
    with pytest.raises(SignInError):
        signing_in.by_badge(desk.store, device, badge.code, badge.first_pin, PIN, end)


def test_a_badge_that_is_taken_opens_nothing(desk: Desk, admin: Caller) -> None:
    """The PIN goes with it; taking it again says nothing more."""
    added(desk)
    device = tablet(desk).device
    badge = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    administrator.revoke_badge(desk.store, admin, "p-ila", NOON)
    with pytest.raises(SignInError):
        signing_in.by_badge(desk.store, device, badge.code, badge.first_pin, PIN, NOON)
    assert credentials(desk) == {CredentialKind.ACTIVATION}
    before = entered(desk)
    administrator.revoke_badge(desk.store, admin, "p-ila", NOON)
    assert entered(desk) == before


@pytest.mark.parametrize("role", [r for r in Role if r not in BY_BADGE])
def test_whoever_sits_at_a_desk_has_no_badge(desk: Desk, admin: Caller, role: Role) -> None:
    """And who moves to a desk has none any more."""
    added(desk, "p-desk", role, valid_until=NOON + DAY)
    with pytest.raises(ValueError, match="badges are for handler, plant, ward"):
        administrator.issue_badge(desk.store, admin, "p-desk", NOON)
    added(desk)
    administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    end = NOON + DAY
    administrator.change_person(desk.store, admin, "p-ila", NOON, role=role, valid_until=end)
    assert credentials(desk) == {CredentialKind.ACTIVATION}


def test_a_second_factor_is_taken(desk: Desk, admin: Caller) -> None:
    """As when a telephone was lost; the sessions end, the password stays."""
    added(desk)
    who = signed_in(desk)
    own_credentials.offer_second_factor(desk.store, who.caller, NOON)
    assert CredentialKind.PENDING_FACTOR in credentials(desk)
    administrator.reset_second_factor(desk.store, admin, "p-ila", NOON)
    assert credentials(desk) == {CredentialKind.PASSWORD}
    assert not stays_in(desk, who)


def test_sessions_are_ended_and_counted(desk: Desk, admin: Caller) -> None:
    """Those that stood; once more there are none, and nothing is entered."""
    added(desk)
    who = signed_in(desk)
    assert len(administrator.person(desk.store, admin, "p-ila", NOON).sessions) == 1
    assert administrator.end_sessions(desk.store, admin, "p-ila", NOON) == 1
    assert not stays_in(desk, who)
    before = entered(desk)
    assert administrator.end_sessions(desk.store, admin, "p-ila", NOON) == 0
    assert entered(desk) == before


def test_no_secret_is_in_the_log_or_the_tables(desk: Desk, admin: Caller) -> None:
    """Codes, PINs and tokens are shown once and kept as hashes."""
    _, code = administrator.add_person(
        desk.store, admin, NewPerson("Ila", Role.WARD, id="p-ila"), NOON
    )
    badge = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    token = administrator.admit_program(desk.store, admin, "link", Role.PLANT, NOON, DAY)
    device = administrator.invite_device(desk.store, admin, "tablet", Role.WARD, WHOLE, NOON)
    with desk.store.reading() as connection:
        tables = ("access", "client", "credential", "person")
        dump = "".join(
            str(connection.exec_driver_sql(f"SELECT * FROM {table}").all())  # noqa: S608
            for table in tables
        )
    for secret in (code, badge.code, badge.first_pin, token, device):
        assert secret not in dump
        assert secret.replace("-", "") not in dump


# --- devices and programs


def test_a_device_comes_in_by_its_code_and_goes_with_all_that_is_on_it(
    desk: Desk, admin: Caller
) -> None:
    """Token, code and sessions end at once."""
    added(desk)
    enrolled = tablet(desk)
    badge = administrator.issue_badge(desk.store, admin, "p-ila", NOON)
    who = signing_in.by_badge(desk.store, enrolled.device, badge.code, badge.first_pin, PIN, NOON)
    administrator.invite_device(desk.store, admin, "tablet", Role.WARD, WHOLE, NOON)
    assert holder_of(desk.store, enrolled.token, NOON) is not None

    assert administrator.revoke_client(desk.store, admin, "tablet", NOON) == 2

    assert holder_of(desk.store, enrolled.token, NOON) is None
    shown = Credentials(session=who.token, device=enrolled.token)
    assert caller_of(desk.store, shown, NOON) is None
    assert entered(desk)[-1]["about"] == {"client": "tablet", "tokens": 2, "sessions": 1}


def test_a_new_code_for_a_device_ends_the_one_before(desk: Desk, admin: Caller) -> None:
    """A note that was lost is worth nothing once another was written."""
    first = administrator.invite_device(desk.store, admin, "tablet", Role.WARD, WHOLE, NOON)
    administrator.invite_device(desk.store, admin, "tablet", Role.WARD, WHOLE, NOON)
    with pytest.raises(SignInError):
        signing_in.enrol_device(desk.store, desk.facility, first, "", NOON)
    kept = {(c.kind, c.revoked_at) for c in administrator.clients(desk.store, admin)}
    assert kept == {("enrolment", NOON), ("enrolment", None)}


@pytest.mark.parametrize("role", [r for r in Role if r not in BY_BADGE])
def test_a_device_that_many_share_is_no_officer(desk: Desk, admin: Caller, role: Role) -> None:
    """Whoever stands before it would be one."""
    with pytest.raises(ValueError, match="a shared device has the role"):
        administrator.invite_device(desk.store, admin, "tablet", role, WHOLE, NOON)


def test_a_name_is_one_things_for_ever(desk: Desk, admin: Caller) -> None:
    """It stands in the record as the sender, also after it was turned out."""
    added(desk)
    tablet(desk)
    administrator.revoke_client(desk.store, admin, "tablet", NOON)
    administrator.admit_program(desk.store, admin, "link", Role.PLANT, NOON, DAY)
    with pytest.raises(ValueError, match="'tablet' is the name of a device"):
        administrator.admit_program(desk.store, admin, "tablet", Role.PLANT, NOON, DAY)
    with pytest.raises(ValueError, match="'link' is the name of a program"):
        administrator.invite_device(desk.store, admin, "link", Role.WARD, WHOLE, NOON)
    with pytest.raises(ValueError, match="'p-ila' is the id of a person"):
        administrator.admit_program(desk.store, admin, "p-ila", Role.PLANT, NOON, DAY)
    assert tablet(desk).device.kind is Kind.DEVICE


def test_a_program_reaches_no_further_than_it_was_let(desk: Desk, admin: Caller) -> None:
    """A unit that there is not is a slip, not a smaller reach."""
    reach = Scope(frozenset({"icu"}))
    token = administrator.admit_program(desk.store, admin, "link", Role.WARD, NOON, DAY, reach)
    holder = holder_of(desk.store, token, NOON)
    assert holder is not None
    assert holder.scope == reach
    with pytest.raises(ValueError, match="there is no unit 'icy'"):
        administrator.admit_program(
            desk.store, admin, "link", Role.WARD, NOON, DAY, Scope(frozenset({"icy"}))
        )


# --- whose it is


def _acts(desk: Desk, who: Caller) -> dict[str, Callable[[], object]]:
    store = desk.store
    return {
        "add_person": lambda: administrator.add_person(store, who, NewPerson("A", Role.WARD), NOON),
        "change_person": lambda: administrator.change_person(store, who, "p-ila", NOON, name="B"),
        "issue_activation": lambda: administrator.issue_activation(store, who, "p-ila", NOON),
        "issue_badge": lambda: administrator.issue_badge(store, who, "p-ila", NOON),
        "revoke_badge": lambda: administrator.revoke_badge(store, who, "p-ila", NOON),
        "reset_factor": lambda: administrator.reset_second_factor(store, who, "p-ila", NOON),
        "end_sessions": lambda: administrator.end_sessions(store, who, "p-ila", NOON),
        "clients": lambda: administrator.clients(store, who),
        "invite": lambda: administrator.invite_device(store, who, "t", Role.WARD, WHOLE, NOON),
        "access_entries": lambda: administrator.access_entries(store, who, 0, 1),
    }


@pytest.mark.parametrize("role", [r for r in Role if r is not Role.ADMINISTRATOR])
def test_each_is_the_administrators_alone(desk: Desk, role: Role) -> None:
    """The officer reads who there is; nobody else does that either."""
    added(desk)
    caller = desk.caller(role)
    for act in _acts(desk, caller).values():
        with pytest.raises(NotAllowedError, match="is for administrator"):
            act()
    if role is Role.OFFICER:
        assert len(administrator.people(desk.store, caller)) == 1
        assert administrator.person(desk.store, caller, "p-ila", NOON).person.name == "Ila Marrow"
    else:
        with pytest.raises(NotAllowedError):
            administrator.people(desk.store, caller)


def test_nobody_of_that_id(desk: Desk, admin: Caller) -> None:
    """Said before anything is made; another facility's people are nobody here."""
    other = Desk.at(desk.store)
    added(other)
    acts = _acts(desk, admin)
    for name in ("change_person", "issue_activation", "issue_badge", "end_sessions"):
        with pytest.raises(NotFoundError, match="nobody of the id 'p-ila'"):
            acts[name]()
    assert administrator.people(desk.store, admin) == []


def test_the_access_log_is_read_in_pages_and_by_kind(desk: Desk, admin: Caller) -> None:
    """From a number on; numbers are those in the entries."""
    for number in range(3):
        added(desk, f"p-{number}")
    whole = administrator.access_entries(desk.store, admin, 0, 100)
    assert [seq for seq, _ in whole] == list(range(1, 7))
    assert administrator.access_entries(desk.store, admin, 4, 1) == [whole[4]]
    kind = AccessKind.PERSON_ADDED
    found = administrator.access_entries(desk.store, admin, 0, 100, kind)
    assert [json.loads(body)["kind"] for _, body in found] == ["person_added"] * 3
