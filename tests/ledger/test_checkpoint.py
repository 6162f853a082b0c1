"""Checkpoints: three lines, read as written and refused in any other form."""

from base64 import b64encode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.ledger.checkpoint import Checkpoint, CheckpointError, parse
from tests.ledger.signers import ORIGIN

STATE = Checkpoint(ORIGIN, 12, bytes(range(32)))
ROOT = b64encode(STATE.root).decode()


@settings(max_examples=200, deadline=None, derandomize=True)
@given(size=st.integers(0, 2**63 - 1), root=st.binary(min_size=32, max_size=32))
def test_a_checkpoint_is_read_as_written(size: int, root: bytes) -> None:
    """Whatever the size and root, the text says them and nothing else says the same."""
    state = Checkpoint(ORIGIN, size, root)

    assert parse(state.text) == state


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "three lines"),
        (STATE.text[:-1], "three lines"),
        (STATE.text + "\n", "three lines"),
        (STATE.text + "extension\n", "three lines"),
        (STATE.text + ROOT, "three lines"),
        (f"\n12\n{ROOT}\n", "three lines"),
        (f"{ORIGIN}\n{ROOT}\n", "three lines"),
        (STATE.text.replace("\n", "\r\n"), "line 2"),
        (f"{ORIGIN}\n012\n{ROOT}\n", "line 2 .* no size: '012'"),
        (f"{ORIGIN}\n00\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n-1\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n+1\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n1_0\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n 1\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n1.0\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n٣\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n{10**20}\n{ROOT}\n", "line 2"),
        (f"{ORIGIN}\n12\n\n", "line 3"),
        (f"{ORIGIN}\n12\n{STATE.root.hex()}\n", "line 3"),
        (f"{ORIGIN}\n12\n{ROOT[:-1]}\n", "line 3 .* not base64"),
        (f"{ORIGIN}\n12\né{ROOT[1:]}\n", "line 3 .* not base64"),
        (f"{ORIGIN}\n12\n{ROOT} \n", "line 3 .* not base64"),
        (f"{ORIGIN}\n12\n{b64encode(b'r' * 31).decode()}\n", "line 3 .* no SHA-256"),
        (f"{ORIGIN}\n12\n{b64encode(b'r' * 33).decode()}\n", "line 3 .* no SHA-256"),
        (f"{ORIGIN}\n12\n{ROOT[:-2]}9=\n", "line 3 .* no SHA-256"),
    ],
)
def test_what_is_no_checkpoint_is_refused(text: str, said: str) -> None:
    """The message names the line that is wrong."""
    with pytest.raises(CheckpointError, match=said):
        parse(text)
