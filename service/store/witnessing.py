"""A witness's own files: its key, and the checkpoint it signed last. No database is opened."""

from collections.abc import Collection, Sequence
from pathlib import Path

from filelock import FileLock, Timeout

from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.note import NoteError, Signer, Verifier, opened
from service.ledger.witness import cosigned
from service.store.database import BUSY_S
from service.store.faults import BusyError
from service.store.keyfiles import KeyringError, create_key, keep, new_signer, read_key


def create_witness(name: str, path: Path) -> Verifier:
    """Make a witness's key in a new file, for its owner alone; gives the public half.

    Raises:
        NoteError: the name has a space or a plus sign in it.
        KeyringError: there is a file already, or it cannot be written.
    """
    signer = new_signer(name)
    create_key(path, signer)
    return signer.verifier


def witness(
    note: str, log: Collection[Verifier], proof: Sequence[bytes], key: Path, state: Path
) -> tuple[str, Checkpoint | None]:
    """Sign a checkpoint that goes on from the one in the state file, which it then replaces.

    Returns:
        The note with the witness's signature, and what it had signed last, None the first time.

    Raises:
        WitnessError: it does not go on, or is none of the log's; the state is as it was.
        KeyringError: the key or the state cannot be used.
        BusyError: another process signs with the same state.
    """
    signer = _key(key)
    lock = FileLock(f"{state}.lock", timeout=BUSY_S, mode=0o600)
    try:
        lock.acquire()
    except Timeout as error:
        raise BusyError(f"{state} is in use by another process: try again soon") from error
    except OSError as error:
        raise KeyringError(f"{state} cannot be written: {error.strerror}") from error
    try:
        last = _last(state, signer)
        signed = cosigned(note, log, last, proof, signer)
        keep(state, signed)
        return signed, last
    finally:
        lock.release()


def _key(path: Path) -> Signer:
    try:
        return read_key(path)
    except FileNotFoundError as error:
        raise KeyringError(f"there is no key {path}") from error


def _last(state: Path, signer: Signer) -> Checkpoint | None:
    try:
        held = state.read_bytes().decode()
    except FileNotFoundError:
        return None
    except (OSError, UnicodeDecodeError) as error:
        raise KeyringError(f"the state {state} cannot be read: {error}") from error
    try:
        return parse(opened(held, [signer.verifier]).text)
    except (NoteError, ValueError) as error:
        raise KeyringError(
            f"the state {state} is not what this witness signed last: {error}"
        ) from error
