"""What a witness is given, read with clear words for what is not as it should be."""

import json
import re
from base64 import b64encode
from pathlib import Path

from service.ledger.checkpoint import Checkpoint, CheckpointError, parse
from service.ledger.note import NoteError, Verifier, note_text, opened
from service.ledger.vouching import VouchingError, trusted_keys, vouched
from service.terminal import read_text, stop

_OTHER_KEY = (
    "not signed: {checkpoint} is signed in the name of {name}, but not with the key that {log_key} "
    "leads to. If the log's keeper has changed the key, ask for the note that 'custody key rotate' "
    "printed and give it with --vouching, one for each change, in order. If the keeper knows of no "
    "change, it is a forgery: keep it"
)
_NO_PROOF = (
    "not signed: by {state} you signed {last} entries last, and this checkpoint has {present}, so "
    "a proof is wanted that they go on from those. Ask the log's keeper for a checkpoint and its "
    "proof, made with 'custody checkpoint --since {last} --proof PROOF --out CHECKPOINT', and give "
    "the proof with --proof"
)
_STEP = re.compile(r"[0-9a-f]{64}")


def demand_secret(key: Path) -> None:
    """End the command if it is given a public key where the witness's own secret one is wanted."""
    held = read_text(key)
    public = "-----BEGIN PUBLIC KEY-----" in held
    if not public:
        try:
            Verifier.parse(held)
        except NoteError:
            return  # it is read, or refused, as a secret key
    stop(
        f"{key} is a public key: --key wants the witness's own secret key, the file that "
        "'custody witness create NAME --out FILE' wrote"
    )


def key_in_force(log_key: Path, vouching: list[Path]) -> Verifier:
    """Give the key that the log's public key leads to by the notes, or end the command."""
    try:
        trusted = Verifier.parse(read_text(log_key))
    except NoteError as error:
        stop(
            f"{log_key} is no public key in one line, name+id+key, as 'custody key show' prints "
            f"it: {error}"
        )
    notes = [read_text(path) for path in vouching]
    for path, note in zip(vouching, notes, strict=True):
        try:
            vouched(note)
        except VouchingError as error:
            stop(f"{path} is no note of a changed key, as 'custody key rotate' prints it: {error}")
    try:
        return trusted_keys(trusted, notes)[-1]
    except VouchingError as error:
        stop(f"the notes given with --vouching do not lead on from {log_key}: {error}")


def hinted(
    checkpoint: Path, note: str, log_key: Path, in_force: Verifier, state: Path, proof: Path | None
) -> None:
    """End the command with what to do where a note was not signed for want of a file."""
    if _signed_by_another(note, in_force):
        stop(_OTHER_KEY.format(checkpoint=checkpoint, name=in_force.name, log_key=log_key))
    if proof is None and (grown := _grown(note, in_force, state)):
        last, present = grown
        stop(_NO_PROOF.format(state=state, last=last.size, present=present.size))


def _signed_by_another(note: str, key: Verifier) -> bool:
    """Say whether a note is signed in the key's name, but by another key than this one."""
    lines = note.rpartition("\n\n")[2].splitlines()
    named = [line for line in lines if line.startswith(f"— {key.name} ")]
    # A signature begins with the four bytes of its key's id: five characters of base64, and a bit.
    own = f"— {key.name} {b64encode(key.key_id).decode()[:5]}"
    return bool(named) and not any(line.startswith(own) for line in named)


def _grown(note: str, key: Verifier, state: Path) -> tuple[Checkpoint, Checkpoint] | None:
    """Give what was signed last and what is to be, if the one may have grown into the other."""
    try:
        present = parse(opened(note, [key]).text)
    except (NoteError, CheckpointError):
        return None
    if not state.exists():
        return None
    last = parse(note_text(read_text(state)))
    grown = last.origin == present.origin and 0 < last.size < present.size
    return (last, present) if grown else None


def read_proof(path: Path) -> list[bytes]:
    """Read a proof: a hash in hex a line, or the JSON that the interface answers with."""
    text = read_text(path)
    try:
        steps = json.loads(text)["proof"] if text.lstrip().startswith("{") else text.split()
    except (ValueError, KeyError):
        steps = [""]
    whole = isinstance(steps, list)
    if not whole or not all(isinstance(step, str) and _STEP.fullmatch(step) for step in steps):
        stop(f"{path} is no proof: it has a hash of 64 hex digits a line, or is the answer in JSON")
    return [bytes.fromhex(step) for step in steps]
