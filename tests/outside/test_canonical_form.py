"""The kept form of an event against RFC 8785 (JSON Canonicalization Scheme, 2020), by a library.

The library is PyPI's ``rfc8785``; keys here are ASCII and numbers whole, which is where a plain
sorted dump and the standard must agree to the byte.
"""

import rfc8785
from hypothesis import given, settings
from hypothesis import strategies as st

from service.custody.events import EVENT, kept
from service.ledger.leaf import body

TEXT = st.text(
    st.characters(exclude_categories=["Cs", "Cc"]) | st.sampled_from('\n\t"\\/\u007f€é😀'),
    max_size=40,
)
FILL = st.decimals(min_value=0, max_value=2, places=3).map(str)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(note=TEXT, contents=TEXT, weight_g=st.integers(0, 2_000_000), fill=FILL)
def test_an_event_is_kept_in_the_canonical_form(
    note: str, contents: str, weight_g: int, fill: str
) -> None:
    """Whatever people write in the free texts, the kept bytes are those of the standard."""
    event = EVENT.validate_python(
        {
            "kind": "registered",
            "id": "01890a5d-ac96-774b-bcce-b302099a8057",
            "containers": ["PCM1FBPE5XYS"],
            "occurred_at": "2026-07-01T10:00:00.5+05:30",
            "actor": "nurse-1",
            "category": "red",
            "unit": "icu",
            "container_kind": "bag",
            "weight_g": weight_g,
            "fill_fraction": fill,
            "note": note.replace("\x7f", ""),
            "contents": contents.replace("\x7f", ""),
        }
    )

    assert body(event).encode() == rfc8785.dumps(kept(event))


def test_an_amendment_keeps_the_kind_of_what_it_corrects() -> None:
    """Defaults are left out, but never the kind: the corrected event must be readable alone."""
    event = EVENT.validate_python(
        {
            "kind": "amended",
            "id": "01890a5d-ac96-774b-bcce-b302099a8058",
            "containers": ["PCM1FBPE5XYS"],
            "occurred_at": "2026-07-01T05:00:00Z",
            "actor": "officer-1",
            "supersedes": "01890a5d-ac96-774b-bcce-b302099a8057",
            "reason": "the figure was misread",
            "corrected": {
                "kind": "weighed",
                "id": "01890a5d-ac96-774b-bcce-b302099a8057",
                "containers": ["PCM1FBPE5XYS"],
                "occurred_at": "2026-07-01T04:30:00Z",
                "actor": "nurse-1",
                "weight_g": 3400,
            },
        }
    )

    assert '"kind":"weighed"' in body(event)
    assert EVENT.validate_json(body(event)) == event
    assert body(event).encode() == rfc8785.dumps(kept(event))
