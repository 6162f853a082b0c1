"""Ids for what a list brings: containers that have numbers elsewhere, and events that have none.

The same number or event of the same keeper gets the same id, in whatever file it comes.
"""

from typing import Any
from uuid import UUID

from labels import payload
from service.custody import identifiers
from service.custody.events import Event
from service.duties.imports.cells import collapsed
from service.duties.imports.fields import MODELS
from service.ledger.leaf import body

NAMESPACE = UUID("6f1c4f0e-9d0b-4c57-8f43-0a6a4d1b7c22")
"""The namespace of the ids of imported events (RFC 9562 §6.6)."""
NIL = UUID(int=0)
NOTE_MAX = 500
_RANK = {kind: place for place, kind in enumerate(MODELS)}
_CODES = ("parent", "outer")
_LISTS = ("containers", "parents")


def event_id(keeper: str, event: Event) -> UUID:
    """Make the id of an imported event from its keeper and all that it says, its id aside.

    A UUIDv8 (RFC 9562 §5.8). Its first byte is the kind's place in a container's life, so that
    what a list says of one minute folds in that order.
    """
    content = body(event.model_copy(update={"id": NIL}))
    name = identifiers.name_based(NAMESPACE, f"{keeper}\n{content}")
    return UUID(int=name.int & (1 << 120) - 1 | _RANK[event.kind] << 120)


def derive_ids(keeper: str, said: dict[str, Any]) -> None:
    """Put ids of ours for numbers of theirs, and keep the numbers in the note."""
    numbers: list[str] = []

    def derived(number: Any) -> str:
        numbers.append(collapsed(str(number)))
        return identifiers.derived_id(keeper, numbers[-1])

    for name in _LISTS:
        if isinstance(said.get(name), list):
            said[name] = [derived(number) for number in said[name]]
    for name in _CODES:
        if said.get(name) is not None:
            said[name] = derived(said[name])
    note = said.get("note", "")
    if numbers and isinstance(note, str):
        said["note"] = _noted(f"{note}; " if note else "", numbers)


def _noted(note: str, numbers: list[str]) -> str:
    """Write as many of the numbers as a note holds; the origin of the event leads to the rest."""
    note += "their number: " if len(numbers) == 1 else "their numbers: "
    most = len(numbers)
    while most > 1 and len(", ".join(numbers[:most])) > NOTE_MAX - len(note):
        most = most * 9 // 10
    more = f" and {len(numbers) - most} more" if most < len(numbers) else ""
    while more and most > 1 and len(note + ", ".join(numbers[:most]) + more) > NOTE_MAX:
        most -= 1
        more = f" and {len(numbers) - most} more"
    return note + ", ".join(numbers[:most]) + more


def with_bare_ids(said: dict[str, Any]) -> dict[str, Any]:
    """Give the event with an id for each scanned code; ids that were typed are put right in it."""
    bare = dict(said)
    for name in _LISTS:
        if isinstance(said.get(name), list):
            said[name] = _grouped_again(said[name])
            bare[name] = [_bare(code) for code in said[name]]
    for name in _CODES:
        if said.get(name) is not None:
            bare[name] = _bare(said[name])
    return bare


def _grouped_again(parts: list[Any]) -> list[Any]:
    """Join the groups of an id that is written as on the label, ``7K3M 92QD F0VX``."""
    whole: list[Any] = []
    held = ""
    for part in parts:
        if not isinstance(part, str) or "/" in part or _size(part) >= identifiers.LENGTH:
            whole += [held, part] if held else [part]
            held = ""
            continue
        held += part
        if _size(held) >= identifiers.LENGTH:
            whole.append(held)
            held = ""
    return [*whole, held] if held else whole


def _size(code: str) -> int:
    return len(code.replace("-", ""))


def _bare(code: Any) -> Any:
    if not isinstance(code, str) or identifiers.is_valid(code):
        return code
    container, tag = payload.read(code)
    return container if tag is not None else identifiers.typed(container)
