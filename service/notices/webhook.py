"""A notice as a request to another program, signed so that it knows from whom it is.

The body is a CloudEvent in JSON. The signature is HMAC-SHA-256 over method, address, digest and
type of the body (RFC 9421 HTTP Message Signatures, RFC 9530 Digest Fields).
"""

import json
from datetime import datetime

import httpx
from http_message_signatures import HTTPMessageSigner, HTTPSignatureKeyResolver, algorithms

from service.notices.notice import Notice, envelope
from service.notices.recipients import Recipient, secret

MEDIA_TYPE = "application/cloudevents+json; charset=utf-8"
COVERED = ("@method", "@target-uri", "content-type")
LABEL = "custody"
WAIT_S = 10


class TurnedAwayError(OSError):
    """The program answered with something other than success."""


class _Key(HTTPSignatureKeyResolver):
    def __init__(self, key: bytes) -> None:
        self._key = key

    def resolve_private_key(self, key_id: str) -> bytes:  # noqa: ARG002
        return self._key


def request_of(to: Recipient, notice: Notice, now: datetime) -> httpx.Request:
    """Make the signed request; ``now`` stands in the signature, so that an old one is known."""
    assert to.webhook is not None
    assert to.key_file is not None
    body = json.dumps(envelope(notice), ensure_ascii=False).encode()
    made = httpx.Request("POST", to.webhook, content=body, headers={"Content-Type": MEDIA_TYPE})
    HTTPMessageSigner(
        signature_algorithm=algorithms.HMAC_SHA256, key_resolver=_Key(secret(to.key_file))
    ).sign(made, key_id=to.name, created=now, covered_component_ids=COVERED, label=LABEL, body=body)
    return made


def send_request(made: httpx.Request) -> None:
    """Send it; it leads nowhere else, and no proxy of the environment sees it.

    Raises:
        TurnedAwayError: the answer was no success.
        httpx.HTTPError: there was none.
    """
    with httpx.Client(timeout=WAIT_S, follow_redirects=False, trust_env=False) as client:
        answer = client.send(made)
    if not answer.is_success:
        raise TurnedAwayError(f"answered {answer.status_code}")
