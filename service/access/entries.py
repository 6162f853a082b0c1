"""The access log: who came in, who was turned away, who changed what others may do, what went out.

It is a log of its own beside the record, kept and proved in the same way (RFC 9162), and read by
administrators. It names people, devices and programs by their ids alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from service.access.caller import Caller
from service.ledger.leaf import canonical, instant

Told = str | int | Sequence[str]
"""What an entry can say of a thing."""


class AccessKind(StrEnum):
    """What happened, in the past tense."""

    SIGNED_IN = "signed_in"
    SIGN_IN_REFUSED = "sign_in_refused"
    SIGNED_OUT = "signed_out"
    SESSIONS_ENDED = "sessions_ended"
    PERSON_ADDED = "person_added"
    PERSON_CHANGED = "person_changed"
    CREDENTIAL_SET = "credential_set"
    CREDENTIAL_REMOVED = "credential_removed"
    DEVICE_INVITED = "device_invited"
    DEVICE_ENROLLED = "device_enrolled"
    PROGRAM_ADMITTED = "program_admitted"
    CLIENT_REVOKED = "client_revoked"
    REFUSED = "refused"
    """Somebody known asked for what is not theirs."""
    EXPORTED = "exported"
    BUNDLE_CHECKED = "bundle_checked"
    LABELS_PRINTED = "labels_printed"
    LOG_SIGNED = "log_signed"
    LOG_KEY_CHANGED = "log_key_changed"
    LABEL_KEY_CHANGED = "label_key_changed"
    SET_UP = "set_up"
    REBUILT = "rebuilt"


@dataclass(frozen=True, slots=True)
class AccessEntry:
    """One entry.

    Attributes:
        kind: What happened.
        at: When, by the service's clock, UTC.
        actor: The person, device or program that did it; empty where nobody known did.
        device: The enrolled device it was done on, if any.
        request: The id of the request, as the service's own log has it; empty on the command line.
        about: What else there is to say; never a secret, a name of a person or an address.
    """

    kind: AccessKind
    at: datetime
    actor: str
    device: str = ""
    request: str = ""
    about: Mapping[str, Told] = field(default_factory=dict)


def by(caller: Caller, kind: AccessKind, at: datetime, **about: Told) -> AccessEntry:
    """Give the entry of something that a caller did."""
    return AccessEntry(kind, at, caller.name, caller.device, caller.request, about)


def access_log(facility: str) -> str:
    """Give the name under which a facility's access log is kept; no facility can be called so."""
    return f"{facility}.access"


def written(entry: AccessEntry, seq: int) -> str:
    """Write an entry in canonical form (RFC 8785), as it is hashed; what is empty is left out.

    Its number in the log, from 1, is in it: the same done twice at one instant is two entries.
    """
    told = {
        "seq": seq,
        "kind": str(entry.kind),
        "at": instant(entry.at),
        "actor": entry.actor,
        "device": entry.device,
        "request": entry.request,
        "about": dict(entry.about),
    }
    return canonical({key: value for key, value in told.items() if value})
