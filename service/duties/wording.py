"""Say in the trade's words what is malformed about a submitted event."""

from pydantic import ValidationError

from service.custody.events import KINDS

_KINDS = ", ".join(str(k.model_fields["kind"].default) for k in KINDS)
_PLAIN = {
    "missing": "is missing",
    "extra_forbidden": "is not a field of this kind of event",
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
_IN_AN_ADDRESS = {
    "extra_forbidden": "is not a parameter of this address",
    "string_pattern_mismatch": "is not written as this address asks: see /openapi.json",
}


def malformed(error: ValidationError) -> str:
    """Give one sentence for each problem, with the field it is about."""
    faults = error.errors(include_url=False)
    return "; ".join(dict.fromkeys(in_words(e["type"], e["loc"], e["msg"]) for e in faults))


def in_words(kind: str, where: tuple[int | str, ...], message: str) -> str:
    """Give the sentence for one error of the checking library: its type, place and message."""
    names = {str(k.model_fields["kind"].default) for k in KINDS}
    field = ".".join(str(part) for part in where if part not in names)
    if kind in _IN_AN_ADDRESS and where[:1] in (("query",), ("path",)):
        return f"{field} {_IN_AN_ADDRESS[kind]}"
    if kind == "value_error":
        return message.removeprefix("Value error, ")
    if kind.startswith("datetime"):
        return f"{field} is not a date and time with zone, such as 2026-07-01T10:00:00+05:30"
    said = _PLAIN.get(kind) or _must(message)
    return said if said.startswith("kind ") else f"{field or 'it'} {said}"


def _must(message: str) -> str:
    if message.startswith("Input should "):
        return message.replace("Input should ", "must ", 1)
    return message[:1].lower() + message[1:]
