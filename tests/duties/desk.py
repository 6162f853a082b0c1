"""The invented hospital as its duties meet it: a store, callers of each role, a clock at noon."""

from dataclasses import dataclass
from datetime import timedelta
from itertools import count
from secrets import token_hex
from typing import Any

from scenario.hospital import load_site
from service.access.people import Person
from service.custody.words import Role
from service.duties.access import Caller
from service.duties.record import Outcome, Told, record_events
from service.store import identities
from service.store.store import Store
from tests.api.client import LABEL_KEY, NOON

_RUN = token_hex(4)  # a database may outlive a file of tests
_numbers = count(1)


@dataclass
class Desk:
    """One facility of a store."""

    store: Store
    facility: str

    @classmethod
    def at(cls, store: Store) -> "Desk":
        """Set up one more facility in the store."""
        site = load_site().model_copy(update={"id": f"hospital-{_RUN}-{next(_numbers)}"})
        store.set_up(site, NOON - timedelta(days=100), LABEL_KEY)
        return cls(store, site.id)

    def caller(self, role: Role = Role.OFFICER) -> Caller:
        """A caller of a role."""
        return Caller(self.facility, f"{role}-device", role)

    def send(
        self, *raw: Any, role: Role = Role.OFFICER, clock_offset_s: int = 0, hours: float = 0
    ) -> list[Outcome]:
        """Send whatever somebody may send, some hours after noon."""
        told = Told(NOON + timedelta(hours=hours), clock_offset_s)
        return record_events(self.store, self.caller(role), raw, told)

    def take_on(self, person_id: str, role: Role = Role.WARD, **said: Any) -> Person:
        """Let somebody work here."""
        person = Person(self.facility, person_id, f"{person_id} by name", role, **said)
        with self.store.changing(self.facility) as connection:
            identities.keep_person(connection, person)
        return person

    def tell(self, *raw: dict[str, Any], **said: Any) -> list[Outcome]:
        """Send events that are all recorded."""
        outcomes = self.send(*raw, **said)
        assert [o.outcome for o in outcomes] == ["recorded"] * len(raw), outcomes
        return outcomes

    def refused(self, raw: Any, **said: Any) -> str:
        """Send one event that is refused, and give the reason."""
        [outcome] = self.send(raw, **said)
        assert outcome.outcome == "refused"
        return outcome.reason
