"""The ward's labels: blank ones reserved once, filled ones of what is registered."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from io import BytesIO
from typing import Any
from uuid import UUID

import pytest
from pypdf import PdfReader

from scenario.hospital import load_site
from service.custody.identifiers import is_valid
from service.custody.words import Role
from service.duties import ward
from service.duties.access import NotAllowedError
from service.duties.lookup import NotFoundError
from service.duties.ward import BlankLabels
from service.store.tables import RECORD
from tests.api.client import NOON, event_id, ids, sealed
from tests.duties.desk import Desk
from tests.store.record import rows

[BAG, OTHER] = ids(2)
BASE = "https://custody.example"


def order(**said: Any) -> BlankLabels:
    """An order of twelve labels on A4."""
    usual = {"count": 12, "stock": "a4-8", "base_url": BASE, "actor": "clerk"}
    return BlankLabels(**({"id": UUID(event_id())} | usual | said))


def text_of(pdf: bytes) -> str:
    """What can be read on the sheets."""
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


def test_blank_labels_are_reserved_and_put_on_record(desk: Desk) -> None:
    """Twelve new ids, each with a right check character, as one ``labelled`` event."""
    asked = order()
    made, pdf = ward.blank_labels(desk.store, desk.caller(Role.WARD), asked, NOON)
    assert len({*made}) == 12
    assert all(is_valid(i) for i in made)
    assert len(PdfReader(BytesIO(pdf)).pages) == 2
    entry = desk.store.entry(desk.facility, asked.id)
    assert entry is not None
    assert entry.event.containers == made
    assert entry.event.device == "ward-device"
    assert desk.store.known_ids(desk.facility, made) == {*made}


def test_the_same_order_again_gives_the_same_labels(desk: Desk) -> None:
    """The same ids and the same sheets, byte for byte, and one event on record."""
    asked = order()
    first = ward.blank_labels(desk.store, desk.caller(), asked, NOON)
    assert ward.blank_labels(desk.store, desk.caller(), asked, NOON) == first
    assert len(rows(desk.store, desk.facility, RECORD)) == 1


def test_the_same_order_twice_at_once_gives_the_same_labels(desk: Desk) -> None:
    """Whoever comes second gets what the first reserved."""
    asked = order(count=3)
    with ThreadPoolExecutor(4) as clerks:
        made = list(
            clerks.map(lambda _: ward.reserve(desk.store, desk.caller(), asked, NOON), range(4))
        )
    assert all(codes == made[0] for codes in made)
    assert len(rows(desk.store, desk.facility, RECORD)) == 1


def test_an_order_under_the_id_of_something_else_is_refused(desk: Desk) -> None:
    """Of an event of another kind, or of another number of labels."""
    asked = order()
    ward.reserve(desk.store, desk.caller(), asked, NOON)
    said = sealed(BAG)
    desk.tell(said)
    for other in (replace(asked, count=11), replace(asked, id=UUID(said["id"]))):
        with pytest.raises(ValueError, match="on record for something else"):
            ward.reserve(desk.store, desk.caller(), other, NOON)


def test_an_id_in_use_is_never_given_again(desk: Desk) -> None:
    """Where chance draws it a second time another is drawn."""
    draws = iter([*range(11), *range(11), *range(1, 12), *range(2, 13), *range(3, 14)])
    one = ward.reserve(desk.store, desk.caller(), order(count=1), NOON, lambda _: next(draws))
    two = ward.reserve(desk.store, desk.caller(), order(count=1), NOON, lambda _: next(draws))
    assert not {*one} & {*two}


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"count": 0}, "one job prints 1 to 2000"),
        ({"count": 2_001}, "one job prints 1 to 2000"),
        ({"stock": "papyrus"}, "papyrus"),
        ({"base_url": "ftp://custody.example"}, "must start with https"),
        ({"base_url": "https://" + "a" * 40 + ".example"}, "shorter host name"),
    ],
)
def test_an_order_that_cannot_be_printed_reserves_nothing(
    desk: Desk, said: dict[str, Any], words: str
) -> None:
    """It is refused before an id is drawn."""
    with pytest.raises(ValueError, match=words):
        ward.blank_labels(desk.store, desk.caller(), order(**said), NOON)
    assert rows(desk.store, desk.facility, RECORD) == []


@pytest.mark.parametrize("role", [Role.PLANT, Role.INSPECTOR])
def test_who_prints_no_labels_is_told_who_does(desk: Desk, role: Role) -> None:
    """Blank or filled."""
    with pytest.raises(NotAllowedError, match="to print blank labels is for administrator"):
        ward.reserve(desk.store, desk.caller(role), order(), NOON)
    with pytest.raises(NotAllowedError):
        ward.filled_labels(desk.store, desk.caller(role), [BAG], "a4-8", BASE, NOON)


def test_a_filled_label_says_what_is_in_the_bag(desk: Desk) -> None:
    """Category, unit, weight, and sender and receiver for the road."""
    desk.tell(sealed(BAG))
    pdf, shortened = ward.filled_labels(
        desk.store, desk.caller(Role.WARD), [BAG], "roll-100x50-203", BASE, NOON
    )
    shown = text_of(pdf)
    site = load_site()
    assert "3.400 kg" in shown
    assert site.units["icu"].name in shown
    assert f"From: {site.name}" in shown
    assert shortened == ()
    assert f"{BAG[:4]} {BAG[4:8]} {BAG[8:]}" in shown


def test_who_prints_is_told_what_the_label_has_no_room_for(desk: Desk) -> None:
    """On the smallest roll the lines for the road are cut short: that is said, never silent."""
    desk.tell(sealed(BAG))
    _, shortened = ward.filled_labels(
        desk.store, desk.caller(Role.WARD), [BAG], "roll-75x50-203", BASE, NOON
    )
    assert "regime_lines" in shortened


def test_a_filled_label_of_what_is_not_registered_is_refused(desk: Desk) -> None:
    """Of an unknown container, and of one whose label alone is known; one is enough to stop."""
    [blank] = ward.reserve(desk.store, desk.caller(), order(count=1), NOON)
    desk.tell(sealed(BAG))
    for container, words in ((OTHER, "nothing is on record"), (blank, "print a blank label")):
        with pytest.raises(NotFoundError, match=words):
            ward.filled_labels(desk.store, desk.caller(), [BAG, container], "a4-8", BASE, NOON)
    for number in (0, 2_001):
        with pytest.raises(ValueError, match="one job prints 1 to 2000"):
            ward.filled_labels(desk.store, desk.caller(), [BAG] * number, "a4-8", BASE, NOON)


def test_a_bag_of_a_ward_that_was_closed_since_still_gets_its_label(desk: Desk) -> None:
    """The new set-up no longer knows the unit: its id is printed instead of its name."""
    desk.tell(sealed(BAG))
    site = load_site()
    units = tuple(u for u in site.unit if u.id != "icu")
    changed = site.model_copy(update={"id": desk.facility, "unit": units})
    desk.store.set_up(type(site).model_validate(changed.model_dump(by_alias=True)), NOON, b"")
    pdf, _ = ward.filled_labels(desk.store, desk.caller(), [BAG], "a4-8", BASE, NOON)
    assert "icu" in text_of(pdf)


def test_the_stocks_are_those_that_can_be_ordered(desk: Desk) -> None:
    """Each of them prints."""
    for stock in ward.stocks():
        asked = order(count=1, stock=stock.name)
        assert ward.blank_labels(desk.store, desk.caller(), asked, NOON)[1].startswith(b"%PDF")
