"""A change of a log's key: the old key and the new one both sign who follows whom, and from where.

Whoever trusts one key of a log can follow such notes to the key that signs at present.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from service.ledger.checkpoint import Checkpoint, CheckpointError, parse
from service.ledger.note import NoteError, Verifier, note_text, opened

_TITLE = "key change of a custody log"
_LABELS = ("log", "old key", "new key", "entries", "root", "at", "record", "reason")
_GOES_ON = "goes on unchanged"
_BEGINS_ANEW = "entries were lost or changed; what was signed before holds no more, it begins anew"
_TIME = "%Y-%m-%dT%H:%M:%SZ"
_REASON = re.compile(r"[^\x00-\x1f\x7f\u2028\u2029\ud800-\udfff]{1,300}")


class VouchingError(ValueError):
    """A text is no change of a key, or does not lead from the key that is trusted."""


@dataclass(frozen=True, slots=True)
class Vouching:
    """That from a state of the log on a new key signs in place of an old one.

    Attributes:
        state: The log when its key was changed; the old key signs no larger one.
        old: The key that signed until then.
        new: The key that signs from then on.
        at: When, UTC, whole seconds.
        reason: Why, in a line of words.
        after_loss: Entries were lost: the log begins anew from the state, which need not go on
            from what the old key signed.
    """

    state: Checkpoint
    old: Verifier
    new: Verifier
    at: datetime
    reason: str
    after_loss: bool = False

    def __post_init__(self) -> None:
        if not {self.old.name, self.new.name} == {self.state.origin}:
            raise VouchingError("both keys of a change bear the name of the log")
        if self.old.public_key == self.new.public_key:
            raise VouchingError("a key cannot follow itself")
        if not _REASON.fullmatch(self.reason) or self.reason != self.reason.strip():
            raise VouchingError("give the reason for the change in one line of up to 300 letters")

    @property
    def text(self) -> str:
        """The text that both keys sign."""
        origin, size, root = self.state.text.splitlines()
        at = self.at.astimezone(UTC).strftime(_TIME)
        record = _BEGINS_ANEW if self.after_loss else _GOES_ON
        told = (origin, self.old.vkey, self.new.vkey, size, root, at, record, self.reason)
        lines = (f"{label}: {value}" for label, value in zip(_LABELS, told, strict=True))
        return "\n".join((_TITLE, *lines, ""))


def read(text: str) -> Vouching:
    """Read the text of a change; who signed it is not looked at.

    Raises:
        VouchingError: it is none.
    """
    title, *lines = text.split("\n")
    parted = [line.partition(": ") for line in lines[:-1]]
    if title != _TITLE or tuple(label for label, _, _ in parted) != _LABELS or lines[-1]:
        raise VouchingError(f"a change of a key has the line '{_TITLE}' and then: {_LABELS}")
    told = {label: value for label, _, value in parted}
    try:
        found = Vouching(
            parse(f"{told['log']}\n{told['entries']}\n{told['root']}\n"),
            Verifier.parse(told["old key"]),
            Verifier.parse(told["new key"]),
            datetime.strptime(told["at"], _TIME).replace(tzinfo=UTC),
            told["reason"],
            told["record"] == _BEGINS_ANEW,
        )
    except (CheckpointError, NoteError, ValueError) as error:
        raise VouchingError(f"a change of a key cannot be read: {error}") from error
    if found.text != text:
        raise VouchingError("a change of a key is not written as one is")
    return found


def vouched(note: str) -> Vouching:
    """Read a change that both its keys signed; whether the old one is to be trusted is not said.

    Raises:
        VouchingError: it is none, or either has not signed it.
    """
    text = note_text(note)
    change = read(text)
    try:
        signed_by = opened(note, (change.old, change.new)).signed_by
    except NoteError as error:
        raise VouchingError(f"a change of a key is not vouched for: {error}") from error
    if set(signed_by) != {change.old, change.new}:
        raise VouchingError("a change of a key is signed by the old key and the new, not by one")
    return change


def followed(first: Verifier, notes: Iterable[str]) -> list[Vouching]:
    """Give the changes that lead on from a trusted key, in order; notes before it are passed over.

    Raises:
        VouchingError: a note is none, or they do not lead on from that key one after another.
    """
    changes = [vouched(note) for note in notes]
    lines = [change.old for change in changes] + [change.new for change in changes[-1:]]
    if not changes or lines[-1] == first:
        return []
    if first not in lines:
        raise VouchingError(f"no change leads on from the key {first.vkey}")
    leading = changes[lines.index(first) :]
    for before, after in pairwise(leading):
        if before.new != after.old:
            raise VouchingError("the changes of the key do not follow one another: one is missing")
        if after.at < before.at or (after.state.size < before.state.size and not after.after_loss):
            raise VouchingError("the changes of the key are not in the order they were made in")
    return leading


def trusted_keys(first: Verifier, notes: Iterable[str]) -> list[Verifier]:
    """Give the keys of a log from a trusted one to that of the present, in order.

    Raises:
        VouchingError: the notes do not lead on from it.
    """
    return [first, *(change.new for change in followed(first, notes))]
