"""Every door, every role, every reach: who is let through is who the table names, and no other.

The table is ``service.access.permissions``; here stands only how each door is knocked at, and what
is answered to who may.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from fastapi import FastAPI

from scenario.hospital import load_site
from service.access.caller import WHOLE, Caller, Proof, Scope
from service.access.people import Session
from service.access.permissions import (
    OF_THE_WHOLE_RECORD,
    OPEN_TO_ALL,
    OPERATIONS,
    WITHOUT_SECOND_FACTOR,
)
from service.custody.words import Role
from service.store import identities
from service.store.store import Store
from tests.api.browser import Browser, signed_in, take_on
from tests.api.client import NOON, Clock, Device, event, ids, let_in, problem_of, sealed

[BAG] = ids(1, seed=7)
QUARTER = {"from": "2026-07-01T00:00:00Z", "until": "2026-10-01T00:00:00Z"}
UNKNOWN = "019f1a50-0000-7000-8000-00000000ffff"


@dataclass(frozen=True)
class Knock:
    """A request, and the statuses with which one is answered who may send it.

    A body that says nothing is enough to see whether it is looked at: 422 comes after who asks.
    """

    method: str
    address: str
    good: int
    body: Any = None
    asked: dict[str, str] | None = None
    accept: str = "*/*"


KNOCKS: dict[str, Knock] = {
    "list_containers": Knock("GET", "/v1/containers", 200),
    "look_up_container": Knock("GET", f"/v1/containers/{BAG}", 200),
    "read_codes": Knock("POST", "/v1/codes", 422),
    "list_violations": Knock("GET", "/v1/violations", 200),
    "count_violations": Knock("GET", "/v1/violations/counts", 200),
    "list_consignments": Knock("GET", "/v1/consignments", 200),
    "look_up_consignment": Knock("GET", "/v1/consignments/C-1", 200),
    "list_activity": Knock("GET", "/v1/figures/activity", 200),
    "read_rates": Knock("GET", "/v1/figures/rates", 200),
    "compare_shares": Knock("GET", "/v1/figures/shares", 200),
    "draw_charts": Knock("GET", "/v1/figures/charts", 200),
    "read_sorting_errors": Knock("GET", "/v1/figures/errors", 200),
    "balance_masses": Knock("GET", "/v1/figures/masses", 200),
    "balance_needles": Knock("GET", "/v1/figures/needles", 200),
    "read_pits": Knock("GET", "/v1/figures/pits", 200),
    "find_drops": Knock("GET", "/v1/figures/drops", 200),
    "list_returns": Knock("GET", "/v1/returns", 200),
    "fill_return": Knock("GET", "/v1/returns/form-iv/2025", 200),
    "plan_pick_ups": Knock("GET", "/v1/plan", 200),
    "record_events": Knock("POST", "/v1/events", 200, []),
    "close_consignment": Knock("POST", "/v1/consignments", 422, {}),
    "print_blank_labels": Knock("POST", "/v1/labels", 422, {}),
    "print_filled_labels": Knock("POST", "/v1/labels/filled", 422, {}),
    "list_label_stocks": Knock("GET", "/v1/labels/stocks", 200),
    "run_cycle": Knock("POST", "/v1/cycles", 422, {}),
    "attach_trace": Knock("PUT", "/v1/cycles/K-1/trace", 404, {}),
    "list_cycles": Knock("GET", "/v1/cycles", 200),
    "look_up_cycle": Knock("GET", "/v1/cycles/K-1", 404),
    "fetch_trace": Knock("GET", "/v1/cycles/K-1/trace", 404),
    "list_untied_evidence": Knock("GET", "/v1/figures/untied-evidence", 200),
    "list_regimes": Knock("GET", "/v1/regimes", 200),
    "read_regime": Knock("GET", "/v1/regimes/india-2016", 200),
    "read_site": Knock("GET", "/v1/site", 200),
    "read_record": Knock("GET", "/v1/events", 200),
    "fetch_manifest": Knock("GET", "/v1/manifests/2026-Q3", 200, accept="text/csv"),
    "export_epcis": Knock("GET", "/v1/epcis", 200, asked=QUARTER),
    "sign_checkpoint": Knock("GET", "/v1/checkpoint", 200),
    "fetch_log_key": Knock("GET", "/v1/checkpoint/key", 200),
    "prove_inclusion": Knock("GET", f"/v1/proofs/inclusion/{UNKNOWN}", 404),
    "prove_consistency": Knock(
        "GET", "/v1/proofs/consistency", 200, asked={"first": "1", "second": "2"}
    ),
    "read_metrics": Knock("GET", "/metrics", 200),
    "verify_bundle": Knock("POST", "/v1/verifications", 422),
    "show_me": Knock("GET", "/v1/me", 200),
    "sign_out": Knock("POST", "/v1/sign-out", 200),
    "sign_out_everywhere": Knock("POST", "/v1/sign-out/everywhere", 200),
    "list_my_sessions": Knock("GET", "/v1/me/sessions", 200),
    "change_password": Knock("POST", "/v1/me/password", 422, {}),
    "change_pin": Knock("POST", "/v1/me/pin", 422, {}),
    "offer_second_factor": Knock("POST", "/v1/me/second-factor", 200),
    "confirm_second_factor": Knock("POST", "/v1/me/second-factor/confirmation", 422, {}),
    "list_people": Knock("GET", "/v1/people", 200),
    "look_up_person": Knock("GET", "/v1/people/p-target", 200),
    "add_person": Knock("POST", "/v1/people", 422, {}),
    "change_person": Knock("PATCH", "/v1/people/p-target", 200, {"name": "Ila"}),
    "issue_activation": Knock("POST", "/v1/people/p-target/activation", 201),
    "issue_badge": Knock("POST", "/v1/people/p-target/badge", 201),
    "revoke_badge": Knock("DELETE", "/v1/people/p-target/badge", 200),
    "reset_second_factor": Knock("DELETE", "/v1/people/p-target/second-factor", 200),
    "end_sessions": Knock("DELETE", "/v1/people/p-target/sessions", 200),
    "list_clients": Knock("GET", "/v1/clients", 200),
    "admit_program": Knock("POST", "/v1/programs", 422, {}),
    "invite_device": Knock("POST", "/v1/devices", 422, {}),
    "revoke_client": Knock("DELETE", "/v1/clients/nobody", 404),
    "read_access_log": Knock("GET", "/v1/access-log", 200),
    "sign_access_log": Knock("POST", "/v1/access-log/checkpoint", 200),
}
"""How each door is knocked at, by the name of its operation."""

OPEN: dict[str, Knock] = {
    "health": Knock("GET", "/health", 200),
    "sign_in": Knock("POST", "/v1/sign-in", 422, {}),
    "sign_in_by_badge": Knock("POST", "/v1/sign-in/badge", 422, {}),
    "set_password": Knock("POST", "/v1/password", 422, {}),
    "enrol_device": Knock("POST", "/v1/devices/enrolment", 422, {}),
}

AT_THE_TERMINAL = {"change_log_key", "change_label_key", "set_up", "rebuild"}
"""Operations that have a command and no door."""

OF_PEOPLE_ALONE = {
    "sign_out", "sign_out_everywhere", "list_my_sessions", "offer_second_factor",
}  # fmt: skip
"""A device or program has none of it, whatever its role."""

SCOPES = {
    "whole": WHOLE,
    "own unit": Scope(units=frozenset({"icu"})),
    "foreign unit": Scope(units=frozenset({"theatres"})),
    "own party": Scope(parties=frozenset({"plant-kiln"})),
    "foreign party": Scope(parties=frozenset({"handlers"})),
}


@pytest.fixture
def lived(store: Store, clock: Clock, handler: Device, officer: Device) -> Store:
    """A record in which a bag of intensive care left, and somebody to be changed."""
    officer.tell(sealed(BAG))
    leaving = {"carrier": "carrier-quillow", "consignee": "plant-kiln", "consignment": "C-1"}
    handler.tell(event("dispatched", BAG, **leaving))
    take_on(store, clock.now, "p-target", Role.WARD)
    return store


def _knock(browser: Browser, knock: Knock, headers: dict[str, str] | None = None) -> int:
    sent = {} if knock.body is None else {"json": knock.body}
    own = {"Origin": "https://custody.test", "Accept": knock.accept} | (headers or {})
    answer = browser.http.request(
        knock.method, knock.address, headers=own, params=knock.asked, **sent
    )
    if answer.status_code >= 400:
        problem_of(answer, answer.status_code)
    if answer.status_code == 401:  # with the challenge that RFC 6750 (2012) §3 asks for
        assert answer.headers["www-authenticate"].startswith("Bearer")
    assert answer.headers["cache-control"] == "no-store"
    return answer.status_code


def test_every_door_is_in_the_table(app: FastAPI) -> None:
    """And in the list here: no cell is left unchecked."""
    doors = {
        operation["operationId"]: (method.upper(), address)
        for address, operations in app.openapi()["paths"].items()
        for method, operation in operations.items()
    }
    assert set(doors) <= set(OPERATIONS) | OPEN_TO_ALL
    assert set(doors) == set(KNOCKS) | set(OPEN)
    assert set(OPERATIONS) - set(doors) == AT_THE_TERMINAL
    assert set(OPEN) == OPEN_TO_ALL
    for name, knock in (KNOCKS | OPEN).items():
        method, address = doors[name]
        assert method == knock.method, name
        assert knock.address.startswith(address.split("{")[0]), name


@pytest.mark.parametrize("scope", SCOPES)
@pytest.mark.parametrize("role", Role)
def test_a_person_is_let_through_where_the_table_says(
    browser: Browser, lived: Store, clock: Clock, role: Role, scope: str
) -> None:
    """Whatever their scope: it narrows what is seen, shuts what cannot be narrowed, opens none."""
    person = take_on(lived, clock.now, "p-caller", role, scope=SCOPES[scope])
    wrong = []
    for operation, knock in KNOCKS.items():
        signed_in(lived, browser, person, clock.now)
        found = _knock(browser, knock)
        confined = operation in OF_THE_WHOLE_RECORD and not SCOPES[scope].whole
        if confined or role not in OPERATIONS[operation]:
            right = found == 403
        elif scope.startswith("foreign") and operation in _NARROWED:
            right = found == 404
        else:
            right = found == knock.good
        if not right:
            wrong.append((operation, found))
    assert wrong == []


_NARROWED = {"look_up_container", "look_up_consignment"}
"""What is out of reach is answered as if it were not there."""


@pytest.mark.parametrize("role", Role)
def test_a_program_is_let_through_where_the_table_says(
    browser: Browser, lived: Store, role: Role
) -> None:
    """But for what only somebody who is signed in has."""
    headers = {"Authorization": f"Bearer token-{role}"}
    wrong = []
    for operation, knock in KNOCKS.items():
        found = _knock(browser, knock, headers)
        shut = role not in OPERATIONS[operation] or operation in OF_PEOPLE_ALONE
        if found != (403 if shut else knock.good):
            wrong.append((operation, found))
    assert wrong == []


@pytest.mark.parametrize("role", [Role.OFFICER, Role.ADMINISTRATOR])
def test_who_has_to_set_a_second_factor_does_little_else(
    browser: Browser, lived: Store, clock: Clock, role: Role
) -> None:
    """Until then a password alone opens what sets it, and the way out."""
    person = take_on(lived, clock.now, "p-caller", role)
    wrong = []
    for number, (operation, knock) in enumerate(KNOCKS.items()):
        _by_password_alone(lived, browser, person.id, clock, number)
        found = _knock(browser, knock)
        if found != (knock.good if operation in WITHOUT_SECOND_FACTOR else 403):
            wrong.append((operation, found))
    assert wrong == []


def _by_password_alone(
    store: Store, browser: Browser, person: str, clock: Clock, number: int
) -> None:
    token = f"a-token-of-a-session-by-password-alone-{number}"
    until = clock.now.replace(hour=20)
    opened = Session(
        "lantern-hill",
        identities.token_hash(token),
        person,
        "",
        Proof.PASSWORD,
        clock.now,
        until,
        until,
    )
    with store.changing("lantern-hill") as connection:
        identities.open_session(connection, opened)
    browser.come_with(session=token)


def test_without_a_credential_every_door_is_shut_but_those_that_give_one(
    app_with: Callable[..., FastAPI], lived: Store
) -> None:
    """401 comes before anything else is told, such as that a body is malformed."""
    browser = Browser(app_with(failed_sign_ins_per_minute=1_000))
    for operation, knock in KNOCKS.items():
        assert _knock(browser, knock) == 401, operation
        assert _knock(browser, knock, {"Authorization": "Bearer nobody"}) == 401, operation
    browser.come_with(session="nobody", device="nobody")
    for operation, knock in KNOCKS.items():
        assert _knock(browser, knock) == 401, operation


def test_the_doors_open_to_all_ask_for_nothing(browser: Browser) -> None:
    """And what they are sent is looked at."""
    for operation, knock in OPEN.items():
        assert _knock(browser, knock) == knock.good, operation


def test_of_another_facility_nothing_is_found(browser: Browser, lived: Store, clock: Clock) -> None:
    """Whatever is let through there sees none of what is here."""
    lived.set_up(load_site().model_copy(update={"id": "elsewhere"}), clock.now, b"another key")
    let_in(
        lived, Caller("elsewhere", "theirs", Role.ADMINISTRATOR), "theirs", NOON.replace(year=2027)
    )
    headers = {"Authorization": "Bearer theirs"}
    for operation in (
        "look_up_container", "look_up_consignment", "look_up_person", "change_person",
        "issue_activation", "issue_badge", "revoke_badge", "reset_second_factor", "end_sessions",
    ):  # fmt: skip
        assert _knock(browser, KNOCKS[operation], headers) == 404, operation
