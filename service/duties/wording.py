"""Say in the trade's words what is malformed about a submitted event, or any other body."""

import re

from pydantic import ValidationError

from service.custody.events import KINDS

_NAMES = tuple(str(k.model_fields["kind"].default) for k in KINDS)
_KINDS = ", ".join(_NAMES)
_PLAIN = {
    "missing": "is missing",
    "extra_forbidden": "is not a field of this body",
    "timezone_aware": "has no time zone: write it with Z or an offset such as +05:30",
    "int_type": "must be a whole number",
    "bool_type": "must be true or false",
    "string_type": "must be text",
    "string_pattern_mismatch": "holds a control character",
    "dict_type": "must be an object",
    "model_type": "must be an object",
    "model_attributes_type": "must be an object",
    "tuple_type": "must be a list",
    "uuid_parsing": "is not a UUID",
    "uuid_type": "is not a UUID",
    "union_tag_invalid": f"kind is none of: {_KINDS}",
    "union_tag_not_found": f"kind is missing; it is one of: {_KINDS}",
}
_ID = "[a-z0-9]"
"""What stands in the pattern of ids, and in no other that a body is held to."""
_SHOULD = re.compile(r"\w+ should (?=be|have)")
_IN_AN_ADDRESS = {
    "extra_forbidden": "is not a parameter of this address",
    "string_pattern_mismatch": "is not written as this address asks: see /openapi.json",
}


def malformed(error: ValidationError) -> str:
    """Give one sentence for each problem of an event, with the field it is about."""
    told = []
    for fault in error.errors(include_url=False):
        where = tuple(part for part in fault["loc"] if part not in _NAMES)  # the kind is no field
        if fault["type"] == "extra_forbidden":
            told.append(f"{_field(where)} is not a field of this kind of event")
        else:
            told.append(in_words(fault["type"], where, fault["msg"]))
    return "; ".join(dict.fromkeys(told))


def in_words(kind: str, where: tuple[int | str, ...], message: str) -> str:
    """Give the sentence for one error of the checking library: its type, place and message."""
    field = _field(where)
    if kind in _IN_AN_ADDRESS and where[:1] in (("query",), ("path",)):
        return f"{field} {_IN_AN_ADDRESS[kind]}"
    if kind == "value_error":
        return message.removeprefix("Value error, ")
    if kind.startswith("datetime"):
        return f"{field} is not a date and time with zone, such as 2026-07-01T10:00:00+05:30"
    if kind.startswith("date_"):
        return f"{field} is not a day, such as 2026-07-31"
    if kind == "string_pattern_mismatch" and _ID in message:
        return f"{field} is no id: small letters, digits and hyphens, 63 at most"
    said = _PLAIN.get(kind) or _must(message)
    return said if said.startswith("kind ") else f"{field} {said}"


def _field(where: tuple[int | str, ...]) -> str:
    return ".".join(map(str, where)) or "it"


def _must(message: str) -> str:
    if _SHOULD.match(message):  # such as: String should have at least 1 character
        return _SHOULD.sub("must ", message, count=1)
    return message[:1].lower() + message[1:]
