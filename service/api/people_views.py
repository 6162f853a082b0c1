"""People at the doors, as models: who they are, how far they reach, what they are given.

What is secret is read into values that do not print themselves, and goes out once at most.
"""

from datetime import datetime
from typing import Annotated, Any, Self

from pydantic import ConfigDict, Field, Secret

from service.access.caller import Caller, Proof, Scope
from service.access.lifetimes import ACTIVATION
from service.access.people import CredentialKind, Person, Session
from service.api.views import Moment, Order, View
from service.custody.fields import Instant, Name, Truth
from service.custody.site import Id
from service.custody.words import Role
from service.duties.administrator import UNCHANGED

Password = Secret[Annotated[str, Field(min_length=1, max_length=1_024)]]
Code = Secret[Annotated[str, Field(min_length=1, max_length=100)]]
"""A badge's, an activation's, an enrolment's, one of the moment, or a PIN."""


class SecretOrder(Order):
    """A body with something secret in it: what is wrong with it is told without repeating it."""

    model_config = ConfigDict(extra="forbid", hide_input_in_errors=True)


def _may_repeat(described: dict[str, Any]) -> None:
    """One named twice is named: a set is described without asking for what is not refused."""
    described.pop("uniqueItems", None)


Ids = Annotated[frozenset[Id], Field(max_length=500, json_schema_extra=_may_repeat)]


class Reach(Order):
    """The units and parties somebody acts for; naming none means the whole facility."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)

    units: Ids = frozenset()
    parties: Ids = frozenset()

    @property
    def scope(self) -> Scope:
        """The scope it stands for."""
        return Scope(self.units, self.parties)


class Reached(View):
    """The units and parties somebody acts for, by id; none at all means the whole facility."""

    units: list[str]
    parties: list[str]

    @classmethod
    def of(cls, scope: Scope) -> Self:
        """Show a scope."""
        return cls(units=sorted(scope.units), parties=sorted(scope.parties))


class SessionView(View):
    """One session that stands; ``current`` is the one that asks."""

    device: str | None
    proof: Proof
    created_at: Moment
    idle_until: Moment
    expires_at: Moment
    current: bool

    @classmethod
    def of(cls, session: Session, caller: Caller) -> Self:
        """Show a session; nothing of its token."""
        return cls(
            device=session.device or None,
            proof=session.proof,
            created_at=session.created_at,
            idle_until=session.idle_until,
            expires_at=session.expires_at,
            current=session.token_hash == caller.session,
        )


class Ended(View):
    """How many sessions or tokens ended."""

    ended: int


class NewPersonOrder(Order):
    """Somebody who is to sign in; without an ``id`` one is made that tells nothing of them."""

    name: Name
    role: Role
    scope: Reach = Reach()
    id: Id | None = None
    valid_until: Instant | None = None


def _unchanged() -> Any:
    return UNCHANGED


class PersonChange(Order):
    """What is to be different about a person; what is left out stays."""

    name: Name = Field(default_factory=_unchanged)
    role: Role = Field(default_factory=_unchanged)
    scope: Reach = Field(default_factory=_unchanged)
    valid_until: Instant | None = Field(default_factory=_unchanged)
    disabled: Truth = Field(default_factory=_unchanged)


class PersonView(View):
    """Somebody who may sign in."""

    id: str
    name: str
    role: Role
    scope: Reached
    valid_until: Moment | None
    disabled_at: Moment | None

    @classmethod
    def of(cls, person: Person) -> Self:
        """Show a person."""
        return cls(scope=Reached.of(person.scope), **said_of(person, cls))


class PersonDetail(PersonView):
    """Somebody, with the kinds of what they prove by and their sessions."""

    credentials: list[CredentialKind]
    sessions: list[SessionView]


class People(View):
    """Everybody who may or might sign in, by id."""

    people: list[PersonView]


class ActivationIssued(View):
    """A code by which a password is set, once; it is shown this once and not kept."""

    person: str
    activation: str
    expires_at: Moment

    @classmethod
    def of(cls, person: str, activation: str, now: datetime) -> Self:
        """Show a code that was made now."""
        return cls(person=person, activation=activation, expires_at=now + ACTIVATION)


class PersonAdded(View):
    """A new person, and the code by which they set their password."""

    person: PersonView
    activation: ActivationIssued


class BadgeIssued(View):
    """What to print on a badge, and the first PIN; shown this once and not kept."""

    person: str
    badge: str
    first_pin: str


def said_of(value: object, model: type[View]) -> dict[str, Any]:
    """Give the fields of a model as a value has them, but for the scope, which is shown apart."""
    return {name: getattr(value, name) for name in model.model_fields if name != "scope"}
