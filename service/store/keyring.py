"""The signing keys of the logs on disk, and the guard that a log never signs two histories.

In the keyring's folder each facility has one: ``key-N.pem`` signs at present, ``vouching-N.txt``
says how it came to follow key N - 1, ``last.txt`` is the largest checkpoint signed. A change of key
is made when its vouching note has its name: before that the old key is in force, after it the new.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path

from filelock import FileLock, Timeout

from service.ledger.checkpoint import Checkpoint, parse
from service.ledger.note import Signer, Verifier, opened, sign
from service.ledger.vouching import Vouching, vouched
from service.store.database import BUSY_S
from service.store.faults import BusyError
from service.store.keyfiles import (
    UNFINISHED,
    KeyringError,
    create_key,
    destroy,
    keep,
    new_signer,
    private_folder,
    read_key,
)

_LOCK, _LAST = ".lock", "last.txt"

Grown = Callable[[Checkpoint], bool]
"""Says whether the log begins with a checkpoint; to look at the log anew, as it stands now."""


class ForkError(KeyringError):
    """The log does not go on from what was signed before: nothing was signed."""


@dataclass(frozen=True, slots=True)
class KeyHistory:
    """Every public key of a log in order, the last in force, and the notes that join them."""

    keys: tuple[Verifier, ...] = ()
    vouching: tuple[str, ...] = ()


class Keyring:
    """The keys of all facilities; several processes may share the folder."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def signer(self, facility: str, origin: str) -> Signer:
        """Give the key in force; the first time it is made, and the log's name fixed for ever.

        Args:
            facility: The facility's id.
            origin: The log's name if it has none yet; later another one changes nothing.

        Raises:
            KeyringError: the key is not ours alone, damaged or missing.
            BusyError: another process holds the keys.
        """
        with self._held(facility) as keys:
            return keys.in_force(origin)

    def vkeys(self, facility: str) -> KeyHistory:
        """Give the public keys; none before the first use.

        Raises:
            KeyringError: the key is not ours alone, damaged or missing.
            BusyError: another process holds the keys.
        """
        if not (self._folder / facility).exists():
            return KeyHistory()
        with self._held(facility) as keys:
            return KeyHistory() if keys.untouched else keys.history(keys.in_force())

    def last(self, facility: str) -> Checkpoint | None:
        """Give the largest state signed since the log last began anew; errors as ``vkeys``."""
        if not (self._folder / facility).exists():
            return None
        with self._held(facility) as keys:
            found = None if keys.untouched else keys.last(keys.in_force())
        return found.state if found else None

    def sign(self, facility: str, checkpoint: Checkpoint, grown: Grown) -> str:
        """Sign a checkpoint of the log; what is given out was kept on disk first.

        Args:
            facility: The facility's id.
            checkpoint: The log as it stands, or as it stood at a smaller size.
            grown: Says whether the log, as it stands now, begins with a checkpoint. It is asked of
                the last one signed, which another process may have signed a moment ago.

        Raises:
            ForkError: it does not: entries are lost or changed.
            KeyringError: the key is not ours alone, damaged, missing or another log's.
            BusyError: another process holds the keys.
        """
        with self._held(facility) as keys:
            signer = keys.in_force(checkpoint.origin)
            _same_log(signer, checkpoint)
            last = keys.last(signer)
            if last is not None:
                _demand_growth(last, checkpoint, grown)
            note = sign(checkpoint.text, signer)
            if last is None or checkpoint.size >= last.state.size:
                keys.remember(note)
            return note

    def rotate(
        self,
        facility: str,
        state: Checkpoint,
        at: datetime,
        reason: str,
        *,
        grown: Grown,
        after_loss: bool = False,
    ) -> str:
        """Put a new key in place of the one in force, which vouches for it and is destroyed.

        Args:
            facility: The facility's id.
            state: The log as it stands.
            at: When.
            reason: Why, in a line of words.
            grown: As for ``sign``.
            after_loss: The log does not go on from what was signed, and begins anew from the state.

        Returns:
            The vouching note, signed by both keys.

        Raises:
            ForkError: entries are lost or changed, and this was not said.
            KeyringError: there is no key, it cannot be used, or nothing is lost though it was said.
            VouchingError: the reason is not one line of words.
            BusyError: another process holds the keys.
        """
        with self._held(facility) as keys:
            old = keys.in_force()
            _same_log(old, state)
            last = keys.last(old)
            if last is not None and not after_loss:
                _demand_growth(last, state, grown)
            if last is not None and after_loss and grown(last.state):
                raise KeyringError(
                    "nothing is lost: the record begins with all that was signed; "
                    "change the key without saying so"
                )
            new = new_signer(old.name)
            whole = at.astimezone(UTC).replace(microsecond=0)
            change = Vouching(state, old.verifier, new.verifier, whole, reason, after_loss)
            return keys.change(change, old, new)

    @contextmanager
    def _held(self, facility: str) -> Iterator["_Keys"]:
        folder = self._folder / facility
        for each in (self._folder, folder):
            private_folder(each)
        lock = FileLock(folder / _LOCK, timeout=BUSY_S, mode=0o600)
        try:
            lock.acquire()
        except Timeout as error:
            raise BusyError("the keys are in use by another process: try again soon") from error
        except OSError as error:
            raise KeyringError(f"{folder} cannot be written: {error.strerror}") from error
        try:
            yield _Keys(folder)
        finally:
            lock.release()


@dataclass(frozen=True, slots=True)
class _Signed:
    state: Checkpoint
    at: datetime


class _Keys:
    """The keys of one facility, while nobody else may touch them."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        for unfinished in folder.glob(f".*{UNFINISHED}"):
            unfinished.unlink()  # not written over: it may be a whole file's other name

    @property
    def untouched(self) -> bool:
        """Nothing was ever kept here."""
        return all(path.name == _LOCK for path in self._folder.iterdir())

    @cached_property
    def vouching(self) -> list[str]:
        """The notes of all changes, in order."""
        found: list[str] = []
        while (path := self._vouching(len(found) + 2)).exists():
            found.append(_text(path))
        return found

    @cached_property
    def changes(self) -> list[Vouching]:
        """What the notes say."""
        try:
            return [vouched(note) for note in self.vouching]
        except ValueError as error:
            raise KeyringError(f"a vouching note in {self._folder} is damaged: {error}") from error

    def in_force(self, origin: str | None = None) -> Signer:
        """Give the key that signs; made now if a name is given and nothing was ever kept here."""
        number = len(self.vouching) + 1
        path = self._key(number)
        if origin is not None and self.untouched:
            create_key(path, new_signer(origin))
        try:
            signer = read_key(path)
        except FileNotFoundError as error:
            raise KeyringError(
                f"there is no key {path}: put it back from its backup; if there is none, see "
                "'a lost key' in docs/keys.md"
                if not self.untouched
                else f"there is no key in {self._folder} yet"
            ) from error
        if self.changes and self.changes[-1].new != signer.verifier:
            raise KeyringError(f"{path} is not the key that {self._vouching(number)} names")
        for earlier in range(1, number):
            if self._key(earlier).exists():  # the change was cut short after it was made
                destroy(self._key(earlier))
        return signer

    def history(self, signer: Signer) -> KeyHistory:
        """Give the keys up to the one in force."""
        keys = (*(change.old for change in self.changes), signer.verifier)
        return KeyHistory(keys, tuple(self.vouching))

    def last(self, signer: Signer) -> _Signed | None:
        """Give the largest state that was signed since the log last began anew."""
        found = [_Signed(change.state, change.at) for change in self.changes[-1:]]
        path = self._folder / _LAST
        if path.exists():
            keys = self.history(signer).keys
            try:
                note = opened(_text(path), keys)
                state = parse(note.text)
            except ValueError as error:
                raise KeyringError(f"{path} is damaged: {error}") from error
            anew = max((n for n, c in enumerate(self.changes, 1) if c.after_loss), default=0)
            if not set(note.signed_by).isdisjoint(keys[anew:]):
                at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
                found.append(_Signed(state, at))
        return max(found, key=lambda signed: signed.state.size, default=None)

    def remember(self, note: str) -> None:
        """Keep the largest checkpoint signed, before it is given out."""
        path = self._folder / _LAST
        if not path.exists() or _text(path) != note:
            keep(path, note)

    def change(self, change: Vouching, old: Signer, new: Signer) -> str:
        """Put a key in force: it is on disk, then the note that makes it so, then the old goes."""
        number = len(self.changes) + 2
        if self._key(number).exists():  # a change that was cut short before it was made
            destroy(self._key(number))
        create_key(self._key(number), new)
        note = sign(change.text, old, new)
        keep(self._vouching(number), note)
        destroy(self._key(number - 1))
        return note

    def _key(self, number: int) -> Path:
        return self._folder / f"key-{number}.pem"

    def _vouching(self, number: int) -> Path:
        return self._folder / f"vouching-{number}.txt"


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode()
    except (OSError, UnicodeDecodeError) as error:
        raise KeyringError(f"{path} cannot be read: {error}") from error


def _same_log(signer: Signer, checkpoint: Checkpoint) -> None:
    if signer.name != checkpoint.origin:
        raise KeyringError(f"the key is that of {signer.name}, not of {checkpoint.origin}")


def _demand_growth(last: _Signed, checkpoint: Checkpoint, grown: Grown) -> None:
    same_size = checkpoint.size == last.state.size
    if (same_size and checkpoint.root != last.state.root) or not grown(last.state):
        raise ForkError(
            f"the record is shorter or other than what was signed on {last.at:%Y-%m-%d %H:%M} UTC "
            f"for {last.state.size:,} entries: entries are lost or changed, so nothing was signed; "
            "restore a newer backup (docs/keys.md, 'a lost record')"
        )
