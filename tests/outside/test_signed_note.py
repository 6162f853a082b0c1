"""Signed notes and checkpoints against the C2SP specifications and what others signed.

Sources: C2SP, "Signed Notes" (signed-note) and "Transparency Log Checkpoints" (tlog-checkpoint),
c2sp.org at commit 5ba5ee8 (2026-07-22): the first example read there; the checkpoint's form and
the example of Go's ``golang.org/x/mod/sumdb/note`` from memory (none agrees by chance).
"""

import pytest

from service.ledger.checkpoint import CheckpointError, parse
from service.ledger.note import NoteError, Verifier, opened

VKEY = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
NOTE = (
    "This is an example message.\n\n— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONnc"
    "AlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n"
)
OTHER_VKEY = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
OTHER_NOTE = (
    "If you think cryptography is the answer to your problem,\n"
    "then you don't know what your problem is.\n\n"
    "— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6"
    "KE6RyyBwJnAM=\n"
)
CHECKPOINT = """\
example.com/behind-the-sofa
20852163
CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=
"""


@pytest.mark.parametrize(("vkey", "note"), [(VKEY, NOTE), (OTHER_VKEY, OTHER_NOTE)])
def test_a_published_note_is_opened_by_its_published_key(vkey: str, note: str) -> None:
    """Key, key id and signature of the example fit together, and the key is written back alike."""
    verifier = Verifier.parse(vkey)
    found = opened(note, [verifier])

    assert found.text == note.partition("\n\n")[0] + "\n"
    assert found.signed_by == (verifier,)
    assert verifier.vkey == vkey


@pytest.mark.parametrize(("vkey", "note"), [(VKEY, OTHER_NOTE), (OTHER_VKEY, NOTE)])
def test_a_published_note_is_not_opened_by_another_key(vkey: str, note: str) -> None:
    """The key of one example does not open the other."""
    with pytest.raises(NoteError, match="signed by no known key"):
        opened(note, [Verifier.parse(vkey)])


def test_a_published_note_that_was_changed_is_refused() -> None:
    """One letter of the example's text changed, and its key's signature is false."""
    with pytest.raises(NoteError, match=r"the signature of example\.com/foo is false"):
        opened(NOTE.replace("example message", "Example message"), [Verifier.parse(VKEY)])


def test_a_checkpoint_is_read_and_written_in_the_published_form() -> None:
    """Origin, decimal size and base64 root, a line each."""
    found = parse(CHECKPOINT)

    assert (found.origin, found.size) == ("example.com/behind-the-sofa", 20_852_163)
    assert found.text == CHECKPOINT


@pytest.mark.parametrize(
    "false",
    [
        CHECKPOINT.replace("20852163", "020852163"),
        CHECKPOINT.replace("20852163", "+20852163"),
        CHECKPOINT.replace("20852163", "-1"),
        CHECKPOINT.replace("20852163", ""),
        CHECKPOINT.replace("example.com/behind-the-sofa", ""),
        CHECKPOINT.replace("I=", "I"),
        CHECKPOINT[:-1],
    ],
)
def test_what_the_specification_forbids_is_no_checkpoint(false: str) -> None:
    """No leading zero, no sign, no empty origin, whole base64, a newline at the end."""
    with pytest.raises(CheckpointError):
        parse(false)
