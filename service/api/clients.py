"""Devices and programs: let in, enrolled, turned out."""

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Path, Request, Response

from service.access.lifetimes import ACTIVATION
from service.api.access_problems import told_unfit
from service.api.bodies import read_as, schema
from service.api.client_views import (
    ClientAdmitted,
    Clients,
    ClientView,
    DeviceEnrolled,
    DeviceInvited,
    DeviceOrder,
    Enrolment,
    ProgramOrder,
)
from service.api.doors import Known, Submitted, SubmittedByVisitor, Visiting
from service.api.people_examples import DEVICE, ENROLMENT, PROGRAM
from service.api.people_views import Ended, Reached
from service.api.problems import documented
from service.api.sessions import OPEN, keep, source
from service.custody.fields import Name
from service.duties import administrator, signing_in
from service.duties.lookup import NotFoundError
from service.web.credentials import DEVICE_COOKIE

router = APIRouter(prefix="/v1", tags=["devices and programs"])


@router.get(
    "/clients",
    summary="List devices and programs",
    operation_id="list_clients",
    responses=documented(403),
)
def listed(call: Known) -> Clients:
    """Give every device and program that was ever let in, and codes that were not used yet."""
    found = administrator.clients(call.store, call.caller)
    return Clients(clients=[ClientView.of(client) for client in found])


@router.post(
    "/programs",
    status_code=201,
    summary="Let a program in",
    operation_id="admit_program",
    responses=documented(403, 422),
    openapi_extra=schema("ProgramOrder", examples=PROGRAM),
)
def admit(call: Known, submitted: Submitted) -> ClientAdmitted:
    """Give a program a token of its own; it is shown this once."""
    asked = read_as(ProgramOrder, submitted)
    valid, scope = timedelta(days=asked.valid_days), asked.scope.scope
    with told_unfit():
        token = administrator.admit_program(
            call.store, call.caller, asked.name, asked.role, call.now, valid, scope
        )
    return ClientAdmitted(
        name=asked.name,
        role=asked.role,
        scope=Reached.of(scope),
        expires_at=call.now + valid,
        token=token,
    )


@router.post(
    "/devices",
    status_code=201,
    summary="Invite a shared device",
    operation_id="invite_device",
    responses=documented(403, 422),
    openapi_extra=schema("DeviceOrder", examples=DEVICE),
)
def invite(call: Known, submitted: Submitted) -> DeviceInvited:
    """Give the code that enrols a device within a day; it is shown this once."""
    asked = read_as(DeviceOrder, submitted)
    scope = asked.scope.scope
    with told_unfit():
        code = administrator.invite_device(
            call.store, call.caller, asked.name, asked.role, scope, call.now
        )
    return DeviceInvited(
        name=asked.name,
        role=asked.role,
        scope=Reached.of(scope),
        expires_at=call.now + ACTIVATION,
        code=code,
    )


@router.post(
    "/devices/enrolment",
    status_code=201,
    summary="Enrol a shared device",
    operation_id="enrol_device",
    responses=documented(403, 422, 429),
    openapi_extra={**schema("Enrolment", examples=ENROLMENT), **OPEN},
)
def enrol(
    visit: Visiting, submitted: SubmittedByVisitor, request: Request, response: Response
) -> DeviceEnrolled:
    """Use up the code of an invitation, on the device itself; it is known from then on."""
    asked = read_as(Enrolment, submitted)
    with told_unfit():
        enrolled = signing_in.enrol_device(
            visit.store,
            asked.facility,
            asked.code.get_secret_value(),
            source(request),
            visit.now,
            visit.request,
        )
    in_cookie = asked.keep == "cookie"
    if in_cookie:
        lasts = int((enrolled.expires_at - visit.now).total_seconds())
        keep(response, DEVICE_COOKIE, enrolled.token, lasts)
    device = enrolled.device
    return DeviceEnrolled(
        facility=device.facility,
        name=device.name,
        role=device.role,
        scope=Reached.of(device.scope),
        expires_at=enrolled.expires_at,
        token=None if in_cookie else enrolled.token,
    )


@router.delete(
    "/clients/{name:path}",
    summary="Turn a device or program out",
    operation_id="revoke_client",
    responses=documented(403, 404, 422),
)
def revoke(call: Known, name: Annotated[Name, Path(examples=["ward-tablet-3"])]) -> Ended:
    """End its tokens and codes, and every session on that device, at once."""
    ended = administrator.revoke_client(call.store, call.caller, name, call.now)
    if not ended:
        raise NotFoundError("no device or program of that name holds a token that stands")
    return Ended(ended=ended)
