"""People: who may sign in, with what role and reach, and what they prove it by.

For administrators; officers read. Every change is in the access log.
"""

from typing import Annotated

from fastapi import APIRouter, Path, Response

from service.api.access_problems import told_unfit
from service.api.bodies import read_as, schema
from service.api.doors import Call, Known, Submitted
from service.api.people_examples import NEW_PERSON, PERSON_CHANGE
from service.api.people_views import (
    ActivationIssued,
    BadgeIssued,
    Ended,
    NewPersonOrder,
    People,
    PersonAdded,
    PersonChange,
    PersonDetail,
    PersonView,
    Reach,
    SessionView,
)
from service.api.problems import documented
from service.custody.site import Id
from service.duties import administrator
from service.duties.administrator import NewPerson

router = APIRouter(prefix="/v1/people", tags=["people"])

PersonId = Annotated[Id, Path(description="The person's id.", examples=["p-4k7q2m"])]


@router.get("", summary="List people", operation_id="list_people", responses=documented(403))
def listed(call: Known) -> People:
    """Give everybody of the facility, by id, those who were shut out too."""
    found = administrator.people(call.store, call.caller)
    return People(people=[PersonView.of(person) for person in found])


@router.post(
    "",
    status_code=201,
    summary="Add a person",
    operation_id="add_person",
    responses=documented(403, 422),
    openapi_extra=schema("NewPersonOrder", examples=NEW_PERSON),
)
def add(call: Known, submitted: Submitted, response: Response) -> PersonAdded:
    """Add somebody, and give the code by which they set their password within a day.

    Hand the code to them alone: it is shown this once. An inspector needs `valid_until`.
    """
    asked = read_as(NewPersonOrder, submitted)
    new = NewPerson(asked.name, asked.role, asked.scope.scope, asked.id, asked.valid_until)
    with told_unfit():
        person, code = administrator.add_person(call.store, call.caller, new, call.now)
    response.headers["Location"] = f"/v1/people/{person.id}"
    return PersonAdded(
        person=PersonView.of(person),
        activation=ActivationIssued.of(person.id, code, call.now),
    )


@router.get(
    "/{person}",
    summary="Look up one person",
    operation_id="look_up_person",
    responses=documented(403, 404, 422),
)
def one(call: Known, person: PersonId) -> PersonDetail:
    """Give somebody, with the kinds of what they prove by and the sessions that stand."""
    return _shown(call, person)


@router.patch(
    "/{person}",
    summary="Change a person",
    operation_id="change_person",
    responses=documented(403, 404, 422),
    openapi_extra=schema("PersonChange", examples=PERSON_CHANGE),
)
def change(call: Known, person: PersonId, submitted: Submitted) -> PersonView:
    """Change name, role, scope or how long somebody may come in, or shut them out.

    Their sessions end with any change but that of the name. The last administrator who may come in
    stays one.
    """
    asked = read_as(PersonChange, submitted)
    scope = asked.scope.scope if isinstance(asked.scope, Reach) else asked.scope
    with told_unfit():
        changed = administrator.change_person(
            call.store,
            call.caller,
            person,
            call.now,
            name=asked.name,
            role=asked.role,
            scope=scope,
            valid_until=asked.valid_until,
            disabled=asked.disabled,
        )
    return PersonView.of(changed)


@router.post(
    "/{person}/activation",
    status_code=201,
    summary="Have a person set a new password",
    operation_id="issue_activation",
    responses=documented(403, 404, 422),
)
def activate(call: Known, person: PersonId) -> ActivationIssued:
    """Give a code by which they set a password within a day; the old one and all sessions end."""
    with told_unfit():
        code = administrator.issue_activation(call.store, call.caller, person, call.now)
    return ActivationIssued.of(person, code, call.now)


@router.post(
    "/{person}/badge",
    status_code=201,
    summary="Give a person a badge",
    operation_id="issue_badge",
    responses=documented(403, 404, 422),
)
def give_badge(call: Known, person: PersonId) -> BadgeIssued:
    """Give what to print on a badge, and a first PIN; the old badge and PIN end at once."""
    with told_unfit():
        badge = administrator.issue_badge(call.store, call.caller, person, call.now)
    return BadgeIssued(person=person, badge=badge.code, first_pin=badge.first_pin)


@router.delete(
    "/{person}/badge",
    summary="Take a person's badge",
    operation_id="revoke_badge",
    responses=documented(403, 404, 422),
)
def take_badge(call: Known, person: PersonId) -> PersonDetail:
    """End badge and PIN, as when a badge was lost."""
    administrator.revoke_badge(call.store, call.caller, person, call.now)
    return _shown(call, person)


@router.delete(
    "/{person}/second-factor",
    summary="Take a person's second factor",
    operation_id="reset_second_factor",
    responses=documented(403, 404, 422),
)
def take_factor(call: Known, person: PersonId) -> PersonDetail:
    """End the second factor, as when a telephone was lost; they set a new one at the next start."""
    administrator.reset_second_factor(call.store, call.caller, person, call.now)
    return _shown(call, person)


@router.delete(
    "/{person}/sessions",
    summary="End a person's sessions",
    operation_id="end_sessions",
    responses=documented(403, 404, 422),
)
def end_sessions(call: Known, person: PersonId) -> Ended:
    """Sign somebody out everywhere; they may sign in again."""
    ended = administrator.end_sessions(call.store, call.caller, person, call.now)
    return Ended(ended=ended)


def _shown(call: Call, person: str) -> PersonDetail:
    found = administrator.person(call.store, call.caller, person, call.now)
    return PersonDetail(
        **PersonView.of(found.person).model_dump(),
        credentials=sorted(found.credentials),
        sessions=[SessionView.of(session, call.caller) for session in found.sessions],
    )
