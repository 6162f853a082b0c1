"""Container ids with an ISO 7064 check character, and the keyed tag that shows a label is ours.

An id is eleven characters of an alphabet without look-alikes and one check character of ISO 7064
MOD 37,36. Ids whose check character would be a look-alike are never issued.
"""

import hashlib
import hmac
import json
from collections.abc import Callable
from uuid import UUID

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32 (2002): no I, L, O, U."""
LENGTH = 12
TAG_LENGTH = 7

_ALPHANUMERIC = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_LOOK_ALIKES = str.maketrans({"O": "0", "I": "1", "L": "1", " ": None, "-": None})


class MalformedIdError(ValueError):
    """What was typed or read cannot be a container id; the message says what to look at."""


def check_character(body: str) -> str:
    """Give the ISO 7064 MOD 37,36 check character (hybrid system) of a string of 0-9 A-Z."""
    product = 36
    for character in body:
        total = (product + _ALPHANUMERIC.index(character)) % 36 or 36
        product = total * 2 % 37
    return _ALPHANUMERIC[(37 - product) % 36]


def new_id(random_below: Callable[[int], int]) -> str:
    """Make an unguessable id; ``random_below(n)`` gives a whole number from 0 to n - 1.

    Ids are drawn until the check character is none that people misread.
    """
    while True:
        body = "".join(ALPHABET[random_below(32)] for _ in range(LENGTH - 1))
        check = check_character(body)
        if check in ALPHABET:
            return body + check


def derived_id(keeper: str, number: str) -> str:
    """Make the id of a container that another list knows by a number of its own.

    The same keeper and number give the same id for ever; two of a million containers share one
    with a chance of about one in 70,000 (55 bits of SHA-256).
    """
    salt = 0
    while True:
        digest = hashlib.sha256(json.dumps([keeper, number, salt]).encode()).digest()
        bits = int.from_bytes(digest[:8], "big")
        body = "".join(ALPHABET[bits >> 5 * i & 31] for i in range(LENGTH - 1))
        check = check_character(body)
        if check in ALPHABET:
            return body + check
        salt += 1


def name_based(namespace: UUID, name: str) -> UUID:
    """Make an id from a name: UUIDv8 of SHA-256 (RFC 9562 §5.8, laid out as in Appendix B.2)."""
    digest = hashlib.sha256(namespace.bytes + name.encode()).digest()
    number = int.from_bytes(digest[:16], "big")
    number = number & ~(0xF << 76) | 8 << 76
    return UUID(int=number & ~(0b11 << 62) | 0b10 << 62)


def is_valid(container_id: str) -> bool:
    """Say whether the string is an id exactly as issued: length, alphabet and check character."""
    return (
        len(container_id) == LENGTH
        and all(c in ALPHABET for c in container_id)
        and check_character(container_id[:-1]) == container_id[-1]
    )


def plain(text: str) -> str:
    """Take out spaces and hyphens and write capitals and digits for what looks like them."""
    return text.upper().translate(_LOOK_ALIKES)


def typed(text: str) -> str:
    """Read an id as a person types it: spaces, hyphens, small letters, O for 0, I or L for 1.

    Raises:
        MalformedIdError: wrong length, a character no id has, or a wrong check character.
    """
    container_id = plain(text)
    if len(container_id) != LENGTH:
        raise MalformedIdError(
            f"'{text}' has {len(container_id)} characters; a container id has {LENGTH}"
        )
    strangers = sorted({c for c in container_id if c not in ALPHABET})
    if strangers:
        raise MalformedIdError(f"'{text}' holds {' '.join(strangers)}, which no container id has")
    if not is_valid(container_id):
        raise MalformedIdError(
            f"the check character of {grouped(container_id)} is wrong: compare the three groups "
            "with the label"
        )
    return container_id


def grouped(container_id: str) -> str:
    """Write the id in groups of four, as on the label."""
    return " ".join(container_id[i : i + 4] for i in range(0, len(container_id), 4))


def tag(container_id: str, key: bytes) -> str:
    """Give the label's keyed tag: 35 bits of HMAC-SHA-256 in the id's alphabet.

    It shows that the label was issued with the key. It does not show that the label was not copied.
    """
    digest = hmac.new(key, container_id.encode(), hashlib.sha256).digest()
    number = int.from_bytes(digest[:8], "big")
    return "".join(ALPHABET[number >> 5 * i & 31] for i in range(TAG_LENGTH))


def tag_matches(container_id: str, presented: str, key: bytes) -> bool:
    """Compare a presented tag in constant time."""
    return hmac.compare_digest(tag(container_id, key).encode(), presented.encode())
