"""One notice: a violation that opened, as it is told to one recipient."""

import json
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any

from service.custody.verdict import Violation

ID_BYTES = 16


@dataclass(frozen=True, slots=True)
class Notice:
    """What is told, once to each recipient.

    Attributes:
        id: The same for the same violation and recipient, so that one sent twice is known as one.
        told: The violation's code, severity, container, opening, clause, message, next action.
    """

    id: str
    facility: str
    made_at: datetime
    told: dict[str, str]


def notice_of(facility: str, recipient: str, violation: Violation, now: datetime) -> Notice:
    """Make the notice of a violation."""
    opened = violation.opened_at.isoformat()
    same = json.dumps([facility, recipient, violation.code, violation.container, opened])
    told = {
        "code": str(violation.code),
        "severity": str(violation.severity),
        "container": violation.container,
        "opened_at": opened,
        "clause": violation.clause,
        "message": violation.message,
        "next_action": violation.next_action,
    }
    return Notice(sha256(same.encode()).hexdigest()[: 2 * ID_BYTES], facility, now, told)


def envelope(notice: Notice) -> dict[str, Any]:
    """Give a notice as a CloudEvent in the JSON format (CloudEvents 1.0.2, JSON Event Format)."""
    return {
        "specversion": "1.0",
        "id": notice.id,
        "source": f"/facilities/{notice.facility}",
        "type": f"custody.violation.{notice.told['code']}",
        "subject": notice.told["container"],
        "time": notice.made_at.isoformat(),
        "datacontenttype": "application/json",
        "data": notice.told,
    }
