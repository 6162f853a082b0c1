"""The text in a bundle for who checks it without our tool: coreutils, OpenSSL and bash are enough.

It is ``how-to-verify.txt`` with the bundle's own names and numbers. Every line of it that begins
with four spaces is a command; a test runs them as they stand.
"""

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill

from service.bundles import names
from service.bundles.material import Statement

_TEXT = Path(__file__).with_name("how-to-verify.txt")
_ROTATED = """
   The key was changed. Each keys/vouching-N.txt says so and is signed by the key before it and the
   key after it. If you hold an older key, follow them from that key on, one after another.

"""


def how_to(told: Statement, keys: int, warned: Sequence[str]) -> str:
    """Write the text for a bundle.

    Args:
        told: What the bundle says of itself.
        keys: How many keys its log has had.
        warned: What its reader must know of the quarter, see ``warned``.
    """
    changes = "".join(
        f"    signed {names.vouching(n)} {names.pem(n - 1)}\n" for n in range(2, keys + 1)
    )
    said = {
        "facility": told.facility,
        "quarter": told.quarter,
        "log": told.log,
        "warned": "".join(f"{fill(said, 98)}\n\n" for said in warned),
        "vkey": names.vkey(keys),
        "pem": names.pem(keys),
        "rotated": _ROTATED + changes if changes else "",
        "first": str(told.first),
        "last": str(told.size - 1),
        "size": str(told.size),
    }
    text = _TEXT.read_text(encoding="utf-8")
    for name, value in said.items():
        text = text.replace(f"«{name}»", value)
    return text
