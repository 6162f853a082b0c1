"""The handler's duties: close a consignment, giving it a number of its own."""

from typing import Any
from uuid import UUID

from service.custody.identifiers import ALPHABET, check_character
from service.duties.access import Caller
from service.duties.record import Told, record_events
from service.store.append import Outcome
from service.store.store import Store


def consignment_number(event_id: UUID) -> str:
    """Make a consignment's number from the id of the event that closes it.

    The same request again gives the same number. Eight characters and a check character.
    """
    number = event_id.int & (1 << 40) - 1
    body = "".join(ALPHABET[number >> 5 * i & 31] for i in range(8))
    return f"C{body}{check_character(body)}"


def dispatch(
    store: Store, caller: Caller, submitted: dict[str, Any], told: Told
) -> tuple[str, Outcome]:
    """Record that a consignment leaves; without a number of its own it is given one."""
    event = {**submitted, "kind": "dispatched"}
    if not event.get("consignment"):
        try:
            event["consignment"] = consignment_number(UUID(str(event.get("id"))))
        except ValueError:
            event["consignment"] = None  # the missing or malformed id is refused below
    outcome = record_events(store, caller, [event], told)[0]
    return str(event["consignment"]), outcome
