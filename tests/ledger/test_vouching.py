"""Changes of a log's key: both keys sign, and a chain of them leads from a trusted key on."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pytest

from service.ledger.checkpoint import Checkpoint
from service.ledger.note import Signer, sign
from service.ledger.vouching import Vouching, VouchingError, followed, read, trusted_keys, vouched
from tests.ledger.signers import ORIGIN, signer
from tests.ledger.tree import Tree
from tests.trade import at

KEYS = [signer(number) for number in range(1, 6)]
TREE = Tree.of(50)
DAY = at("2026-07-01 10:00")


def _change(number: int, size: int | None = None, *, after_loss: bool = False) -> Vouching:
    """The change from key ``number`` to the next, ten entries after the last one."""
    size = 10 * (number + 1) if size is None else size
    return Vouching(
        Checkpoint(ORIGIN, size, TREE.root(size)),
        KEYS[number].verifier,
        KEYS[number + 1].verifier,
        DAY + number * timedelta(days=90),
        "the officer who kept it has left",
        after_loss,
    )


def _note(change: Vouching, *signers: Signer) -> str:
    by = {key.verifier: key for key in KEYS}
    return sign(change.text, *(signers or (by[change.old], by[change.new])))


NOTES = [_note(_change(number)) for number in range(3)]


def test_a_change_says_in_words_what_it_is() -> None:
    """An inspector can read it: the log, both keys, the state, when and why."""
    change = _change(0)
    lines = change.text.splitlines()

    assert lines[0] == "key change of a custody log"
    assert lines[1] == f"log: {ORIGIN}"
    assert lines[2:4] == [
        f"old key: {KEYS[0].verifier.vkey}",
        f"new key: {KEYS[1].verifier.vkey}",
    ]
    assert lines[4] == "entries: 10"
    assert lines[6:] == [
        "at: 2026-07-01T10:00:00Z",
        "record: goes on unchanged",
        "reason: the officer who kept it has left",
    ]
    assert "entries were lost or changed" in _change(0, after_loss=True).text


@pytest.mark.parametrize("after_loss", [False, True])
def test_a_change_is_read_as_written(after_loss: bool) -> None:
    """Its text and its note give back the change."""
    change = _change(1, after_loss=after_loss)

    assert read(change.text) == change
    assert vouched(_note(change)) == change


@pytest.mark.parametrize("signers", [(KEYS[0],), (KEYS[1],), (KEYS[2],), (KEYS[1], KEYS[2])])
def test_one_signature_is_no_change(signers: tuple[Signer, ...]) -> None:
    """Neither the old key alone (who holds the new?), nor the new alone, nor a stranger."""
    with pytest.raises(VouchingError, match=r"signed by the old key and the new|not vouched for"):
        vouched(_note(_change(0), *signers))


def test_a_changed_note_is_refused() -> None:
    """What both signed cannot be changed after."""
    with pytest.raises(VouchingError, match="is false"):
        vouched(NOTES[0].replace("entries: 10", "entries: 11"))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("key change", "change"),
        ("log: ", "log:"),
        ("entries: 10\n", ""),
        ("entries: 10", "entries: 010"),
        ("at: 2026-07-01T10:00:00Z", "at: 2026-7-1T10:00:00Z"),
        ("at: 2026-07-01T10:00:00Z", "at: 2026-07-01"),
        ("record: goes on unchanged", "record: who knows"),
        ("reason: the", "reason:  the"),
        ("left\n", "left"),
        ("left\n", "left\nand more\n"),
        ("reason: the officer who kept it has left", "reason: "),
        ("log: custody.example/hill", "log: other.example/hill"),
        ("old key: custody.example/hill", "old key: other.example/hill"),
        (f"new key: {KEYS[1].verifier.vkey}", f"new key: {KEYS[0].verifier.vkey}"),
    ],
)
def test_a_malformed_change_is_refused(old: str, new: str) -> None:
    """A line more, less or otherwise: it is none."""
    text = _change(0).text
    assert old in text

    with pytest.raises(VouchingError):
        read(text.replace(old, new))


@pytest.mark.parametrize("reason", ["", " ", "a\nb", "a ", "a\u2028b", "x" * 301, "\0"])
def test_a_reason_is_one_line_of_words(reason: str) -> None:
    """Nothing, lines and control characters are no reason: they could forge another line."""
    with pytest.raises(VouchingError, match="reason"):
        replace(_change(0), reason=reason)


@pytest.mark.parametrize(("first", "led"), [(0, 3), (1, 2), (2, 1), (3, 0)])
def test_a_chain_leads_from_any_key_of_it_to_the_present_one(first: int, led: int) -> None:
    """Whoever trusts the second key need not care for what came before it."""
    found = trusted_keys(KEYS[first].verifier, NOTES)

    assert found == [key.verifier for key in KEYS[first:4]]
    assert len(followed(KEYS[first].verifier, NOTES)) == led


def test_without_a_change_the_trusted_key_is_the_present_one() -> None:
    """A log that never changed its key has one."""
    assert trusted_keys(KEYS[0].verifier, []) == [KEYS[0].verifier]


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        (NOTES[1:], "no change leads on"),
        ([NOTES[0], NOTES[2]], "one is missing"),
        ([NOTES[0], NOTES[0]], "one is missing"),
        ([*NOTES[:2], NOTES[0]], "one is missing"),
        ([NOTES[0], _note(_change(1, 5))], "not in the order"),
        ([NOTES[0], _note(replace(_change(1), at=DAY - timedelta(days=1)))], "not in the order"),
        ([NOTES[0], "no note"], "has the line"),
        ([NOTES[0], NOTES[1].replace("entries: 20", "entries: 30")], "is false"),
    ],
)
def test_a_broken_chain_leads_nowhere(notes: Sequence[str], said: str) -> None:
    """A note left out, twice, out of order or false: no key of it is trusted."""
    with pytest.raises(VouchingError, match=said):
        trusted_keys(KEYS[0].verifier, notes)


def test_after_a_loss_the_log_may_be_shorter() -> None:
    """Both keys say that entries were lost: the chain goes on, and says so."""
    notes = [NOTES[0], _note(_change(1, 5, after_loss=True))]

    assert [change.after_loss for change in followed(KEYS[0].verifier, notes)] == [False, True]
    assert trusted_keys(KEYS[0].verifier, notes)[-1] == KEYS[2].verifier


def test_a_stolen_old_key_leads_to_no_other_key() -> None:
    """A second change from the first key, made by a thief, does not join the chain."""
    stolen = Vouching(
        _change(0).state, KEYS[0].verifier, KEYS[4].verifier, DAY, "so they say", after_loss=False
    )

    with pytest.raises(VouchingError, match="one is missing"):
        trusted_keys(KEYS[0].verifier, [*NOTES, _note(stolen)])
