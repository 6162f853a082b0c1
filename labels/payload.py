"""The text inside a label's QR symbol: an address in capitals, container id and tag as its path.

It knows the shape of the text only; check characters and tags are verified elsewhere.
"""

import re
from urllib.parse import SplitResult, urlsplit

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
ID_CHARACTERS = 12
TAG_CHARACTERS = 7
CHARACTERS_MAX = 50
"""Most characters a payload may have, so that the symbol stays at version 4 at level H."""

_ID = re.compile(f"[{ALPHABET}]{{{ID_CHARACTERS}}}")
_TAG = re.compile(f"[{ALPHABET}]{{{TAG_CHARACTERS}}}")
_HOST = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[0-9]{1,5})?")
_PATH = re.compile(r"(/[0-9A-Z.-]+)*/?")
_TYPED_FOR = str.maketrans({"O": "0", "I": "1", "L": "1"})


def payload(base_url: str, container_id: str, tag: str) -> str:
    """The address to print, as `HTTPS://HOST/ID/TAG`; ValueError says why one cannot be made.

    Only capitals, digits and `: / . -` are used, so that the symbol keeps to the alphanumeric
    mode of ISO/IEC 18004 and stays small. Scheme and host may be given in lower case.
    """
    if not _ID.fullmatch(container_id):
        raise ValueError(f"{container_id!r} is not a container id of {ID_CHARACTERS} characters.")
    if not _TAG.fullmatch(tag):
        raise ValueError(f"{tag!r} is not a tag of {TAG_CHARACTERS} characters.")
    text = f"{_base(base_url)}/{container_id}/{tag}"
    return check(text)


def check(text: str) -> str:
    """The text itself when it can be printed as a payload, else a ValueError with the reason."""
    if len(text) > CHARACTERS_MAX:
        raise ValueError(
            f"The label's address {text!r} has {len(text)} characters; at most {CHARACTERS_MAX} "
            "fit a symbol that still reads when dirty. Use a shorter host name."
        )
    if not re.fullmatch(r"[0-9A-Z$%*+\-./: ]+", text):
        raise ValueError(
            f"The label's address {text!r} must be capitals, digits and : / . - only, "
            "to keep the symbol small."
        )
    return text


def read(text: str) -> tuple[str, str | None]:
    """The container id and, where the text is a label's address, its tag; else a ValueError.

    Takes what a camera, a hand scanner or fingers give: an address in any case, or a bare id
    with spaces, hyphens and small letters. In a bare id O is taken for 0, I and L for 1.
    """
    stripped = text.strip()
    if not stripped:
        raise ValueError("Nothing was scanned or typed.")
    return _read_address(stripped) if "/" in stripped else (_read_bare(stripped), None)


def grouped(container_id: str) -> str:
    """The id as people read it: groups of four, as in `7K3M 92QD F0VX`."""
    return " ".join(container_id[at : at + 4] for at in range(0, len(container_id), 4))


def _base(base_url: str) -> str:
    """Scheme, host and path of the address in capitals, without a slash at its end."""
    try:
        parts = urlsplit(base_url.strip())
    except ValueError as bad:
        raise ValueError(f"{base_url!r} is not a web address: {bad}.") from bad
    if reason := _unfit(parts):
        raise ValueError(f"The address {base_url!r} cannot go on a label: {reason}.")
    return f"{parts.scheme}://{parts.netloc}".upper() + parts.path.rstrip("/")


def _unfit(parts: SplitResult) -> str | None:
    """Why an address cannot be printed on a label, or None."""
    if parts.scheme not in ("https", "http"):
        return "it must start with https:// (or http:// where there is no certificate)"
    if parts.query or parts.fragment:
        return "it has a query or fragment (? or #), which labels do not carry"
    if "@" in parts.netloc:
        return "it has a user name in it"
    if not _HOST.fullmatch(parts.netloc):
        return "its host name must be letters, digits, dots and hyphens"
    if parts.path != parts.path.upper():
        return "its path has small letters; capitals would name another page, so use a bare host"
    if not _PATH.fullmatch(parts.path):
        return "its path may only have capitals, digits, dots and hyphens"
    return None


def _read_address(text: str) -> tuple[str, str | None]:
    segments = [part for part in text.upper().split("/") if part]
    match segments:
        case [*_, container_id, tag] if _ID.fullmatch(container_id) and _TAG.fullmatch(tag):
            return container_id, tag
        case [*_, container_id] if _ID.fullmatch(container_id):
            return container_id, None
    raise ValueError(
        f"{_short(text)} is a web address, but not one of a container label: it must end with "
        f"an id of {ID_CHARACTERS} characters and a tag of {TAG_CHARACTERS}."
    )


def _read_bare(text: str) -> str:
    container_id = re.sub(r"[\s-]", "", text).upper().translate(_TYPED_FOR)
    if len(container_id) != ID_CHARACTERS:
        raise ValueError(
            f"{_short(text)} has {len(container_id)} letters and digits; a container id has "
            f"{ID_CHARACTERS}, in three groups of four."
        )
    if strange := sorted(set(container_id) - set(ALPHABET)):
        raise ValueError(
            f"{_short(text)} has {' '.join(strange)} in it; a container id has only digits "
            "and capitals, without U."
        )
    return container_id


def _short(text: str) -> str:
    """The text quoted, cut where it is too long to show."""
    return repr(text if len(text) <= 60 else text[:59] + "…")
