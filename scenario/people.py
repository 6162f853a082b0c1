"""Invented people who can sign in at the demonstration, each with a password made for this run.

As a program it gives the code of the moment of a second factor, for who has no telephone at hand:
``python -m scenario.people SECRET``.
"""

import sys
from dataclasses import dataclass
from datetime import UTC, datetime

from rich.console import Console

from service.access.caller import WHOLE, Caller, Scope
from service.access.second_factor import code_of
from service.access.secrets import typed_code
from service.custody.words import Role
from service.duties import administrator, own_credentials, signing_in
from service.duties.administrator import NewPerson
from service.store.store import Store


@dataclass(frozen=True, slots=True)
class SignIn:
    """What somebody types; ``secret`` is that of the second factor, empty where none is asked."""

    person: str
    name: str
    role: Role
    password: str
    secret: str


_THEY = (
    ("p-ward", "Tal Reed", Role.WARD, Scope(units=frozenset({"icu"}))),
    ("p-handler", "Osk Brand", Role.HANDLER, Scope(parties=frozenset({"handlers"}))),
    ("p-plant", "Min Kestrel", Role.PLANT, Scope(parties=frozenset({"plant-kiln"}))),
    ("p-officer", "Ila Marrow", Role.OFFICER, WHOLE),
    ("p-head", "Jun Ferrow", Role.ADMINISTRATOR, WHOLE),
)


def take_on(store: Store, caller: Caller, now: datetime) -> list[SignIn]:
    """Take them on; what they sign in by is drawn at random, and given this once."""
    return [_taken_on(store, caller, now, *each) for each in _THEY]


def _taken_on(
    store: Store, caller: Caller, now: datetime, id_: str, name: str, role: Role, scope: Scope
) -> SignIn:
    new = NewPerson(name, role, scope, id_)
    _, activation = administrator.add_person(store, caller, new, now)
    here, password, secret = caller.facility, typed_code(), ""
    signing_in.set_password(store, here, activation, password, "", now)
    entered = signing_in.by_password(store, here, id_, password, None, "", now)
    if entered.caller.confined:
        secret = own_credentials.offer_second_factor(store, entered.caller, now).secret
        code = code_of(secret, now)
        entered = own_credentials.confirm_second_factor(store, entered.caller, code, now)
    administrator.end_sessions(store, caller, id_, now)
    return SignIn(id_, name, role, password, secret)


def show(people: list[SignIn], console: Console, address: str) -> None:
    """Print what each signs in by, this once."""
    told = f"Invented people, to sign in as at {address} (passwords of this run alone):"
    console.print(told, highlight=False, soft_wrap=True)
    for one in people:
        said = f"  {one.person:10} {one.password}  {one.name}, {one.role}"
        console.print(said, highlight=False, soft_wrap=True)
        if one.secret:
            how = f"python -m scenario.people {one.secret}"
            console.print(f"  {'':10} its code: {how}", highlight=False, soft_wrap=True)


if __name__ == "__main__":
    print(code_of(sys.argv[1], datetime.now(UTC)))  # noqa: T201 - it is what the program is for
