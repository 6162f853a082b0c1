"""Signed notes: what is signed is opened, what was touched or is malformed is refused."""

from base64 import b64encode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ledger.note import NoteError, Verifier, cosign, opened, sign
from tests.ledger.signers import signer
from tests.ledger.tree import flipped

LOG, WITNESS, STRANGER = signer(1), signer(2, "witness.example"), signer(3, "stranger.example")
TEXT = "Hill hospital\n12\n"
NOTE = sign(TEXT, LOG)
TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc"]) | st.just("\n")).map(
    lambda text: text + "\n"
)
steady = settings(max_examples=200, deadline=None, derandomize=True)


@steady
@given(text=TEXTS)
def test_what_is_signed_is_opened(text: str) -> None:
    """Any text comes back as it was, with who signed it; empty lines and dashes in it too."""
    found = opened(sign(text, LOG, WITNESS), [LOG.verifier, WITNESS.verifier])

    assert found.text == text
    assert found.signed_by == (LOG.verifier, WITNESS.verifier)


@steady
@given(text=TEXTS, bit=st.integers(0))
def test_a_note_with_one_bit_changed_is_refused(text: str, bit: int) -> None:
    """One bit of a note turned over, wherever it is: it is opened no more."""
    changed = flipped(sign(text, LOG).encode(), bit)
    try:
        note = changed.decode()
    except UnicodeDecodeError:
        return

    with pytest.raises(NoteError):
        opened(note, [LOG.verifier])


def test_each_known_signer_is_named_once() -> None:
    """Two known signers are both named, in the order of their lines; one twice is named once."""
    both = cosign(NOTE, WITNESS)
    again = both + NOTE.rpartition("\n\n")[2]

    assert opened(both, [WITNESS.verifier, LOG.verifier]).signed_by == (
        LOG.verifier,
        WITNESS.verifier,
    )
    assert opened(again, [LOG.verifier]).signed_by == (LOG.verifier,)
    assert opened(both, [WITNESS.verifier]).signed_by == (WITNESS.verifier,)


def test_one_key_under_two_names_is_one_signer() -> None:
    """A party that signs under two names is not two witnesses."""
    alias = signer(2, "other.example")
    note = sign(TEXT, WITNESS, alias)

    assert len(opened(note, [WITNESS.verifier, alias.verifier]).signed_by) == 1


def test_a_note_that_only_strangers_signed_is_refused() -> None:
    """It is said who did sign it."""
    with pytest.raises(NoteError, match=r"by no known key, but by: stranger\.example"):
        opened(sign(TEXT, STRANGER), [LOG.verifier])
    with pytest.raises(NoteError, match="by no known key"):
        opened(NOTE, [])


def test_a_stranger_beside_a_known_signer_is_passed_over() -> None:
    """Others may sign too, with kinds of key that are not known here: what is known counts."""
    other_kind = "— stranger.example " + b64encode(b"\0\0\0\1" + b"x" * 72).decode() + "\n"
    note = cosign(NOTE, STRANGER) + other_kind

    assert opened(note, [LOG.verifier]).signed_by == (LOG.verifier,)


def test_a_false_signature_in_a_known_name_is_never_passed_over() -> None:
    """Neither alone, nor beside a good one of another signer, nor after a good one of its own."""
    other = sign("Hill hospital\n13\n", LOG).rpartition("\n\n")[2]
    known = [LOG.verifier, WITNESS.verifier]

    for note in (f"{TEXT}\n{other}", sign(TEXT, WITNESS) + other, NOTE + other):
        with pytest.raises(NoteError, match=r"the signature of custody\.example/hill is false"):
            opened(note, known)


def test_a_key_of_the_same_name_is_another_key() -> None:
    """The name alone does not make a signer: the key id tells an old key from a new one."""
    with pytest.raises(NoteError, match="by no known key"):
        opened(NOTE, [signer(9).verifier])


LINE = NOTE.rpartition("\n\n")[2]
SIGNATURE = LINE.split(" ")[2].strip()


@pytest.mark.parametrize(
    ("note", "said"),
    [
        ("", "no signature below an empty line"),
        (TEXT, "no signature below an empty line"),
        (TEXT + "\n", "no signature below an empty line"),
        (NOTE[:-1], "no signature below an empty line"),
        (NOTE.replace("\n\n", "\n"), "no signature below an empty line"),
        (NOTE + "\n", "no signature below an empty line"),
        (NOTE.replace("\n", "\r\n"), "control character"),
        (NOTE.replace("12", "1\t2"), "control character"),
        (NOTE.replace("12", "1\x002"), "control character"),
        (NOTE.replace("12", "1\ud8002"), "half a character"),
        (NOTE + "and so on\n", "this is no signature line: 'and so on'"),
        (NOTE.replace("—", "-"), "this is no signature line"),
        (NOTE.replace("— ", "—"), "this is no signature line"),
        (NOTE.replace("hill ", "hill"), "this is no signature line"),
        (NOTE.replace("— custody", "—  custody"), "this is no signature line"),
        (NOTE.replace("/hill", "+hill"), "this is no signature line"),
        (NOTE.replace(SIGNATURE, SIGNATURE + " "), "is not base64"),
        (NOTE.replace(SIGNATURE, "é" + SIGNATURE[1:]), "is not base64"),
        (NOTE.replace(SIGNATURE, SIGNATURE[:-1]), "is not base64"),
        (NOTE.replace(SIGNATURE, "AAAAAA=="), "is too short"),
        (NOTE.replace(SIGNATURE, "AAAAAB=="), "is not written as base64 is"),
        (NOTE + LINE * 100, "more than 100 signatures"),
    ],
)
def test_a_malformed_note_is_refused(note: str, said: str) -> None:
    """What is wrong with the form is said; nothing is repaired silently."""
    with pytest.raises(NoteError, match=said):
        opened(note, [LOG.verifier])


@pytest.mark.parametrize("text", ["", "Hill hospital", "Hill\r\n", "Hill\t1\n", "Hill\ud800\n"])
def test_a_text_that_cannot_be_a_note_is_not_signed(text: str) -> None:
    """It ends in a newline and holds no other control character."""
    with pytest.raises(NoteError, match="ends in a newline"):
        sign(text, LOG)


@pytest.mark.parametrize("name", ["", "two words", "a+b", "a\u00a0b", "a\nb", "a\x00", "a\x7f"])
def test_a_name_that_cannot_be_a_signers_is_refused(name: str) -> None:
    """No spaces of any kind, no plus sign, no control characters, and not nothing."""
    with pytest.raises(NoteError, match="no name of a key"):
        Verifier(name, LOG.verifier.public_key)


VKEY = LOG.verifier.vkey
NAME, ID, KEY = VKEY.split("+", 2)


@pytest.mark.parametrize(
    ("vkey", "said"),
    [
        ("", r"name\+id\+key"),
        (f"{NAME}+{ID}", r"name\+id\+key"),
        (f"a+{VKEY}", "not base64"),
        (f"two words+{ID}+{KEY}", "no name of a key"),
        (f"other+{ID}+{KEY}", "the id of the key of other"),
        (f"{NAME}+{ID[:-1]}+{KEY}", "the id of the key"),
        (f"{NAME}+0{ID}+{KEY}", "the id of the key"),
        (f"{NAME}+{ID.upper()}+{KEY}", "the id of the key"),
        (f"{NAME}+{ID}+{KEY[:-4]}", "Ed25519|base64"),
        (f"{NAME}+{ID}+é{KEY[1:]}", "not base64"),
        (f"{NAME}+{ID}+{KEY}\n{VKEY}", "not base64"),
        (f"{NAME}+{ID}+B{KEY[1:]}", "not an Ed25519 key"),
        (f"{NAME}+{ID}+" + b64encode(b"\1" + b"k" * 31).decode(), "no Ed25519 public key"),
        (f"{NAME}+{ID}+" + b64encode(b"\1" + b"k" * 33).decode(), "no Ed25519 public key"),
        (f"{NAME}+{ID}+" + b64encode(b"\1" + b"k" * 32).decode(), "the id of the key"),
    ],
)
def test_a_malformed_verifier_key_is_refused(vkey: str, said: str) -> None:
    """Its three parts fit together or it is none."""
    with pytest.raises(NoteError, match=said):
        Verifier.parse(vkey)


@pytest.mark.parametrize("number", range(1, 40))
def test_a_verifier_key_is_read_as_written(number: int) -> None:
    """With a newline behind it too, and with plus signs in its base64."""
    verifier = signer(number).verifier

    assert Verifier.parse(verifier.vkey + "\n") == verifier
