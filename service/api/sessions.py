"""Signing in and out, and what somebody changes about themselves.

A session's token is in a cookie that scripts cannot read, and nowhere else. Each signing-in makes a
new one, and ends the one that the browser came with.
"""

from typing import Any

from fastapi import APIRouter, HTTPException, Request, Response

from service.access.people import Session
from service.api.access_problems import told_unfit
from service.api.bodies import read_as, schema
from service.api.doors import (
    Call,
    Known,
    Submitted,
    SubmittedByVisitor,
    Visit,
    Visiting,
)
from service.api.people_examples import (
    BADGE_SIGN_IN,
    FACTOR_CONFIRMATION,
    PASSWORD_CHANGE,
    PASSWORD_SETTING,
    PIN_CHANGE,
    SIGN_IN,
)
from service.api.people_views import Ended, SessionView
from service.api.problems import documented
from service.api.session_views import (
    BadgeSignIn,
    FactorConfirmation,
    FactorOffered,
    Me,
    PasswordChange,
    PasswordSet,
    PasswordSetting,
    PinChange,
    Sessions,
    SignIn,
)
from service.duties import access, own_credentials, signing_in
from service.duties import sessions as kept_sessions
from service.duties.sessions import SignedIn
from service.web.credentials import DEVICE_COOKIE, SESSION_COOKIE

router = APIRouter(prefix="/v1", tags=["signing in"])

OPEN: dict[str, Any] = {"security": [{}]}
"""Beside the token that may be shown: none need be."""


@router.post(
    "/sign-in",
    summary="Sign in at a desk",
    operation_id="sign_in",
    responses=documented(403, 422, 429),
    openapi_extra={**schema("SignIn", examples=SIGN_IN), **OPEN},
)
def sign_in(
    visit: Visiting, submitted: SubmittedByVisitor, request: Request, response: Response
) -> Me:
    """Open a session with person id, password, and a code of the moment where a factor is set.

    The session is kept in a cookie. Unknown person, wrong password and wrong code are answered
    alike.
    """
    asked = read_as(SignIn, submitted)
    with told_unfit():
        signed = signing_in.by_password(
            visit.store,
            asked.facility,
            asked.person,
            asked.password.get_secret_value(),
            asked.code.get_secret_value() if asked.code else None,
            source(request),
            visit.now,
            visit.request,
        )
    return _opened(visit, signed, request, response)


@router.post(
    "/sign-in/badge",
    summary="Sign in at a shared device",
    operation_id="sign_in_by_badge",
    responses=documented(403, 409, 422, 429),
    openapi_extra={**schema("BadgeSignIn", examples=BADGE_SIGN_IN), **OPEN},
)
def sign_in_by_badge(
    visit: Visiting, submitted: SubmittedByVisitor, request: Request, response: Response
) -> Me:
    """Open a session with badge and PIN, on an enrolled device only.

    409 means that the PIN is right and is a first one: send it again with `new_pin`.
    """
    asked = read_as(BadgeSignIn, submitted)
    if visit.device is None:
        told = "this device is not enrolled: badge and PIN count on an enrolled one alone"
        raise HTTPException(401, told, {"WWW-Authenticate": "Bearer"})
    with told_unfit():
        signed = signing_in.by_badge(
            visit.store,
            visit.device,
            asked.badge.get_secret_value(),
            asked.pin.get_secret_value(),
            asked.new_pin.get_secret_value() if asked.new_pin else None,
            visit.now,
            visit.request,
        )
    return _opened(visit, signed, request, response)


@router.post(
    "/password",
    summary="Set a password with an activation code",
    operation_id="set_password",
    responses=documented(403, 422, 429),
    openapi_extra={**schema("PasswordSetting", examples=PASSWORD_SETTING), **OPEN},
)
def set_password(visit: Visiting, submitted: SubmittedByVisitor, request: Request) -> PasswordSet:
    """Set a first or a new password; the code is used up, and all sessions of the person end."""
    asked = read_as(PasswordSetting, submitted)
    with told_unfit():
        person = signing_in.set_password(
            visit.store,
            asked.facility,
            asked.activation.get_secret_value(),
            asked.password.get_secret_value(),
            source(request),
            visit.now,
            visit.request,
        )
    return PasswordSet(person=person)


@router.get("/me", summary="Ask who one is", operation_id="show_me", responses=documented(403))
def me(call: Known) -> Me:
    """Give who asks: a person who is signed in, an enrolled device, or a program."""
    return _me(call)


@router.post(
    "/sign-out", summary="Sign out", operation_id="sign_out", responses=documented(403, 422)
)
def sign_out(call: Known, response: Response) -> Ended:
    """End this session; a shared device stays enrolled, and keeps what it has still to send."""
    kept_sessions.sign_out(call.store, call.caller, call.now)
    _forget(response)
    return Ended(ended=1)


@router.post(
    "/sign-out/everywhere",
    summary="End all sessions of one's own",
    operation_id="sign_out_everywhere",
    responses=documented(403, 422),
)
def sign_out_everywhere(call: Known, response: Response) -> Ended:
    """End this session and every other of the same person."""
    ended = kept_sessions.sign_out_everywhere(call.store, call.caller, call.now)
    _forget(response)
    return Ended(ended=ended)


@router.get(
    "/me/sessions",
    summary="List one's own sessions",
    operation_id="list_my_sessions",
    responses=documented(403, 422),
)
def sessions(call: Known) -> Sessions:
    """Give the sessions of this person that stand, latest first."""
    found = kept_sessions.my_sessions(call.store, call.caller, call.now)
    return Sessions(sessions=[SessionView.of(session, call.caller) for session in found])


@router.post(
    "/me/password",
    summary="Change one's password",
    operation_id="change_password",
    responses=documented(403, 422, 429),
    openapi_extra=schema("PasswordChange", examples=PASSWORD_CHANGE),
)
def change_password(call: Known, submitted: Submitted) -> Me:
    """Put a new password in place of the old one; other sessions of the person end."""
    asked = read_as(PasswordChange, submitted)
    old, new = asked.old.get_secret_value(), asked.new.get_secret_value()
    with told_unfit():
        own_credentials.change_password(call.store, call.caller, old, new, call.now)
    return _me(call)


@router.post(
    "/me/pin",
    summary="Change one's PIN",
    operation_id="change_pin",
    responses=documented(403, 422, 429),
    openapi_extra=schema("PinChange", examples=PIN_CHANGE),
)
def change_pin(call: Known, submitted: Submitted) -> Me:
    """Put a new PIN in place of the old one."""
    asked = read_as(PinChange, submitted)
    old, new = asked.old.get_secret_value(), asked.new.get_secret_value()
    with told_unfit():
        own_credentials.change_pin(call.store, call.caller, old, new, call.now)
    return _me(call)


@router.post(
    "/me/second-factor",
    summary="Ask for a second factor",
    operation_id="offer_second_factor",
    responses=documented(403, 422),
)
def offer_second_factor(call: Known) -> FactorOffered:
    """Give the secret of codes of the moment (RFC 6238); it counts once it was confirmed."""
    with told_unfit():
        offer = own_credentials.offer_second_factor(call.store, call.caller, call.now)
    return FactorOffered(secret=offer.secret, uri=offer.uri)


@router.post(
    "/me/second-factor/confirmation",
    summary="Confirm a second factor by a first code",
    operation_id="confirm_second_factor",
    responses=documented(403, 422, 429),
    openapi_extra=schema("FactorConfirmation", examples=FACTOR_CONFIRMATION),
)
def confirm_second_factor(call: Known, submitted: Submitted, response: Response) -> Me:
    """Set the factor that was offered; a new session comes in place of this one."""
    asked = read_as(FactorConfirmation, submitted)
    code = asked.code.get_secret_value()
    with told_unfit():
        signed = own_credentials.confirm_second_factor(call.store, call.caller, code, call.now)
    keep(response, SESSION_COOKIE, signed.token, _lasts(signed.session))
    return Me.of(signed.caller, signed.person.name)


def source(request: Request) -> str:
    """Give where a request came from, for counting failed attempts; it is kept nowhere else."""
    return request.client.host if request.client else ""


def keep(response: Response, name: str, token: str, seconds: int) -> None:
    """Have the browser keep a token in a cookie that no script reads and no other site sends."""
    response.set_cookie(name, token, seconds, secure=True, httponly=True, samesite="lax")


def _me(call: Call) -> Me:
    return Me.of(call.caller, kept_sessions.my_name(call.store, call.caller))


def _opened(visit: Visit, signed: SignedIn, request: Request, response: Response) -> Me:
    """Give the browser its new session; the one that it came with, whosever it was, ends."""
    shown = access.Shown(
        device=request.cookies.get(DEVICE_COOKIE, ""),
        session=request.cookies.get(SESSION_COOKIE, ""),
        request=visit.request,
    )
    before = access.caller_of(visit.store, shown, visit.now) if shown.session else None
    if before is not None and before.kind is access.Kind.PERSON:
        kept_sessions.sign_out(visit.store, before, visit.now)
    keep(response, SESSION_COOKIE, signed.token, _lasts(signed.session))
    return Me.of(signed.caller, signed.person.name)


def _lasts(session: Session) -> int:
    return int((session.expires_at - session.created_at).total_seconds())


def _forget(response: Response) -> None:
    """Have the browser drop the session.

    What it has in its storage stays: there lies what was not sent yet.
    """
    response.delete_cookie(SESSION_COOKIE, secure=True, httponly=True, samesite="lax")
    response.headers["Clear-Site-Data"] = '"cache"'
