"""What somebody changes of their own: the password, the PIN, the second factor."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import Connection

from service.access import passwords, second_factor, throttle
from service.access.caller import Caller, Proof
from service.access.entries import AccessKind, by
from service.access.lifetimes import PENDING_FACTOR
from service.access.people import Credential, CredentialKind
from service.access.permissions import NotAllowedError
from service.duties.attempts import (
    AT_DESKS,
    ON_DEVICES,
    Mark,
    SignInError,
    count,
    refuse,
    settle,
    turn,
)
from service.duties.proofs import drop, hash_kept, keep, kept, take_code, told_of, unfit, words_of
from service.duties.sessions import SignedIn, begin, demand_person, end, present
from service.store import access_log, identities
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class Offer:
    """The secret of a second factor, in base 32 and as an ``otpauth://`` address."""

    secret: str = field(repr=False)
    uri: str = field(repr=False)


def change_password(store: Store, caller: Caller, old: str, new: str, now: datetime) -> None:
    """Change the caller's password; their other sessions end.

    Raises:
        SignInError: the old one is wrong.
        UnfitSecretError: the new one may not be chosen.
        WaitError: the old one was wrong too often.
        BusyError: too many sign in at once.
        NotAllowedError: nobody is signed in.
    """
    demand_person(caller, "change_password")
    words = words_of(store, caller.facility)

    def fit(password: str) -> None:
        passwords.demand_fit_password(password, caller.name, words)

    _change(store, caller, CredentialKind.PASSWORD, old, new, fit, now)


def change_pin(store: Store, caller: Caller, old: str, new: str, now: datetime) -> None:
    """Change the caller's PIN; their other sessions end.

    Raises:
        SignInError: the old one is wrong.
        UnfitSecretError: the new one may not be chosen.
        WaitError: the old one was wrong too often.
        BusyError: too many sign in at once.
        NotAllowedError: nobody is signed in.
    """
    demand_person(caller, "change_pin")
    _change(store, caller, CredentialKind.PIN, old, new, passwords.demand_fit_pin, now)


def offer_second_factor(store: Store, caller: Caller, now: datetime) -> Offer:
    """Make the secret of a second factor; it counts once a first code of it came.

    Raises:
        NotAllowedError: the caller came in by a badge, or without the factor that they have set.
    """
    demand_person(caller, "offer_second_factor")
    secret = second_factor.new_secret()
    with store.changing(caller.facility) as connection:
        _demand_own_factor(connection, caller)
        until = now + PENDING_FACTOR
        pending = Credential(CredentialKind.PENDING_FACTOR, secret, now, until)
        identities.keep_credential(connection, caller.facility, caller.name, pending)
        entry = by(
            caller,
            AccessKind.CREDENTIAL_SET,
            now,
            person=caller.name,
            credential=str(CredentialKind.PENDING_FACTOR),
        )
        access_log.record(connection, caller.facility, entry)
    issuer = f"custody {caller.facility}"
    return Offer(secret, second_factor.address(secret, caller.name, issuer))


def confirm_second_factor(store: Store, caller: Caller, code: str, now: datetime) -> SignedIn:
    """Take a second factor into use by its first code.

    All sessions of the caller end, and one that was proved by the factor begins.

    Raises:
        SignInError: the code is wrong, or none was offered within the last hour.
        WaitError: too many codes were wrong.
        NotAllowedError: the caller came in by a badge, or without the factor that they have set.
    """
    demand_person(caller, "confirm_second_factor")
    signed_in = None
    with store.changing(caller.facility) as connection:
        _demand_own_factor(connection, caller)
        person = present(connection, caller, now)
        pending = kept(connection, person, CredentialKind.PENDING_FACTOR, now)
        if person is not None and pending is not None:
            step = take_code(connection, person, pending, code, now)
            if step is not None:
                drop(connection, person, CredentialKind.PENDING_FACTOR)
                kind = CredentialKind.SECOND_FACTOR
                keep(connection, person, Credential(kind, pending.value, now, used_step=step))
                ended = end(connection, caller.facility, person.id, now)
                entry = by(caller, AccessKind.CREDENTIAL_SET, now, **told_of(person, kind, ended))
                access_log.record(connection, caller.facility, entry)
                proof = Proof.SECOND_FACTOR
                signed_in = begin(connection, person, proof, caller.device, now, caller.request)
        if signed_in is None:
            refuse(connection, caller.facility, person, "code", now, caller.request)
    if signed_in is None:
        raise SignInError
    return signed_in


def _demand_own_factor(connection: Connection, caller: Caller) -> None:
    """A badge found on the floor sets no second factor, a password that leaked changes none."""
    if caller.proof is Proof.BADGE:
        raise NotAllowedError("sign in with your password to set a second factor")
    held = identities.credentials(connection, caller.facility, caller.name)
    if CredentialKind.SECOND_FACTOR in held and caller.proof is not Proof.SECOND_FACTOR:
        raise NotAllowedError("sign in with your present second factor to set another")


def _change(
    store: Store,
    caller: Caller,
    kind: CredentialKind,
    old: str,
    new: str,
    fit: Callable[[str], None],
    now: datetime,
) -> None:
    here = caller.facility
    mark = Mark(throttle.subject("own", str(kind), caller.name), throttle.BY_ACCOUNT)
    with turn(ON_DEVICES if caller.device else AT_DESKS):
        with store.changing(here) as connection:
            counted = count(connection, here, (mark,), now)
            before = hash_kept(connection, present(connection, caller, now), kind, now)
        right = passwords.matches(before, old)
        wrong = unfit(fit, old, new) if right else None
        renewed = passwords.hashed(new) if right and not wrong else ""
    with store.changing(here) as connection:
        person = present(connection, caller, now)
        same = right and before == hash_kept(connection, person, kind, now)
        outcome: Exception | None = wrong
        if person is None or not same:
            refuse(connection, here, person, str(kind), now, caller.request, caller.device)
            outcome = SignInError()
        else:
            settle(connection, here, counted, now)
            if wrong is None:
                keep(connection, person, Credential(kind, renewed, now))
                ended = end(connection, here, person.id, now, but=caller.session)
                entry = by(caller, AccessKind.CREDENTIAL_SET, now, **told_of(person, kind, ended))
                access_log.record(connection, here, entry)
    if outcome is not None:
        raise outcome
